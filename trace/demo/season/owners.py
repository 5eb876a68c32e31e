"""Who registers: of kayaks hardly half, of buoys few, of rescue craft nearly all; weeks after the sale, some twice."""

from datetime import datetime, timedelta
from random import Random

from trace.demo.season.habits import lag_days
from trace.demo.season.plant import RESCUE
from trace.demo.season.script import Step
from trace.demo.season.truth import Made, Owner
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.owners import RegisterOwner

# Of what is sold so much is registered, by model; a rescue service registers what it runs.
REGISTERED = {"T430": 0.48, "T370": 0.44, "H320": 0.6, "B60": 0.1, "LID": 0.0}
BY_RESCUE, TWICE, SOLD_AGAIN, REGION_TOLD = 0.92, 0.03, 0.04, 0.85
# Where the buyers of each consignee live, the most of them first.
REGIONS = {
    "WHARFE": ("GB-ENG", "GB-ENG", "GB-WLS"), "LOCKGATE": ("GB-ENG", "GB-ENG", "GB-SCT"), "TARN": ("GB-ENG", "GB-SCT"),
    "BRACK": ("IE-C", "GB-NIR", "IE-G"), "CALDER": ("GB-ENG",), "SKERRY": ("GB-SCT",), "HOLM": ("GB-ENG",),
}  # fmt: skip
USES = ("private", "private", "private", "hire", "club", "other", "")
NAMES = ("A. Corrie", "B. Sallow", "E. Wrack", "I. Linnet", "J. Tarn", "M. Pike", "O. Brent", "R. Selkie", "T. Rudd")
TAKER = "P-15"


def register(w: Writer, rng: Random) -> None:
    """Adds the owners of what was sent to the truth, and their registrations, as far as they came, to the script."""
    sold_after = {complaint.hull: complaint.sold_after for complaint in w.truth.complaints}
    end = w.year.at(DAYS - 4, 17)
    for made in [made for made in w.truth.hulls() if made.fate == "dispatched"]:
        sold = datetime.fromisoformat(made.dispatched_at) + timedelta(
            days=sold_after.get(made.serial, lag_days(rng, 21, 0.7))
        )
        told = _office(rng, sold + timedelta(days=lag_days(rng, 11, 0.8)))
        share = BY_RESCUE if made.consignee in RESCUE and made.product == "H320" else REGISTERED[made.product]
        if sold >= end:
            continue
        owner = Owner(made.serial, f"{sold:%Y-%m-%d}", rng.choice(REGIONS[made.consignee]))
        w.truth.owners.append(owner)
        if rng.random() < share and told < end:
            owner.registered = True
            w.script.steps += _steps(rng, made, owner, told, end)


def _steps(rng: Random, made: Made, owner: Owner, told: datetime, end: datetime) -> list[Step]:
    use = "rescue" if made.consignee in RESCUE else rng.choice(USES)
    region = owner.region if rng.random() < REGION_TOLD else ""
    command = RegisterOwner(
        hull=made.serial, sold=owner.sold, region=region, use=use, owner=rng.choice(NAMES),
        contact=f"buyer {made.serial[-4:]}",
    )  # fmt: skip
    owner.told_region = region
    steps = [Step(at=told, command=command, person=TAKER, station="owners")]
    again = _office(rng, told + timedelta(days=1 + lag_days(rng, 9, 0.6)))
    if again < end and rng.random() < TWICE:
        # The shop sends its list a second time.
        steps.append(Step(at=again, command=command, person=TAKER, station="owners", refused="OWNER-THERE"))
    later = _office(rng, told + timedelta(days=20 + lag_days(rng, 40, 0.6)))
    if later < end and rng.random() < SOLD_AGAIN:
        other = RegisterOwner(
            hull=made.serial, owner_is="later", region=owner.region, owner=rng.choice(NAMES),
            contact=f"second {made.serial[-4:]}",
        )  # fmt: skip
        owner.told_region = owner.region
        steps.append(Step(at=later, command=other, person=TAKER, station="owners"))
    return steps


def _office(rng: Random, at: datetime) -> datetime:
    """That day, while the office is open."""
    return at.replace(hour=9 + rng.randrange(8), minute=rng.randrange(60), microsecond=rng.randrange(10**6))
