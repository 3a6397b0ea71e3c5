"""A text that a pattern fits, with given texts in its named groups.

Enough of a pattern's grammar for lines of instruments: characters, classes, groups, either-or, and
how often. Where more is used the text does not fit, and `ebbline.adapters.instrument.speak` refuses
it.
"""

import re
from collections.abc import Mapping

# One character for each class of characters.
_CLASSES = {"d": "0", "s": " ", "w": "a", "D": "a", "S": "a", "W": " ", "t": "\t"}
# Where a text begins or ends, and between words: no character.
_PLACES = "AZbB"
_COUNT = re.compile(r"\{(\d*)(?:,\d*)?\}")
_GROUP = re.compile(r"\?(?:P<(\w+)>|:)")


def pattern_text(pattern: str, fields: Mapping[str, str]) -> str:
    """Return a text for a pattern.

    Parameters
    ----------
    pattern : str
        A regular expression.
    fields : mapping of str to str
        Texts of named groups; other groups get the shortest that fits.

    Returns
    -------
    str
        The first way of each either-or, and as little as may be of what may be left out.
    """
    return _Writer(pattern, fields).either()


class _Writer:
    """Goes through a pattern once, from left to right."""

    def __init__(self, pattern: str, fields: Mapping[str, str]) -> None:
        self._left = pattern
        self._fields = fields

    def _take(self, count: int = 1) -> str:
        taken, self._left = self._left[:count], self._left[count:]
        return taken

    def either(self) -> str:
        """Return the first way of an either-or, up to the end of the group."""
        first = self._row()
        while self._left.startswith("|"):
            self._take()
            self._row()
        return first

    def _row(self) -> str:
        text = ""
        while self._left and self._left[0] not in "|)":
            text += self._some()
        return text

    def _some(self) -> str:
        """Return one piece as often as it must be there; what has a value is there once."""
        before = self._left
        piece = self._piece()
        if self._left[:1] in ("*", "?"):
            self._take()
            return piece if "(?P<" in before[: len(before) - len(self._left)] else ""
        if self._left.startswith("+"):
            self._take()
        elif (count := _COUNT.match(self._left)) is not None:
            self._take(count.end())
            piece *= int(count.group(1) or 0)
        # As few as possible, or without a way back: the same text.
        if self._left[:1] in ("?", "+"):
            self._take()
        return piece

    def _piece(self) -> str:
        sign = self._take()
        if sign == "\\":
            escaped = self._take()
            return "" if escaped in _PLACES else _CLASSES.get(escaped, escaped)
        if sign == "[":
            return self._one_of()
        if sign == "(":
            group = _GROUP.match(self._left)
            self._take(group.end() if group else 0)
            text = self.either()
            self._take()
            return self._fields.get(group.group(1) or "", text) if group else text
        if sign == ".":
            return "a"
        return "" if sign in "^$" else sign

    def _one_of(self) -> str:
        """Return the first character of a class."""
        inside = re.match(r"\^?(?:\\.|[^\\])(?:\\.|[^\]\\])*\]", self._left, re.DOTALL)
        taken = self._take(inside.end() if inside else len(self._left))
        if taken.startswith("^"):
            return next(one for one in "a0 -;" if one not in taken)
        if taken.startswith("\\"):
            return _CLASSES.get(taken[1], taken[1])
        return taken[:1]
