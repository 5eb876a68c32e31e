"""Tells a shift through record(): what a person scans to make one hull, from weighing to dispatch."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils import timezone

from trace.demo import plant as invented
from trace.readmodels.plantdata import newest
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.opening import EmptyCarrier
from trace.recording.acts.oven import StartCook
from trace.recording.acts.plates import CheckOutPlates, MakePlates
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.weighing import CheckWeight, Weigh, layer_of
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record

# Invented; about what a hull of three layers takes: how long each stage took to reach, and the air inside then, in °C.
STAGES = {"heat": (14, "120"), "drop foam": (7, "155"), "drop inner": (6, "185"), "out": (5, "")}
OVENS_SET: dict[str, dict[str, Any]] = {
    "OVEN-1": {"set_c": "290", "arm_rpm": "8", "plate_rpm": "9.6"}, "OVEN-2": {"set_c": "290"},
}  # fmt: skip
COOLING_MINUTES = 24


def month_of(when: datetime) -> str:
    """YYYY-MM of the plant day of a moment: what is made before the first shift of a month is still of the old one."""
    return f"{newest().calendar.day(when):%Y-%m}"


class RefusedError(Exception):
    """The story expected a scan to be recorded and the plant refused it."""


@dataclass
class Shift:
    """Scans one after the other. `clock` gives each its time (None: the server's own)."""

    clock: Callable[[], datetime] | None = None
    person: str = "P-01"
    station: str = "loading"
    device: str = "demo"
    made: dict[str, Any] = field(default_factory=dict)

    def scan(self, command: Command, *, expect: str = "", **by: Any) -> Answer:
        """Record one command; a refusal raises RefusedError unless it is what `expect` names."""
        when = self.clock() if self.clock else None
        who = By(
            **{
                "person": self.person,
                "station": self.station,
                "device": self.device,
                "happened": when,
                "recorded": when,
                **by,
            }
        )
        answer = record(command, who)
        if answer.outcome == "refused" and answer.code != expect:
            raise RefusedError(f"{command}: {answer.code}: {answer.what} {answer.why} {answer.now}")
        return answer

    # What exists before the first scan.

    def set_up(self) -> None:
        for kind, key, name, body in invented.things():
            self.scan(Define(kind=kind, key=key, name=name, body=body), person="P-09")

    def carriers(self, kind: str, count: int) -> list[str]:
        codes: list[str] = self.scan(EmptyCarrier(carrier=kind, count=count), person="P-05").made["codes"]
        return codes

    # Goods-in.

    def receive(
        self, supplier: str, material: str, lot_no: str, amounts: tuple[str, ...], **more: Any
    ) -> list[str]:
        """Book a lot; the label codes of its containers."""
        answer = self.scan(
            Receive(supplier=supplier, material=material, lot_no=lot_no, amounts=amounts, **more),
            person="P-05", station="goods-in",
        )  # fmt: skip
        codes: list[str] = answer.made["codes"]
        return codes

    def certify_and_release(self, code: str, lot_no: str, **more: Any) -> None:
        material = more.pop("material")
        spec = invented.MATERIALS[material].get("spec", {})
        values = {name: str(low) for name, (low, _) in spec.items()}
        finish = more.pop("finish", invented.MATERIALS[material].get("finish", ""))
        self.scan(
            Certify(container=code, lot_on_certificate=lot_no, values=values, finish=finish), person="P-06",
            station="certificate",
        )  # fmt: skip
        self.scan(Release(container=code), person="P-06", station="release", **more)

    def stock(
        self, supplier: str, material: str, lot_no: str, amounts: tuple[str, ...], **more: Any
    ) -> list[str]:
        """A lot received, certified and released."""
        codes = self.receive(supplier, material, lot_no, amounts, **more)
        self.certify_and_release(codes[0], lot_no, material=material)
        return codes

    # Loading and cooking.

    def check_scale(self, scale: str = "W-3", shown: str = "10.000") -> Answer:
        return self.scan(CheckWeight(scale=scale, shown=shown), station="weighing")

    def weigh(self, order: str, layer: str, box: str, tub: str, gross: str = "", **more: Any) -> Answer:
        body = invented.WORKS_ORDERS[order]
        target = layer_of(invented.products()[str(body["product"])], layer, str(body["colour"]))["target_kg"]
        by = {
            k: more.pop(k)
            for k in ("expect", "mode", "person", "happened", "overrides", "recorded")
            if k in more
        }
        scale = more.pop("scale", "W-3")
        weighing = Weigh(
            order=order, layer=layer, box=box, tub=tub, scale=scale, gross=gross or target, **more
        )
        return self.scan(weighing, station="weighing", **by)

    def load(
        self, mould: str, order: str, arm: str, tubs: list[str], boxes: list[str], packs: list[str]
    ) -> None:
        """Mould ready, every insert, graphic and tub, closed."""
        self.scan(ReadyMould(mould=mould, order=order, arm=arm))
        for box in boxes:
            self.scan(PlaceInserts(mould=mould, box=box))
        for pack in packs:
            self.scan(PlaceGraphic(mould=mould, pack=pack))
        for tub in tubs:
            self.scan(TipTub(mould=mould, tub=tub))
        inserts = invented.products()[str(invented.WORKS_ORDERS[order]["product"])]["inserts"]
        self.scan(CloseMould(mould=mould, counted=str(len(inserts)) if inserts else ""))

    def rest(self, minutes: int) -> None:
        """Time goes by, where the clock is the story's own."""
        if isinstance(self.clock, WorkingClock):
            self.clock.rest(minutes)

    def cook(
        self, moulds: list[str], arm: str, oven: str = "OVEN-2", *, piat: str = "208", log: str = "attached",
        demould_c: str = "48", **by: Any,
    ) -> None:
        """`by`: how its start is said, as of a load on hold, which only a lead lets in."""
        loggers = tuple(dict.fromkeys(str(invented.MOULDS[mould]["logger"]) for mould in moulds))
        start = StartCook(oven=oven, arm=arm, moulds=tuple(moulds), loggers=loggers, **OVENS_SET[oven])
        self.scan(start, station="oven", **by)
        # One arm carries moulds of one recipe.
        stages = invented.products()[invented.MOULDS[moulds[0]]["products"][0]]["cook"]["stages"]
        for stage in stages:
            minutes, inside = STAGES[stage]
            self.rest(minutes)
            for mould in moulds:
                self.scan(CookStage(mould=mould, stage=stage, temperature=inside), station="oven")
        for mould in moulds:
            self.scan(EndCook(mould=mould, piat=piat, log=log, stages=tuple(stages)), station="oven")
        self.rest(COOLING_MINUTES)
        for mould in moulds:
            self.scan(EndCooling(mould=mould, demould_c=demould_c), station="oven")

    def plates(self, product: str, serials: list[str], month: str) -> None:
        self.scan(MakePlates(product=product, serials=tuple(serials), month=month), person="P-03")
        self.scan(CheckOutPlates(plates=tuple(serials)), person="P-03")

    def demould_and_bind(self, mould: str, plate: str) -> Answer:
        self.scan(Demould(mould=mould), station="demould")
        return self.scan(Bind(mould=mould, plate=plate), station="demould")

    def inspect(
        self, plate: str, verdict: str = "pass", *, thickness: Callable[[str], str] = lambda _zone: "4.1", **more: Any
    ) -> Answer:
        """Everything looked at and every zone of its model read; `thickness`: what is read of a zone."""
        zones = invented.products()[plate.split("-")[1]]["zones"]
        return self.scan(
            Inspect(
                hull=plate, verdict=verdict, checks=("surface", "inserts", "plate"),
                thickness={zone: thickness(zone) for zone in zones},
            ),
            person="P-06", station="inspect", **more,
        )  # fmt: skip


class WorkingClock:
    """Plant time for the story: each look is a little later; `morning` jumps to the next early shift."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=37)
        return self.now

    def morning(self) -> None:
        local = timezone.localtime(self.now) + timedelta(days=1)
        self.now = local.replace(hour=6, minute=2, second=0, microsecond=0).astimezone(UTC)

    def rest(self, minutes: int) -> None:
        self.now += timedelta(minutes=minutes)


def stepping(start: datetime, step: timedelta) -> Callable[[], datetime]:
    """A clock for a demo or a test: every look is one step later."""
    now = start - step

    def look() -> datetime:
        nonlocal now
        now += step
        return now

    return look
