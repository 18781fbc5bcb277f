"""Words as they are compared: without accents, marks, or large and small letters."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

__all__ = ["plain", "words_of"]

# Letters that no accent is taken off of.
_LETTERS = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ı": "i", "ß": "ss", "æ": "ae", "œ": "oe"})
_BETWEEN_WORDS = re.compile(r"[^\w#]+|_+")


@lru_cache(maxsize=100_000)
def plain(text: str) -> str:
    """Write a text in small letters without accents."""
    taken_apart = unicodedata.normalize("NFKD", text.casefold())
    kept = "".join(sign for sign in taken_apart if not unicodedata.combining(sign))
    return kept.translate(_LETTERS).strip()


def words_of(text: str) -> tuple[str, ...]:
    """Give the words of a text as they are compared; a `#` is one of its own."""
    spaced = plain(text).replace("#", " # ")
    return tuple(word for word in _BETWEEN_WORDS.split(spaced) if word)
