"""Plays scans at a working plant, with what really happens kept beside what is said, and sees what comes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from django.utils import timezone

from trace.demo import plant as invented
from trace.demo.floor import Shift, WorkingClock, month_of
from trace.measure.mistakes.plant import ORDERS, TARE, things
from trace.pages.open_lists.table import OPEN_LISTS
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.goods_in import Certify, Release
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch, Pack, Rack
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh, layer_of
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record

# The lists on which something stands that a person should look at. The others are work that is always there.
FINDINGS = ("holds", "questions", "swaps", "late", "unlike", "badges")
LAYERS = ("skin", "foam", "inner")
POWDER = {"foam": "foam", "inner": "natural"}
LOGGERS = {
    **{key: str(mould["logger"]) for key, mould in invented.MOULDS.items()},
    "T430-03": "LG-3", "T430-04": "LG-4", "T430-05": "LG-4",
}  # fmt: skip
USUAL_MINUTES = {"heat": 14, "drop foam": 7, "drop inner": 6, "out": 5}
# As moulded and trimmed: what sticks and is cut off, and what inserts and graphics weigh; the scale's step.
SLUGS = {"weighing": "weigh", "loading": "load"}  # as the stations themselves record it
SCREENS = ("weighing", "loading", "oven", "demould", "inspect")
A_SHIFT, STOPS_WITHIN = 8, 0.075  # hulls; kg
LOST, FITTED, STEP = Decimal("0.10"), Decimal("0.40"), Decimal("0.01")


class CaughtError(Exception):
    """Something objected to the mistake: when, how, and by which rule or list."""

    def __init__(self, when: str, how: str, by: str) -> None:
        super().__init__(f"{when}: {how} {by}")
        self.when, self.how, self.by = when, how, by


class StoryError(Exception):
    """A scan before the mistake was not simply accepted: the story is wrong, and tells nothing of the plant."""


@dataclass
class Tally:
    """The honest scans, and what was said against them."""

    scans: int = 0
    refused: list[str] = field(default_factory=list)
    warned: list[str] = field(default_factory=list)

    def count(self, command: Command, answer: Answer) -> None:
        self.scans += 1
        if answer.outcome != "accepted":
            said = f"{answer.code} at {command.KIND}: {answer.what} {answer.why}"
            (self.refused if answer.outcome == "refused" else self.warned).append(said)


@dataclass
class Floor(Shift):
    """A shift at the working plant. `when` is how far a story is: "" before its mistake, then "scan", "shift", "gate".

    posts: moulding has screens that stand there, everybody else a hand-held. codes: labels by what they stand for.
    inside: what is really in a tub, kg; loaded: in a mould, by layer.
    """

    rng: Random = field(default_factory=Random)
    codes: dict[str, Any] = field(default_factory=dict)
    inside: dict[str, Decimal] = field(default_factory=dict)
    loaded: dict[str, dict[str, Decimal]] = field(default_factory=dict)
    when: str = ""
    tally: Tally | None = None
    before: set[tuple[str, str]] = field(default_factory=set)
    number: int = 5000
    posts: bool = False

    def __getitem__(self, name: str) -> Any:
        return self.codes[name]

    # One scan.

    def scan(self, command: Command, *, expect: str = "", **by: Any) -> Answer:
        """An honest scan. What is said against it before the mistake is a fault of the story; afterwards it is how the
        mistake shows."""
        answer = self._said(command, **by)
        if expect and answer.code == expect:
            return answer
        if self.tally is not None:
            self.tally.count(command, answer)
        elif answer.outcome == "accepted":
            pass
        elif not self.when:
            raise StoryError(f"{command}: {answer.outcome} {answer.code} {answer.what} {answer.why}")
        else:
            raise CaughtError(self.when, answer.outcome, answer.code)
        return answer

    def wrong(self, command: Command, **by: Any) -> Answer:
        """The mistake itself."""
        self.when = "scan"
        answer = self._said(command, **by)
        if answer.outcome != "accepted":
            raise CaughtError("scan", answer.outcome, answer.code)
        self.when = "shift"
        return answer

    def unsaid(self) -> None:
        """The mistake is something that nobody scans: from here on it may show."""
        self.when = "shift"

    def _said(self, command: Command, **by: Any) -> Answer:
        now = self.clock() if self.clock else None
        who: dict[str, Any] = {
            "person": self.person, "station": self.station, "device": self.device, "happened": now, "recorded": now,
        }  # fmt: skip
        said = {**who, **by}
        if self.posts:
            fixed = said["station"] in SCREENS
            said["device"] = f"{said['station']} screen" if fixed else f"hand-held of {said['person']}"
        return record(command, By(**{**said, "station": SLUGS.get(said["station"], said["station"])}))

    def now(self) -> datetime:
        """The plant's time, which does not go on by being asked."""
        if not isinstance(self.clock, WorkingClock):
            return timezone.now()
        return self.clock.now

    # What stands on the lists.

    def listed(self) -> set[tuple[str, str]]:
        """What the lists of findings say now, as (list, line)."""
        found = set()
        for slug in FINDINGS:
            for line in OPEN_LISTS[slug].lines(0, 400):
                found.add((slug, f"{line.what} {line.said}"))
        return found

    def look(self, when: str) -> None:
        """Somebody reads the lists: CaughtError where something is on them that was not."""
        for slug, line in sorted(self.listed() - self.before):
            raise CaughtError(when, "on the list", f"{slug}: {line.split(',')[0].split(';')[0][:60]}")

    def rest_for(self, minutes: float) -> None:
        if isinstance(self.clock, WorkingClock):
            self.clock.now += timedelta(minutes=minutes)

    def next_day(self) -> None:
        """The shift ends: its lists are read, and the next morning begins."""
        self.look("shift")
        assert isinstance(self.clock, WorkingClock)  # noqa: S101
        self.clock.morning()
        self.when = "gate"
        self.check_scale()

    # Honest work, as the stations record it.

    def check_scale(self, scale: str = "W-3", shown: str = "10.000") -> Answer:
        return self.scan(CheckWeight(scale=scale, shown=shown), station="weighing")

    def target(self, order: str, layer: str) -> Decimal:
        body = ORDERS[order]
        product = invented.products()[str(body["product"])]
        return Decimal(str(layer_of(product, layer, str(body["colour"]))["target_kg"]))

    def amount(self, order: str, layer: str) -> Decimal:
        """What somebody stops at: near the target and within the recipe's tolerance, on a step of the scale."""
        off = max(-STOPS_WITHIN, min(STOPS_WITHIN, self.rng.gauss(0, 0.03)))
        return (self.target(order, layer) + Decimal(repr(off))).quantize(STEP)

    def box_of(self, order: str, layer: str) -> str:
        return str(self[POWDER.get(layer, str(ORDERS[order]["colour"]))])

    def weighing(self, order: str, layer: str, tub: str, net: Decimal | None = None, **more: Any) -> Weigh:
        """The command of an honest weighing: gross with the tub on, and its tare."""
        net = self.amount(order, layer) if net is None else net
        tare = TARE["tub" if layer == "skin" else "drop_box"]
        said = {"box": self.box_of(order, layer), "scale": "W-3", "tare": tare, "gross": str(net + Decimal(tare))}
        self.inside[tub] = net
        return Weigh(order=order, layer=layer, tub=tub, **{**said, **more})

    def weigh_layer(self, order: str, layer: str, tub: str, net: Decimal | None = None, **more: Any) -> Answer:
        by = {k: more.pop(k) for k in ("person", "mode", "happened", "recorded", "helper", "device") if k in more}
        self.rest(3)
        return self.scan(self.weighing(order, layer, tub, net, **more), station="weighing", **by)

    def tubs(self, n: int = 0) -> list[str]:
        """The tub and the two drop boxes of the n-th load that stands ready at once."""
        return [self["tubs"][n], self["drops"][2 * n], self["drops"][2 * n + 1]]

    def weigh_all(self, order: str = "WO-1041", n: int = 0, **more: Any) -> list[str]:
        tubs = self.tubs(n)
        for layer, tub in zip(LAYERS, tubs, strict=True):
            self.weigh_layer(order, layer, tub, **more)
        return tubs

    def ready(self, mould: str = "T430-01", order: str = "WO-1041", arm: str = "S1") -> None:
        self.rest(2)
        self.scan(ReadyMould(mould=mould, order=order, arm=arm))
        self.loaded[mould] = {}

    def tip(self, mould: str, tub: str, layer: str) -> None:
        self.rest(1)
        self.scan(TipTub(mould=mould, tub=tub))
        self.pour(mould, tub, layer)

    def pour(self, mould: str, tub: str, layer: str) -> None:
        """What really goes in, scanned or not."""
        there = self.loaded[mould]
        there[layer] = there.get(layer, Decimal(0)) + self.inside.pop(tub, Decimal(0))

    def furnish(self, mould: str) -> None:
        """Inserts and graphics of a kayak."""
        for box in (self["m8"], self["m6"]):
            self.rest(2)
            self.scan(PlaceInserts(mould=mould, box=box))
        for pack in (self["side"], self["side"], self["capacity"]):
            self.scan(PlaceGraphic(mould=mould, pack=pack))

    def fill(self, mould: str = "T430-01", order: str = "WO-1041", arm: str = "S1", n: int = 0) -> None:
        """A whole load but for its closing."""
        tubs = self.weigh_all(order, n)
        self.ready(mould, order, arm)
        self.furnish(mould)
        for layer, tub in zip(LAYERS, tubs, strict=True):
            self.tip(mould, tub, layer)

    def close(self, mould: str = "T430-01", counted: str = "12") -> None:
        self.rest(1)
        self.scan(CloseMould(mould=mould, counted=counted))

    def load_whole(self, mould: str = "T430-01", order: str = "WO-1041", arm: str = "S1", n: int = 0) -> None:
        self.fill(mould, order, arm, n)
        self.close(mould)

    def start(self, moulds: list[str], arm: str = "S1", **more: Any) -> None:
        loggers = tuple(LOGGERS[mould] for mould in moulds)
        said = {"oven": "OVEN-2", "loggers": loggers, "set_c": "290", **more}
        self.rest(2)
        self.scan(StartCook(arm=arm, moulds=tuple(moulds), **said), station="oven")

    def stages(self, moulds: list[str], minutes: Mapping[str, float] | None = None) -> None:
        for stage, usual in (minutes or USUAL_MINUTES).items():
            self.rest_for(usual + abs(self.rng.gauss(0, 0.5)))
            for mould in moulds:
                inside = str(150 + self.rng.randrange(-9, 10))
                self.scan(CookStage(mould=mould, stage=stage, temperature=inside), station="oven")

    def end(self, mould: str, **more: Any) -> None:
        said = {"piat": f"{self.rng.gauss(208.5, 1.6):.1f}", "log": "attached", "stages": tuple(USUAL_MINUTES), **more}
        self.scan(EndCook(mould=mould, **said), station="oven")

    def cooled(self, mould: str, demould_c: str = "") -> None:
        self.scan(EndCooling(mould=mould, demould_c=demould_c or f"{self.rng.gauss(47, 1.5):.1f}"), station="oven")

    def bake(self, moulds: list[str], arm: str = "S1", minutes: Mapping[str, float] | None = None) -> None:
        self.start(moulds, arm)
        self.stages(moulds, minutes)
        for mould in moulds:
            self.end(mould)
        self.rest(24)
        for mould in moulds:
            self.cooled(mould)

    def mass(self, mould: str) -> str:
        """What the moulding that comes out of it weighs."""
        layers = sum(self.loaded[mould].values(), Decimal(0))
        return str((layers - LOST + FITTED + Decimal(repr(self.rng.gauss(0, 0.02)))).quantize(STEP))

    def plate(self, product: str = "T430") -> str:
        """The next plate of this month."""
        month = month_of(self.now())
        ready: list[str] = self.codes.setdefault(f"plates {product} {month}", [])
        if not ready:
            ready += [f"GHM-{product}-{self.number + n:06d}" for n in range(60)]
            self.number += 60
            self.plates(product, ready, month)
        return ready.pop(0)

    def take_out(self, mould: str, plate: str = "", **more: Any) -> str:
        """Demoulded, and bound at once."""
        plate = plate or self.plate()
        self.rest(3)
        self.scan(Demould(mould=mould), station="demould", person="P-04")
        self.rest(2)
        self.scan(Bind(mould=mould, plate=plate, **more), station="demould", person="P-04")
        return plate

    def thickness(self) -> dict[str, str]:
        return {zone: f"{max(3.5, self.rng.gauss(4.1, 0.12)):.2f}" for zone in invented.products()["T430"]["zones"]}

    def inspect_hull(self, plate: str, mass: str, colour: str = "red", **more: Any) -> Answer:
        said = {
            "verdict": "pass", "checks": ("surface", "inserts", "plate"), "thickness": self.thickness(), "mass": mass,
            "colour": colour, **more,
        }  # fmt: skip
        self.rest(25)
        return self.scan(Inspect(hull=plate, **said), person="P-06", station="inspect")

    def hull(self, mould: str = "T430-01", order: str = "WO-1041", arm: str = "S1", n: int = 0) -> str:
        """From weighing to its pass."""
        self.load_whole(mould, order, arm, n)
        self.bake([mould], arm)
        plate = self.take_out(mould)
        self.inspect_hull(plate, self.mass(mould), str(ORDERS[order]["colour"]))
        return plate

    def to_the_end(self, moulds: list[str], arm: str = "S1", order: str = "WO-1041") -> list[str]:
        """What is loaded is cooked, taken out and inspected."""
        self.bake(moulds, arm)
        plates = [self.take_out(mould) for mould in moulds]
        for mould, plate in zip(moulds, plates, strict=True):
            self.inspect_hull(plate, self.mass(mould), str(ORDERS[order]["colour"]))
        return plates

    def pack_hull(self, plate: str, order: str = "SO-220") -> str:
        self.rest(5)
        answer = self.scan(Pack(order=order, hulls=(plate,)), person="P-07", station="pack")
        return str(answer.made["codes"][0])

    def rack(self, code: str, place: str = "R4-2", **by: Any) -> Answer:
        return self.scan(Rack(place=place, units=(code,)), **{"person": "P-07", "station": "rack", **by})

    def send(self, packs: list[str], order: str = "SO-220", consignee: str = "WHARFE") -> Answer:
        self.rest(10)
        load = Dispatch(order=order, packs=tuple(packs), consignee=consignee, vehicle="GH24 KAY")
        return self.scan(load, person="P-07", station="dispatch")

    # Goods-in, by two people.

    def certify_and_release(self, code: str, lot_no: str, **more: Any) -> None:
        material = more.pop("material")
        spec = invented.MATERIALS[material].get("spec", {})
        values = {name: f"{self.rng.uniform(float(low), float(high)):.3f}" for name, (low, high) in spec.items()}
        finish = invented.MATERIALS[material].get("finish", "")
        self.scan(
            Certify(container=code, lot_on_certificate=lot_no, values=values, finish=finish), person="P-03",
            station="certificate",
        )  # fmt: skip
        self.scan(Release(container=code), person="P-06", station="release")


def tell(clock: Callable[[], datetime], rng: Random, hulls: int = 6) -> Floor:
    """The plant with its stock, and so many hulls of the days before; it stands at a morning, scales checked."""
    floor = Floor(clock=clock, device="floor", rng=rng)
    for kind, key, name, body in things():
        floor.scan(Define(kind=kind, key=key, name=name, body=body), person="P-09")
    later = f"{floor.now().year + 1}-12-31"
    stock = floor.stock
    floor.codes |= {
        "red": stock("VERRIN", "LL-35 red", "V-2288", ("1500.00",), note_no="DN-1")[0],
        "red2": stock("VERRIN", "LL-35 red", "V-2291", ("500.00",), note_no="DN-2")[0],
        "lime": stock("VERRIN", "LL-35 lime", "V-2295", ("500.00",), note_no="DN-3")[0],
        "teal": stock("VERRIN", "LL-35 teal", "V-2310", ("500.00",), note_no="DN-4")[0],
        "silo source": stock("VERRIN", "LL-35", "V-2301", ("900.00",), note_no="DN-5")[0],
        "natural2": stock("DUNSAY", "LL-35", "K-5510", ("500.00",), note_no="DN-6")[0],
        "hard": stock("DUNSAY", "MD-80", "D-71", ("500.00",), note_no="DN-7")[0],
        "foam": stock("DUNSAY", "FM-22", "F-118", ("800.00",), expires=later, note_no="DN-8")[0],
        "foam bags": stock("DUNSAY", "FM-22", "F-121", ("25.00",) * 4, expires=later, note_no="DN-9"),
        "small red": stock("VERRIN", "LL-35 red", "V-2299", ("50.00", "50.00"), note_no="DN-10"),
        "m8": stock("MARROW", "M8-N", "N-0398", ("1000",), note_no="DN-11")[0],
        "m8b": stock("MARROW", "M8-N", "N-0417", ("500",), note_no="DN-12")[0],
        "m8 few": stock("MARROW", "M8-N", "N-0420", ("20",), note_no="DN-13")[0],
        "m6": stock("MARROW", "M6-S", "N-0355", ("900",), note_no="DN-14")[0],
        "eyes": stock("MARROW", "EYE-12", "N-0360", ("200",), note_no="DN-15")[0],
        "side": stock("PELLAM", "TAMSIN-SIDE C", "G-77", ("400",), expires=later, note_no="DN-16")[0],
        "side old": stock("PELLAM", "TAMSIN-SIDE B", "G-60", ("40",), expires=later, note_no="DN-17")[0],
        "capacity": stock("PELLAM", "CAPACITY A", "G-78", ("400",), expires=later, note_no="DN-18")[0],
        "rescue": stock("PELLAM", "RESCUE A", "G-81", ("100",), expires=later, note_no="DN-19")[0],
        "agent": stock("TOLBY", "TR-4", "T-1", ("20.00",), note_no="DN-20")[0],
        "rod": stock("VERRIN", "ROD-35", "R-1", ("5.00",), note_no="DN-21")[0],
        "tubs": floor.carriers("tub", 6), "drops": floor.carriers("drop_box", 12),
        "vessels": floor.carriers("vessel", 2), "spare": floor.carriers("container", 3),
    }  # fmt: skip
    floor.codes["natural"] = floor["vessels"][0]
    floor.scan(TopUp(source=floor["silo source"], into=floor["natural"], amount="800"), person="P-05", station="top-up")
    floor.codes["hulls"] = []
    for n in range(hulls):
        if n % A_SHIFT == 0:
            _begins(floor, clock)
        mould, arm = (("T430-01", "S1"), ("T430-02", "S2"))[n % 2]
        floor.codes["hulls"].append(floor.hull(mould, arm=arm))
    _begins(floor, clock)
    return floor


def _begins(floor: Floor, clock: Callable[[], datetime]) -> None:
    """A new day, with both scales checked."""
    assert isinstance(clock, WorkingClock)  # noqa: S101
    clock.morning()
    floor.check_scale()
    floor.check_scale("W-4")
