"""The plant's year: its working days, its shifts and crews, and how warm hall and oven are."""

import math
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from random import Random

DAYS = 360
# Days of the story, counted from the first.
NIGHTS = range(120, 300)
EARLY, LATE, NIGHT = "Early", "Late", "Night"
STARTS = {EARLY: 6, LATE: 14, NIGHT: 22}
SHIFTS = [
    {"name": EARLY, "starts": "06:00", "ends": "14:00"},
    {"name": LATE, "starts": "14:00", "ends": "22:00"},
    {"name": NIGHT, "starts": "22:00", "ends": "06:00"},
]
# Badge keys: who weighs, who loads and runs the oven, who leads.
CREWS = {
    EARLY: (("P-01", "P-02"), ("P-02", "P-01"), "P-03"),
    LATE: (("P-13", "P-11"), ("P-04", "P-13"), "P-16"),
    NIGHT: (("P-14", "P-12"), ("P-14", "P-12"), "P-12"),
}
HOLIDAYS = (24, 25, 26, 31, 32, 117, 120, 155, 205, 206, 267, 331)


@dataclass
class Year:
    """`first` is its first day; hours are those of the plant's own clock in `zone`."""

    first: date
    zone: tzinfo
    rng: Random
    weather: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        drift = 0.0
        for _ in range(DAYS + 30):
            drift = 0.8 * drift + self.rng.gauss(0, 1.3)
            self.weather.append(drift)

    def date_of(self, day: int) -> date:
        return self.first + timedelta(days=day)

    def at(self, day: int, hour: float) -> datetime:
        """A time of a day of the story; hours past 24 are of the next day."""
        whole = self.date_of(day) + timedelta(days=int(hour // 24))
        hour %= 24
        local = datetime(whole.year, whole.month, whole.day, int(hour), int(hour % 1 * 60), tzinfo=self.zone)
        return local + timedelta(seconds=int(hour * 3600 % 60))

    def day_of(self, at: datetime) -> int:
        """The plant day, which begins at six."""
        return ((at.astimezone(self.zone) - timedelta(hours=6)).date() - self.first).days

    def is_worked(self, day: int) -> bool:
        return self.date_of(day).isoweekday() <= 5 and day not in HOLIDAYS

    def working_days(self) -> list[int]:
        return [day for day in range(3, DAYS - 2) if self.is_worked(day)]

    def day_from(self, day: int) -> int:
        """The first working day from this one on."""
        return next(n for n in range(day, day + 30) if self.is_worked(n))

    def shift_at(self, at: datetime) -> str:
        hour = at.astimezone(self.zone).hour
        return EARLY if 6 <= hour < 14 else LATE if 14 <= hour < 22 else NIGHT

    def hall_c(self, at: datetime) -> float:
        """Air in the hall, °C: warmest at the end of July and in the afternoon."""
        local = at.astimezone(self.zone)
        of_year = math.cos((local.timetuple().tm_yday - 208) / 365 * 2 * math.pi)
        of_day = math.cos((local.hour + local.minute / 60 - 15) / 24 * 2 * math.pi)
        return 17.5 + 7.5 * of_year + 2.2 * of_day + self.weather[max(0, self.day_of(at))]

    def after_rest(self, at: datetime) -> bool:
        """The first shift after a day on which nobody worked: moulds and oven are cold."""
        day = self.day_of(at)
        return not self.is_worked(day - 1) and self.shift_at(at) == EARLY
