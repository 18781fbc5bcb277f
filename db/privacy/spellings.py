"""Find a word however people write it: with capitals, accents or special letters."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from functools import cache, lru_cache

from db.roster.plain_letters import plain

_MARKS = "[\u0300-\u036f]*"
_WITH_ACCENTS = (range(0xC0, 0x250), range(0x370, 0x530), range(0x1E00, 0x2000))
"""Latin, Greek and Cyrillic letters, without phonetic symbols."""


def spelled(text: str) -> str:
    """Return a pattern, for DuckDB and Python, of a text however its letters are written."""
    letters, place, pattern = plain(text), 0, ""
    others = _others()
    while place < len(letters):
        one, two = letters[place], letters[place : place + 2]
        if len(two) == 2 and two in others:
            pattern += f"(?:{_class(two[0])}{_class(two[1])}|[{others[two]}]{_MARKS})"
            place += 2
        else:
            pattern += _class(one)
            place += 1
    return pattern


@lru_cache(maxsize=64)
def spelling(texts: tuple[str, ...]) -> re.Pattern[str]:
    """Return a pattern, for Python, of any of some texts as whole words."""
    return re.compile(rf"(?<![^\W_])(?:{any_of(texts)})(?![^\W_])")


def any_of(texts: Sequence[str]) -> str:
    """Return a pattern, for DuckDB and Python, of any of some texts; without any, it never fits."""
    return "|".join(spelled(text) for text in texts) or r"[^\s\S]"


def _class(letter: str) -> str:
    if not letter.isalpha():
        return re.escape(letter)
    capital = letter.upper() if len(letter.upper()) == 1 else ""
    return f"[{letter}{capital}{_others().get(letter, '')}]{_MARKS}"


@cache
def _others() -> dict[str, str]:
    """Return, for each plain letter or pair of letters, the special letters written for it."""
    found: dict[str, str] = defaultdict(str)
    for letter in (chr(number) for block in _WITH_ACCENTS for number in block):
        if letter.isalpha() and (meant := plain(letter)) != letter and len(meant) <= 2:
            found[meant] += letter
    return found
