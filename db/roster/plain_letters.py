"""Texts in plain small letters, however people write them."""

from __future__ import annotations

import unicodedata

# Letters that no rule of Unicode takes apart. ß, which it does, is one letter for two as well.
_APART = {
    "ø": "o", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "ŧ": "t",
    "æ": "ae", "œ": "oe", "þ": "th",
}  # fmt: skip


def plain(text: str) -> str:
    """Give a text in small letters without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    letters = (_APART.get(letter, letter) for letter in apart if not unicodedata.combining(letter))
    return "".join(letters)
