"""Names of places in a mould, S1 to S12: put in order, and said together."""

from collections.abc import Sequence


def named_together(names: Sequence[str]) -> str:
    """`S1, S2, S3, H1` as `S1–S3, H1`: runs of the same letters with following numbers."""
    runs: list[list[str]] = []
    for name in names:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(
        f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs
    )  # two names read better apart


def in_order(name: str) -> tuple[str, int]:
    """Sort key that puts S9 before S10."""
    letters = name.rstrip("0123456789")
    digits = name[len(letters) :]
    return letters, int(digits) if digits else 0


def _follows(before: str, after: str) -> bool:
    letters, number = in_order(before)
    return in_order(after) == (letters, number + 1) and after != letters
