"""How much room words take, and how to break, shorten and name them, without knowing the typeface of the
reader."""

from decimal import Decimal

# The widest common system typefaces take about 0.6 of their size a sign (DejaVu Sans, a wide one);
# reckoning with that keeps labels apart in every narrower one.
SIGN_WIDTH = 0.6


def words_width(text: str, size: float) -> float:
    """Width in drawing units that `text` may take at `size`, on the safe side."""
    return len(text) * size * SIGN_WIDTH


def shorten(text: str, room: float, size: float) -> str:
    """`text`, cut with an ellipsis when it is wider than `room`."""
    most = max(1, int(room / (size * SIGN_WIDTH)))
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def broken(text: str, room: float, size: float, most_lines: int = 3) -> tuple[str, ...]:
    """`text` broken at spaces into lines no wider than `room`; what does not fit `most_lines` is cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and words_width(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > most_lines:
        lines[most_lines - 1 :] = [" ".join(lines[most_lines - 1 :])]
    return tuple(shorten(line, room, size) for line in lines)


def whole_lines(text: str, room: float, size: float) -> list[str]:
    """`text` broken into as many lines as it needs: at spaces, and within a word that is wider than `room`."""
    most = max(1, int(room / (size * SIGN_WIDTH)))
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
        else:
            lines += [word[n : n + most] for n in range(0, len(word), most)]
    return lines


def amount_range(least: Decimal, most: Decimal, unit: str = "kg") -> str:
    """`6.90–9.16 kg`, or one figure when both are the same."""
    return f"{least} {unit}" if least == most else f"{least}–{most} {unit}"
