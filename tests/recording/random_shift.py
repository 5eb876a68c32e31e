"""One random shift, right scans and wrong ones, told to the product and to the plain model of the floor."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

from tests.cast import DEPUTY, OPERATOR, PACKER, QUALITY, Cast, buoy_plate, plate, rows_of
from tests.recording.plain_states import BOXES, COLOUR, MOULDS, PRODUCT, STAGES, WANTED, Act, Floor, lot_of
from trace.demo import plant as invented
from trace.demo.floor import OVENS_SET
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.goods_in import Certify, Release
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.returns import Return
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.weighing import Weigh, layer_of
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record

CONSIGNEES = {"SO-220": "WHARFE", "SO-221": "LOCKGATE"}
HULLS = """SELECT n.text, s.status FROM serial n JOIN edge e ON e.parent = n.plate AND e.role = 'plate'
JOIN unit_state s ON s.unit = e.child"""
RETURNED = """SELECT h.uid::text FROM hold h JOIN edge e ON e.child = h.unit AND e.role = 'plate'
JOIN serial n ON n.plate = e.parent WHERE n.text = %s AND h.rule = 'RETURN-TO-LOOK-AT'
  AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id)"""
# As the product's tables say it.
STATUS = {"rejected": "failed inspection"}
# What may be done at any time is done only where any scan comes, else half of the shift were holds.
SELDOM = ("hold", "fail", "scrap")
# How often each is tried.
CHANCES = {
    "weigh": 6, "ready": 3, "inserts": 4, "graphic": 6, "tip": 5, "close": 3, "start": 3, "stage": 3, "end": 3,
    "cooled": 3, "demould": 3, "bind": 3, "pass": 3, "fail": 0.5, "pack": 3, "dispatch": 2, "hold": 3, "free": 2,
    "scrap": 0.5, "release": 0.3, "return": 1, "look": 2,
}  # fmt: skip


# What each scan takes.
TAKES = {
    "weigh": ("order", "layer", "powder", "tub"), "ready": ("mould", "order", "arm"), "inserts": ("mould", "insert"),
    "graphic": ("mould", "graphic"), "tip": ("mould", "tub"), "start": ("mould", "arm"), "stage": ("mould", "stage"),
    "bind": ("mould", "plate"), "pack": ("sales", "hull", "new pack"), "dispatch": ("sales", "pack"),
    "release": ("delivery",),
    **dict.fromkeys(("close", "end", "cooled", "demould"), ("mould",)),
    **dict.fromkeys(("pass", "fail", "scrap", "return", "look"), ("hull",)),
    **dict.fromkeys(("hold", "free"), ("held",)),
}  # fmt: skip
THINGS = {
    "order": list(PRODUCT), "layer": ["skin", "foam", "inner"], "mould": list(MOULDS), "arm": ["S1", "S2", "A1", "A2"],
    "powder": ["red", "red2", "new", "teal", "natural", "foam"], "insert": ["m8", "m8b", "m6"],
    "graphic": ["side", "capacity"], "stage": list(STAGES["T430"]), "sales": list(WANTED), "delivery": ["new"],
}  # fmt: skip


def tubs_of(cast: Cast) -> dict[str, str]:
    """Three tubs and four drop boxes, by the model's names."""
    tubs = {f"tub{n}": cast["tubs"][n] for n in range(3)}
    return tubs | {f"drop{n}": cast["boxes"][n] for n in range(4)}


def shift_of(cast: Cast, seed: int) -> Shift:
    """The cast with a delivery more, which has its certificate and waits to be released."""
    new = cast.shift.receive("VERRIN", "LL-35 red", "V-2350", ("100.00",))[0]
    values = {name: str(low) for name, (low, _) in invented.MATERIALS["LL-35 red"].get("spec", {}).items()}
    cast.scan(Certify(container=new, lot_on_certificate="V-2350", values=values), person=QUALITY)
    codes = tubs_of(cast) | {name: cast[name] for name in BOXES if name not in ("foam", "new")}
    codes |= {"foam": cast["foam"][0], "new": new}
    plates = {plate(n): "T430" for n in range(1, 7)} | {buoy_plate(n): "B60" for n in range(1, 5)}
    floor = Floor(tubs=dict.fromkeys(tubs_of(cast)), plates=plates)
    return Shift(cast, random.Random(seed), codes, floor)


def zones_of(serial: str) -> list[str]:
    return list(invented.products()[serial.split("-")[1]]["zones"])


@dataclass
class Shift:
    """One shift told to the product and to the model, scan by scan."""

    cast: Cast
    dice: random.Random
    codes: dict[str, str]
    floor: Floor
    holds: dict[str, str] = field(default_factory=dict)
    packs: dict[str, str] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)

    def any_act(self) -> Act:
        """Any scan at all, of anything there is; most of them are wrong."""
        return self.act_of(self.dice.choices(list(CHANCES), list(CHANCES.values()))[0])

    def act_of(self, what: str) -> Act:
        """Of the things that such a scan takes, any."""
        return Act(what, *(self.dice.choice(self.things(thing)) for thing in TAKES[what]))

    def things(self, thing: str) -> list[str]:
        """All that a scan may meet where it asks for such a thing; of plates a few that are left, and the used ones."""
        left, hulls = list(self.floor.plates), list(self.floor.hulls)
        if thing in THINGS:
            return THINGS[thing]
        return {
            "tub": list(self.floor.tubs),
            "hull": hulls or left[:1],
            "plate": [*left[:4], *left[-4:], *hulls],
            "pack": list(self.packs) or ["none"],
            "new pack": [f"pack{len(self.told)}"],
            "held": [self.dice.choice(list(BOXES)), *hulls],
        }[thing]

    def next_act(self) -> Act:
        """Mostly what may be, so that hulls are made; one in four whatever comes."""
        act = self.any_act()
        if self.dice.random() < 0.25:
            return self._held_or(act)
        for _ in range(40):
            if self.floor.may(act) and act.what not in SELDOM:
                break
            act = self.any_act()
        return act

    def _held_or(self, act: Act) -> Act:
        """A hull that waits to be packed is put on hold, or packed though it is: by luck few shifts would meet it."""
        passed = [serial for serial, hull in self.floor.hulls.items() if hull.status == "released"]
        if not passed or self.dice.random() < 0.2:
            return act
        held = [serial for serial in passed if self.floor.on_hold(serial)]
        return Act("pack", "SO-221", held[0], f"pack{len(self.told)}") if held else Act("hold", passed[0])

    def command(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        """The scan of an act, and by whom; None where there is nothing to scan."""
        made = getattr(self, f"_{act.what}")(act)
        return made if made is None or isinstance(made, tuple) else (made, {})

    def _weigh(self, act: Act) -> Command:
        layer = layer_of(invented.products()[PRODUCT[act.one]], act.two, COLOUR[act.one])
        kg = str(layer.get("target_kg", "6.10"))
        box, tub = self.codes[act.three], self.codes[act.four]
        return Weigh(order=act.one, layer=act.two, box=box, tub=tub, scale="W-3", gross=kg)

    def _release(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        released = lot_of(act.one) not in self.floor.quarantine
        return None if released else (Release(container=self.codes[act.one]), {"person": QUALITY})

    def _ready(self, act: Act) -> Command:
        return ReadyMould(mould=act.one, order=act.two, arm=act.three)

    def _inserts(self, act: Act) -> Command:
        return PlaceInserts(mould=act.one, box=self.codes[act.two])

    def _graphic(self, act: Act) -> Command:
        return PlaceGraphic(mould=act.one, pack=self.codes[act.two])

    def _tip(self, act: Act) -> Command:
        return TipTub(mould=act.one, tub=self.codes[act.two])

    def _close(self, act: Act) -> Command:
        return CloseMould(mould=act.one, counted="12" if act.one.startswith("T430") else "")

    def _start(self, act: Act) -> Command:
        oven = "OVEN-2" if act.two.startswith("S") else "OVEN-1"
        logger = str(invented.MOULDS[act.one]["logger"])
        return StartCook(oven=oven, arm=act.two, moulds=(act.one,), loggers=(logger,), **OVENS_SET[oven])

    def _stage(self, act: Act) -> Command:
        return CookStage(mould=act.one, stage=act.two, temperature="120")

    def _end(self, act: Act) -> Command:
        return EndCook(mould=act.one, piat="208", log="attached", stages=STAGES[MOULDS[act.one][0]])

    def _cooled(self, act: Act) -> Command:
        return EndCooling(mould=act.one, demould_c="48")

    def _demould(self, act: Act) -> Command:
        return Demould(mould=act.one)

    def _bind(self, act: Act) -> Command:
        return Bind(mould=act.one, plate=act.two)

    def _pass(self, act: Act) -> tuple[Command, dict[str, Any]]:
        return self._inspect(act.one, "pass")

    def _fail(self, act: Act) -> tuple[Command, dict[str, Any]]:
        return self._inspect(act.one, "fail")

    def _inspect(self, serial: str, verdict: str) -> tuple[Command, dict[str, Any]]:
        thickness = dict.fromkeys(zones_of(serial), "4.1")
        checks = ("surface", "inserts", "plate")
        return Inspect(hull=serial, verdict=verdict, checks=checks, thickness=thickness), {"person": QUALITY}

    def _pack(self, act: Act) -> tuple[Command, dict[str, Any]]:
        return Pack(order=act.one, hulls=(act.two,)), {"person": PACKER}

    def _dispatch(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        if act.two not in self.packs:
            return None
        load = Dispatch(order=act.one, packs=(self.packs[act.two],), consignee=CONSIGNEES[act.one], vehicle="PA 12")
        return load, {"person": PACKER}

    def _scrap(self, act: Act) -> tuple[Command, dict[str, Any]]:
        return Scrap(unit=act.one, plate_destroyed=True, reason="split"), {"person": QUALITY}

    def _return(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        # One that had not left is looked into as well; what becomes of a scrapped or an unpacked one, stories tell.
        gone = self.floor.may(act) and self.floor.hulls[act.one].status == "dispatched"
        return (Return(hull=act.one, place="R5-1"), {"person": PACKER}) if gone else None

    def _look(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        if not self.floor.may(act):
            return None
        [(uid,)] = rows_of(RETURNED, act.one)
        return ReleaseHold(hold=uid, reason="looked at"), {"person": QUALITY}

    def _hold(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        if lot_of(act.one) in self.floor.held:
            return None
        code = self.codes.get(act.one, act.one)
        return Hold(code=code, rule="quality", whole_lot=act.one in BOXES, reason="density query"), {"person": QUALITY}

    def _free(self, act: Act) -> tuple[Command, dict[str, Any]] | None:
        uid = self.holds.get(lot_of(act.one))
        return (ReleaseHold(hold=uid, reason="measured again"), {"person": DEPUTY}) if uid else None

    def tell(self, act: Act) -> None:
        """One scan: refused exactly where the model says so, and the floor stands as the model has it afterwards."""
        found = self.command(act)
        if found is None:
            return
        command, by = found
        may = self.floor.may(act)
        answer = self._scan(command, by)
        self.told.append(f"{act} -> {answer.outcome} {answer.code or ''}")
        recorded = answer.outcome != "refused"
        assert recorded == may, f"the model says {may}: {self.story()}: {answer.what} {answer.why}"
        if may:
            self.floor.do(act)
            self._note(act, answer)

    def _scan(self, command: Command, by: dict[str, Any]) -> Answer:
        when = self.cast.clock()
        who = {"person": OPERATOR, **by}
        return record(command, By(**who, station="loading", device="cast", happened=when, recorded=when))

    def _note(self, act: Act, answer: Answer) -> None:
        if act.what == "hold":
            self.holds[lot_of(act.one)] = answer.made["holds"][0]
        elif act.what == "free":
            self.holds.pop(lot_of(act.one))
        elif act.what == "pack":
            self.packs[act.three] = answer.made["codes"][0]

    def story(self) -> str:
        return "\n".join(self.told[-40:])

    def stands(self) -> None:
        """Moulds, tubs and hulls stand in the product's tables as in the model."""
        moulds = dict(rows_of("SELECT key, stage FROM mould_state JOIN resource ON resource.id = mould"))
        for mould, load in self.floor.loads.items():
            assert moulds.get(mould, "empty") == (load.stage if load else "empty"), f"{mould}: {self.story()}"
        hulls = dict(rows_of(HULLS))
        for serial, hull in self.floor.hulls.items():
            assert hulls[serial] == STATUS.get(hull.status, hull.status), f"{serial}: {self.story()}"
