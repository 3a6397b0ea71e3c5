"""Letters that cannot be printed as they are, so that no name can stop or change a report."""

import re
import unicodedata
from typing import Any

# Marks that turn the direction of the text after them: with them a name could rewrite a line.
_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# From here on come the East Asian scripts and emoji: where one is missing, all are.
_EAST_ASIAN = "\u2e80"

_NOT_SHOWN = re.compile(r'the text `"(?P<text>.*?)"` could not be displayed', re.DOTALL)
_ESCAPED = re.compile(r"\\u\{(?P<code>[0-9a-f]+)\}")


def without_controls(content: Any) -> Any:
    """Return content whose texts hold no control characters: line ends become spaces.

    Parameters
    ----------
    content : any
        Text, numbers, and lists and tables of them.

    Returns
    -------
    any
        The same, with each control or direction mark written as its Unicode number.
    """
    if isinstance(content, str):
        return "".join(_plain(letter) for letter in content)
    if isinstance(content, dict):
        return {key: without_controls(value) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [without_controls(value) for value in content]
    return content


def spell_out(content: Any, letters: frozenset[str]) -> Any:
    """Return content with some letters written as their Unicode numbers, ``U+674E``.

    Parameters
    ----------
    content : any
        Text, numbers, and lists and tables of them.
    letters : frozenset of str
        The letters. With one East Asian letter go all of them.

    Returns
    -------
    any
    """
    if not letters:
        return content
    if isinstance(content, str):
        from_here = _EAST_ASIAN if max(letters) >= _EAST_ASIAN else "\U0010ffff"
        return "".join(
            _code(letter) if letter in letters or letter >= from_here else letter
            for letter in content
        )
    if isinstance(content, dict):
        return {key: spell_out(value, letters) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [spell_out(value, letters) for value in content]
    return content


def letters_without_glyph(message: str) -> frozenset[str]:
    """Return the letters that a typesetter's message says no font could show."""
    found = _NOT_SHOWN.search(message)
    if found is None:
        return frozenset()
    text = _ESCAPED.sub(lambda code: chr(int(code["code"], 16)), found["text"])
    return frozenset(text)


def _plain(letter: str) -> str:
    if letter in "\t\n\r\u2028\u2029":
        return " "
    if unicodedata.category(letter) in {"Cc", "Cs"} or letter in _TURNS:
        return _code(letter)
    return letter


def _code(letter: str) -> str:
    return f"U+{ord(letter):04X}"
