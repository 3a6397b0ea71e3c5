"""Where a label goes so that it covers nothing: the first of its places with the least overlap."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

# Advances of the vendored font as shares of the type size, by kind of letter, a little wide.
_NARROW = frozenset(" ijlrtfI.,:;'|()-·₂₄")
_WIDE = frozenset("mwMW+−=±×%")


class Box(NamedTuple):
    """A rectangle in pixels; y grows downwards."""

    left: float
    top: float
    right: float
    bottom: float


def text_width(text: str, size: float) -> float:
    """Return about how wide a line of text is, in the unit of its size."""
    return size * sum(_advance(letter) for letter in text)


def _advance(letter: str) -> float:
    if letter in _NARROW:
        return 0.33
    if letter in _WIDE:
        return 0.74
    return 0.64 if letter.isupper() else 0.56


def text_box(x: float, y: float, width: float, size: float, *, align: str) -> Box:
    """Return the box of a line of text whose middle height is y."""
    left = x if align == "left" else x - width if align == "right" else x - width / 2
    return Box(left, y - 0.6 * size, left + width, y + 0.6 * size)


def overlap(box: Box, others: Iterable[Box]) -> float:
    """Return the area that a box shares with others, summed."""
    return sum(
        max(0.0, min(box.right, other.right) - max(box.left, other.left))
        * max(0.0, min(box.bottom, other.bottom) - max(box.top, other.top))
        for other in others
    )


def best(candidates: Sequence[Box], obstacles: Sequence[Box]) -> int:
    """Return the index of the candidate that covers least; of equals, the first."""
    return min(range(len(candidates)), key=lambda i: (overlap(candidates[i], obstacles), i))


def along(x1: float, y1: float, x2: float, y2: float, *, thick: float) -> list[Box]:
    """Return small boxes along a stroke, as obstacles."""
    steps = max(1, int(max(abs(x2 - x1), abs(y2 - y1)) // thick))
    half = thick / 2
    boxes = []
    for i in range(steps + 1):
        x = x1 + (x2 - x1) * i / steps
        y = y1 + (y2 - y1) * i / steps
        boxes.append(Box(x - half, y - half, x + half, y + half))
    return boxes


def wrap(phrases: Sequence[str], *, joint: str, width: float, size: float) -> list[str]:
    """Return phrases set in lines no wider than a width; a phrase is never broken."""
    lines: list[str] = []
    for phrase in phrases:
        longer = f"{lines[-1]}{joint}{phrase}" if lines else phrase
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(phrase)
    return lines
