"""What comes back: which hulls fail and why, how long after they were sold, and when somebody says so."""

from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from fnmatch import fnmatchcase
from random import Random

from trace.demo.season.habits import lag_days
from trace.demo.season.incidents import COLD_SNAP, DRIFT, EXPIRED_ROLL, SUSPECT_INSERTS, SUSPECT_LOT, WRONG_LOT
from trace.demo.season.plant import PRODUCTS
from trace.demo.season.rivals import Rivals, no_rivals
from trace.demo.season.script import Step
from trace.demo.season.truth import Call, Complaint, Made, is_of, share_of
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS, NIGHT
from trace.recording.acts.complaints import TakeComplaint, TieHull

# Symptoms as the records call them (trace/recording/acts/complaint_words.py).
CRACK, WARP, LIFTS, SPLIT = "crack at insert", "warp", "graphic lifting", "brittle wall"
# What always comes back, of whatever was made, and means nothing here.
USUAL = ("colour", "leak at fitting", "pinholes", "warp", "graphic lifting", "other", "leak at fitting")
SPOTS = {CRACK: ("S1", "S2", "S3", "S5", "S6"), LIFTS: ("PORT", "STARBOARD")}
STORIES = {
    CRACK: ("a crack runs out from a seat bolt", "white lines at the seat fixing, then it opened", "seat pulled loose"),
    WARP: ("it does not run straight any more", "the deck has lifted amidships", "keel is bent"),
    LIFTS: ("the side graphic comes off at its edge", "can be peeled with a nail"),
    SPLIT: ("split along its ridge in the cold", "found half sunk after the frost", "cracked when it was craned out"),
}
TAKERS = ("P-15", "P-06")
# Of the hulls with the suspect inserts: how many crack, how many of them came out of the mould that everybody suspects,
# and how many were made at night.
CRACKED, FROM_THE_MOULD, AT_NIGHT = 8, 4, 5
# A hull with more than this share of the wrong grade in its inner layer can warp, and of these the softest do.
SOFT, SOFTEST = 0.12, 32
# So often hulls are drawn for the draw in which they have least else in common; of the cracked ones so many may.
TRIED, MOST_ALIKE = 120, 4


Chosen = tuple[Made, str, str]  # the hull, its symptom, what really did it


def complain(w: Writer, rng: Random) -> None:
    """Chooses the hulls, by what really did it, and adds their complaints to the truth and to the script."""
    last = w.year.at(DAYS - 24, 0).isoformat()
    gone = [made for made in w.truth.hulls() if made.fate == "dispatched" and made.dispatched_at < last]
    chosen = [*_at_the_seat(rng, gone), *_planted(rng, gone)]
    hulls = {made.serial for made, *_ in chosen}
    chosen += _usual(rng, [made for made in gone if made.graphics and made.serial not in hulls], gone, chosen)
    told = sorted((_lags(w, rng, *one) for one in chosen), key=lambda c: c.reported_at)
    by_serial = {made.serial: made for made, *_ in chosen}
    for number, complaint in enumerate(told, 1):
        w.truth.complaints.append(complaint)
        w.script.steps += _told(rng, number, complaint, by_serial[complaint.hull])


def call(w: Writer) -> Call | None:
    """One more hull with the suspect inserts that nobody has complained of yet: the first of which the colour and all
    but one sign of the plate tell which it is."""
    hulls = [made for made in w.truth.hulls() if made.product == "T430"]
    sold = _not_complained_of(w, hulls)
    calls = [Call(_but(made.serial, sign), made.colour, CRACK, "S3", made.serial) for made in sold for sign in (-3, -2)]
    return next((one for one in calls if sum(_fits(made, one) for made in hulls) == 1), None)


def _not_complained_of(w: Writer, hulls: list[Made]) -> list[Made]:
    known = {complaint.hull for complaint in w.truth.complaints}
    gone = [made for made in hulls if made.fate == "dispatched" and made.serial not in known]
    return [made for made in gone if any(one.lot == SUSPECT_LOT and one.told for one in made.inserts)]


def _fits(made: Made, said: Call) -> bool:
    return made.colour == said.colour and fnmatchcase(made.serial, said.plate)


def _but(serial: str, sign: int) -> str:
    """The plate with one of its signs gone."""
    return f"{serial[:sign]}?{serial[len(serial) + sign + 1:]}"


def _at_the_seat(rng: Random, gone: list[Made]) -> list[Chosen]:
    """Those of the suspect inserts, and one that cracked by itself: of the mould that is suspected, made at night in
    other weeks."""
    suspect = [m for m in gone if any(placed.lot == SUSPECT_LOT and placed.told for placed in m.inserts)]
    sound = [m for m in gone if not is_of(m, SUSPECT_LOT) and not is_of(m, WRONG_LOT)]
    others = [m for m in sound if m.mould == "T430-02" and 80 < m.day < 240 and m.day not in SUSPECT_INSERTS]
    others = [m for m in others if m.shift == NIGHT] or others
    rivals = Rivals(gone, suspect, SUSPECT_LOT)
    cracked = _decoyed(rng, suspect, rivals)
    some = rng.sample(others, min(TRIED, len(others)))
    by_itself = sorted(some, key=lambda made: (rivals.too_near([*cracked, made]), alike([*cracked, made])))[:1]
    told = [(made, CRACK, SUSPECT_LOT) for made in cracked]
    return told + [(made, CRACK, "dropped on a slipway") for made in by_itself]


def _planted(rng: Random, gone: list[Made]) -> Iterator[Chosen]:
    soft = [m for m in gone if share_of(m, WRONG_LOT) > SOFT and not is_of(m, SUSPECT_LOT)]
    soft = sorted(soft, key=lambda m: -share_of(m, WRONG_LOT))[:SOFTEST]
    lifting = [m for m in gone if is_of(m, EXPIRED_ROLL) and "told late" in " ".join(m.oddities)]
    cold = [m for m in gone if m.arm == "A3" and m.day in DRIFT and float(m.peak_c) < 205]
    for hulls, count, symptom, cause in (
        (soft, 9, WARP, WRONG_LOT), (lifting, 3, LIFTS, EXPIRED_ROLL), (cold, 6, SPLIT, "A3 cooked too cool"),
    ):  # fmt: skip
        rivals = Rivals(gone, hulls, cause) if cause == WRONG_LOT else None
        yield from ((made, symptom, cause) for made in _some(rng, hulls, count, rivals))


def _usual(rng: Random, others: list[Made], gone: list[Made], planted: list[Chosen]) -> Iterator[Chosen]:
    """One that warps by itself is none that would make of what lay in the vessel with the wrong lot the likelier one:
    in ten of ten, and the cause in nine."""
    warped = [one for one, its, _cause in planted if its == WARP]
    rivals = Rivals(gone, warped, WRONG_LOT)
    chosen = _some(rng, others, min(len(USUAL), len(others) // 20))
    for first, symptom in zip(chosen, USUAL, strict=False):
        made = first
        if symptom == WARP and rivals.too_near([*warped, first]):
            some = rng.sample(others, min(TRIED, len(others)))
            made = min((m for m in some if m not in chosen), key=lambda m: rivals.too_near([*warped, m]), default=first)
        yield made, symptom, "nothing that was planted"


def _some(rng: Random, hulls: list[Made], count: int, rivals: Rivals | None = None) -> list[Made]:
    """So many of these hulls that have little else in common, as hulls that failed for one reason."""
    tried = 10 * TRIED if rivals else TRIED
    samples = [rng.sample(hulls, min(count, len(hulls))) for _ in range(tried)]
    near = rivals.too_near if rivals else no_rivals
    return min(samples, key=lambda some: (near(some), alike(some) + of_one_bag(some)))


def alike(hulls: list[Made]) -> int:
    """In how many of the hulls whatever is in most of them is: a lot of powder or foam, a box of inserts, an order."""
    counted = Counter(made.order for made in hulls)
    for made in hulls:
        counted.update({part.lot for layer in made.layers if layer.name != "inner" for part in layer.parts})
        counted.update({placed.box for placed in [*made.inserts, *made.graphics] if placed.lot != EXPIRED_ROLL})
    return max(counted.values(), default=0)


def of_one_bag(hulls: list[Made]) -> int:
    """In how many of the hulls one bag or octabin is: of a bag that makes three, three are too many."""
    layers = [layer for made in hulls for layer in made.layers if layer.name != "inner"]
    counted = Counter(part.box for layer in layers for part in layer.parts)
    return max(counted.values(), default=0)


def _told(rng: Random, number: int, complaint: Complaint, made: Made) -> list[Step]:
    """How it is taken down; of every seventh the plate cannot be read whole, and its hull is found two days later."""
    at = datetime.fromisoformat(complaint.reported_at)
    gone = datetime.fromisoformat(made.dispatched_at)
    sold = gone + timedelta(days=complaint.sold_after)
    failed = sold + timedelta(days=complaint.failed_after)
    readable = number % 7 != 3
    spots = [spot for spot in SPOTS.get(complaint.symptom, ()) if spot in str(PRODUCTS[made.product])]
    command = TakeComplaint(
        hull=made.serial if readable else "", symptom=complaint.symptom, spot=rng.choice(spots) if spots else "",
        product="" if readable else made.product, colour="" if readable else made.colour,
        plate="" if readable else f"{made.serial[:-2]}??", sold=f"{sold:%Y-%m-%d}" if rng.random() < 0.8 else "",
        failed=f"{failed:%Y-%m-%d}", reported=f"{at:%Y-%m-%d}",
        months=str(round(complaint.failed_after / 30.4)) if rng.random() < 0.6 else "", through=made.consignee,
        story=rng.choice(STORIES.get(complaint.symptom, ("said on the telephone, no photo",))),
    )  # fmt: skip
    steps = [Step(at=at, command=command, person=rng.choice(TAKERS), station="complaints")]
    if not readable:
        tied = at + timedelta(days=2, minutes=rng.randrange(300), milliseconds=rng.randrange(1000))
        found = TieHull(complaint=number, hull=made.serial, reason="the dealer wiped the plate and read it out")
        steps.append(Step(at=tied, command=found, person="P-06", station="complaints"))
    return steps


def _decoyed(rng: Random, suspect: list[Made], rivals: Rivals) -> list[Made]:
    """Cracked hulls, of which so many come from the suspected mould and were made at night that both look guilty."""
    of_it = [m for m in suspect if m.mould == "T430-02"]
    others = [m for m in suspect if m.mould != "T430-02"]
    best: list[Made] = []
    closest = 99.0
    for _ in range(600):
        some = rng.sample(of_it, min(FROM_THE_MOULD, len(of_it)))
        some += rng.sample(others, min(CRACKED - len(some), len(others)))
        off: float = max(0, alike(some) - MOST_ALIKE) + abs(sum(m.shift == NIGHT for m in some) - AT_NIGHT)
        # The decoys come first: this only chooses among draws that are as good.
        off += rivals.too_near(some) / 10
        if off < closest:
            best, closest = some, off
    return best


def _lags(w: Writer, rng: Random, made: Made, symptom: str, cause: str) -> Complaint:
    """Sold some weeks after it was sent, failed after months of use, said some days later; all before the year ends."""
    sent = datetime.fromisoformat(made.dispatched_at)
    end = w.year.at(DAYS - 4, 18)
    for tried in range(2000):
        # Who bought late and complains all the same was quick.
        hurry = 0.995**tried
        sold = hurry * lag_days(rng, 21, 0.7)
        failed = hurry * lag_days(rng, 60 if symptom == CRACK else 34, 0.6)
        if symptom == SPLIT:
            snap = w.year.at(COLD_SNAP.start, 0) + timedelta(days=rng.random() * len(COLD_SNAP))
            failed = max(hurry * rng.uniform(1, 5), (snap - sent).total_seconds() / 86400 - sold)
        reported = hurry * lag_days(rng, 6, 0.8)
        at = sent + timedelta(days=sold + failed + reported)
        if at < end:
            said = at.replace(hour=8 + rng.randrange(9), minute=rng.randrange(60), microsecond=rng.randrange(10**6))
            return Complaint(
                made.serial, symptom, cause, round(sold, 2), round(failed, 2), round(reported, 2), said.isoformat()
            )  # fmt: skip
    raise ValueError(f"{made.serial} was sent on {sent:%Y-%m-%d}: too late for a complaint of this year")
