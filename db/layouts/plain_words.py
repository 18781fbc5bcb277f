"""Words in the form in which they are compared: lower case, without accents or punctuation."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

__all__ = ["plain", "words_of"]

# Letters that Unicode does not split into a plain letter and an accent.
_LETTERS = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ı": "i", "ß": "ss", "æ": "ae", "œ": "oe"})
_BETWEEN_WORDS = re.compile(r"[^\w#]+|_+")


@lru_cache(maxsize=100_000)
def plain(text: str) -> str:
    """Return a text in lower case without accents."""
    taken_apart = unicodedata.normalize("NFKD", text.casefold())
    kept = "".join(sign for sign in taken_apart if not unicodedata.combining(sign))
    return kept.translate(_LETTERS).strip()


def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a text in the form for comparing; a `#` is a word of its own."""
    spaced = plain(text).replace("#", " # ")
    return tuple(word for word in _BETWEEN_WORDS.split(spaced) if word)
