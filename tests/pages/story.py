"""Told histories for the desk's tests: a plant at work, and one story with everything a sheet must show."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from trace.demo import plant as invented
from trace.demo.floor import Shift, month_of
from trace.models import Event
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.corrections import Correct
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch, Pack, Rack
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp

BEGIN = datetime(2026, 4, 12, 5, 0, tzinfo=UTC)
CHECKS = ("surface", "inserts", "plate")
STAGES = ("heat", "drop foam", "drop inner", "out")


@dataclass
class Clock:
    """Every look is a step later; `on` lets time pass."""

    now: datetime = BEGIN
    step: timedelta = timedelta(seconds=70)

    def __call__(self) -> datetime:
        self.now += self.step
        return self.now

    def on(self, **by: float) -> None:
        self.now += timedelta(**by)


@dataclass
class Plant:
    """The demo's plant with its stock, ready to make hulls. Boxes are label codes."""

    clock: Clock = field(default_factory=Clock)
    boxes: dict[str, list[str]] = field(default_factory=dict)
    tubs: list[str] = field(default_factory=list)
    drops: list[str] = field(default_factory=list)
    silo: str = ""
    numbers: Iterator[int] = field(default_factory=lambda: count(4417))
    sled_numbers: Iterator[int] = field(default_factory=lambda: count(212))

    def __post_init__(self) -> None:
        self.shift = Shift(clock=self.clock)

    @property
    def scan(self) -> Callable[..., Any]:
        return self.shift.scan

    def stock(self) -> None:
        """Everybody and everything, lots of every material, a silo with two lots of the inner powder."""
        s = self.shift
        s.set_up()
        till = {"expires": "2027-06-30"}
        self.boxes = {
            "red": s.stock("VERRIN", "LL-35 red", "V-2288", ("500.00", "500.00")),
            "lime": s.stock("VERRIN", "LL-35 lime", "V-2310", ("500.00",)),
            "inner": s.stock("VERRIN", "LL-35", "V-2301", ("500.00",)),
            "inner 2": s.stock("DUNSAY", "LL-35", "D-77", ("400.00",)),
            "foam": s.stock("DUNSAY", "FM-22", "F-118", ("25.00",) * 8, **till),
            "foam 2": s.stock("DUNSAY", "FM-22", "F-121", ("25.00",) * 8, **till),
            "m8": s.stock("MARROW", "M8-N", "N-0398", ("500",)),
            "m8 2": s.stock("MARROW", "M8-N", "N-0417", ("500",)),
            "m6": s.stock("MARROW", "M6-S", "N-0355", ("500",)),
            "eye": s.stock("MARROW", "EYE-12", "N-0620", ("300",)),
            "side": s.stock("PELLAM", "TAMSIN-SIDE C", "G-77", ("200",), **till),
            "capacity": s.stock("PELLAM", "CAPACITY A", "G-78", ("200",), **till),
            "rescue": s.stock("PELLAM", "RESCUE A", "G-80", ("200",), **till),
        }
        self.silo = s.carriers("vessel", 1)[0]
        for name in ("inner", "inner 2"):
            self.top_up(name, "200.00")
        self.tubs, self.drops = s.carriers("tub", 2), s.carriers("drop_box", 4)
        s.check_scale()
        s.plates("T430", [f"GHM-T430-{n:06d}" for n in range(4417, 4460)], "2026-04")
        s.plates("H320", [f"GHM-H320-{n:06d}" for n in range(212, 230)], "2026-04")

    def go_on(self) -> None:
        """A later day: the scale is checked, and there are plates of this month."""
        self.shift.check_scale()
        self.numbers = count(5001)
        self.shift.plates("T430", [f"GHM-T430-{n:06d}" for n in range(5001, 5021)], month_of(self.clock.now))

    def top_up(self, name: str, amount: str, **by: Any) -> None:
        self.scan(
            TopUp(source=self.boxes[name][0], into=self.silo, amount=amount), person="P-05", station="top-up",
            **by,
        )  # fmt: skip

    def kayak(
        self,
        *,
        foam: str | tuple[str, str] | None = "foam",
        bag: int = 0,
        inserts: str | tuple[str, str] = "m8",
        mould: str = "T430-01",
        how: str = "read",
        log: str = "attached",
        piat: str = "208",
    ) -> str:
        """One Tamsin 430 from weighing to its plate; returns the serial.

        foam: one lot, two for a bag change in the charge, None for none recorded. inserts: two names for a
        box change after S4.
        """
        s, boxes = self.shift, self.boxes
        s.person = "P-01"
        s.weigh("WO-1041", "skin", boxes["red"][0], self.tubs[0], "12.19", how="read")
        if isinstance(foam, tuple):
            one, two = foam
            s.weigh("WO-1041", "foam", boxes[one][bag], self.drops[0], "6.90", part=True, how=how)
            s.weigh("WO-1041", "foam", boxes[two][bag], self.drops[0], "2.26", how=how)
        elif foam:
            s.weigh("WO-1041", "foam", boxes[foam][bag], self.drops[0], "9.16", how=how)
        s.weigh("WO-1041", "inner", self.silo, self.drops[1], "7.31", how="read")
        s.person = "P-02"
        self.scan(ReadyMould(mould=mould, order="WO-1041", arm="S1"))
        m8 = inserts if isinstance(inserts, tuple) else (inserts,)
        halves = [("S1", "S2", "S3", "S4"), ("S5", "S6", "S7", "S8")] if len(m8) == 2 else [()]
        for name, positions in zip(m8, halves, strict=True):
            self.scan(PlaceInserts(mould=mould, box=boxes[name][0], positions=positions))
        self.scan(PlaceInserts(mould=mould, box=boxes["m6"][0]))
        for name in ("side", "side", "capacity"):
            self.scan(PlaceGraphic(mould=mould, pack=boxes[name][0]))
        for tub in (self.tubs[0], *([self.drops[0]] if foam else []), self.drops[1]):
            self.scan(TipTub(mould=mould, tub=tub))
        if foam:
            self.scan(CloseMould(mould=mould, counted="12"))
        else:
            self.scan(CloseMould(mould=mould, counted="12"), mode="tells", person="P-03")
        s.person = "P-04"
        # What is in a load on hold only a lead lets into the oven.
        by: dict[str, Any] = {} if foam else {"person": "P-03", "overrides": {"COOK-HELD": "Its tub was empty"}}
        s.cook([mould], "S1", log=log, piat=piat, **by)
        plate = f"GHM-T430-{next(self.numbers):06d}"
        self.scan(Demould(mould=mould), station="demould")
        self.scan(Bind(mould=mould, plate=plate, mass="28.60"), station="demould")
        return plate

    def sled(self, foam: str = "foam", bag: int = 0) -> str:
        """One Halcott 320, inspected with every zone read; returns the serial."""
        s, boxes = self.shift, self.boxes
        s.person = "P-01"
        s.weigh("WO-1042", "skin", boxes["lime"][0], self.tubs[1], "15.60", how="read")
        s.weigh("WO-1042", "foam", boxes[foam][bag], self.drops[2], "10.70", how="photographed")
        s.weigh("WO-1042", "inner", self.silo, self.drops[3], "8.60", how="read")
        s.load(
            "H320-01", "WO-1042", "S2", [self.tubs[1], self.drops[2], self.drops[3]], [boxes["eye"][0]],
            [boxes["rescue"][0]] * 2,
        )  # fmt: skip
        s.cook(["H320-01"], "S2")
        plate = f"GHM-H320-{next(self.sled_numbers):06d}"
        s.demould_and_bind("H320-01", plate)
        self.inspect(plate, {f"Z{n}": f"4.{n}" for n in range(1, 7)})
        return plate

    def inspect(self, hull: str, thickness: dict[str, str] | None = None, **more: Any) -> None:
        """Every zone of its model read, where nothing else is said."""
        by = {k: more.pop(k) for k in ("mode", "happened", "unsure_ms", "recorded", "overrides") if k in more}
        if thickness is None:
            thickness = dict.fromkeys(invented.products()[hull.split("-")[1]]["zones"], "4.1")
        self.scan(
            Inspect(hull=hull, **{"verdict": "pass", "checks": CHECKS, "thickness": thickness, **more}),
            person="P-06", station="inspect", **by,
        )  # fmt: skip

    def cook_again(self, hull: str) -> None:
        """A second cook of a hull that is bound already."""
        self.scan(StartCook(oven="OVEN-2", arm="S1", units=(hull,)), station="oven")
        for stage in STAGES:
            self.scan(CookStage(mould=hull, stage=stage, temperature="170"), station="oven")
        self.scan(EndCook(mould=hull, piat="211", log="attached", stages=STAGES), station="oven")
        self.scan(EndCooling(mould=hull, demould_c="46"), station="oven")

    def pack(self, order: str, *hulls: str) -> str:
        code: str = self.scan(Pack(order=order, hulls=hulls), person="P-07", station="pack").made["codes"][0]
        return code

    def rack(self, place: str, *units: str) -> None:
        self.scan(Rack(place=place, units=units), person="P-07", station="rack")

    def dispatch(self, order: str, consignee: str, *packs: str) -> None:
        self.scan(
            Dispatch(order=order, packs=packs, consignee=consignee, vehicle="PW21 KTJ"), person="P-07",
            station="dispatch",
        )  # fmt: skip

    def hold(self, code: str, rule: str = "quality", *, whole_lot: bool = False, reason: str = "Query") -> str:
        """Lay a hold; returns its uid."""
        answer = self.scan(
            Hold(code=code, rule=rule, whole_lot=whole_lot, reason=reason), person="P-06", station="hold"
        )
        hold: str = answer.made["holds"][0]
        return hold

    def correct(self, event: str, was: str, now: str, reason: str) -> None:
        self.scan(Correct(event=event, was=was, now=now, reason=reason), person="P-06", station="correct")


def weighing(hull_number: int, layer: str) -> str:
    """The uid of the weighing of that layer, counting the hulls told from 0."""
    events = Event.objects.filter(kind="weighed", body__contains=f'"layer":"{layer}"').order_by("id")
    return str(events[hull_number].uid)


@dataclass
class Told:
    """The story: serials by what is special about them."""

    plant: Plant
    hulls: dict[str, str]
    packs: dict[str, str]
    hold: str


def told() -> Told:
    """Six kayaks and two sleds, with all that can go wrong around them."""
    plant = Plant()
    plant.stock()
    hulls = {"gone": plant.kayak(how="typed")}
    plant.inspect(hulls["gone"])
    hulls["bag change"] = plant.kayak(foam=("foam", "foam 2"), bag=1)
    plant.inspect(hulls["bag change"], {"Z1": "4.1", "Z2": "4.3", "Z3": "4.0", "Z4": "4.4"}, mass="28.58",
                  overrides={"ZONE-UNREAD": "The gauge was away"})  # fmt: skip
    hulls["no log"] = plant.kayak(inserts=("m8", "m8 2"), bag=2, log="missing")
    hulls["no foam"] = plant.kayak(foam=None, inserts="m8 2")
    plant.clock.on(days=1)
    plant.shift.check_scale()
    hulls["held"] = plant.kayak(inserts="m8 2", bag=2)
    plant.inspect(hulls["held"])
    hulls["cooked twice"] = plant.kayak(inserts="m8 2", bag=3)
    plant.cook_again(hulls["cooked twice"])
    plant.inspect(hulls["cooked twice"])
    plant.correct(
        weighing(0, "foam"), plant.boxes["foam"][0], plant.boxes["foam 2"][3],
        "The paper traveller shows the label of F-121",
    )  # fmt: skip
    hulls["sled"], hulls["sled 2"] = plant.sled(bag=3), plant.sled(bag=4)
    packs = {"gone": plant.pack("SO-220", hulls["gone"])}
    plant.rack("R4-2", packs["gone"])
    plant.dispatch("SO-220", "WHARFE", packs["gone"])
    packs["sleds"] = plant.pack("SO-222", hulls["sled"], hulls["sled 2"])
    plant.rack("R5-1", packs["sleds"])
    plant.rack("R4-2", hulls["bag change"], hulls["held"])
    plant.clock.on(days=60)
    hold = plant.hold(plant.boxes["m8 2"][0], whole_lot=True, reason="Pull-out torque query")
    plant.inspect(
        hulls["bag change"], mode="tells", checks=("surface",), remark="Scuff at the bow",
        happened=plant.clock.now - timedelta(days=3), unsure_ms=3_600_000,
    )  # fmt: skip
    return Told(plant, hulls, packs, hold)
