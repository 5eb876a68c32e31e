"""Pages of a long list: which one is asked for, and the ways to the others."""

from dataclasses import dataclass

from django.http import HttpRequest

EACH = 50
MOST = 1_000_000


@dataclass(frozen=True, slots=True)
class Pages:
    """One page of a list of `count`: contract of templates/pages/parts/pages.html. `number` counts from 1."""

    number: int
    count: int
    each: int = EACH
    newer_url: str = ""
    older_url: str = ""

    @property
    def last(self) -> int:
        return max(1, -(-self.count // self.each))

    @property
    def first_shown(self) -> int:
        return min(self.count, (self.number - 1) * self.each + 1)

    @property
    def last_shown(self) -> int:
        return min(self.count, self.number * self.each)

    @property
    def skipped(self) -> int:
        """How many stand before this page: SQL's OFFSET."""
        return (self.number - 1) * self.each


def asked(request: HttpRequest) -> int:
    """The number of the page asked for, 1 where nothing that can be read is asked."""
    text = request.GET.get("page", "")
    return max(1, min(MOST, int(text))) if text.isascii() and text.isdecimal() and len(text) <= 7 else 1


def pages(request: HttpRequest, count: int, each: int = EACH) -> Pages:
    """The page that was asked for of a list of so many; one past the end is the last."""
    number = min(asked(request), max(1, -(-count // each)))

    def to(other: int) -> str:
        said = request.GET.copy()  # a question is of several words under one name: all of them stay
        said["page"] = str(other)
        return f"{request.path}?{said.urlencode()}"

    return Pages(
        number, count, each,
        newer_url=to(number - 1) if number > 1 else "",
        older_url=to(number + 1) if number * each < count else "",
    )  # fmt: skip
