"""Reduce texts to plain lower-case letters, however people write them."""

from __future__ import annotations

import unicodedata

# Letters that Unicode normalisation leaves as they are. ß is not here: casefold makes it ss.
_APART = {
    "ø": "o", "ł": "l", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "ŧ": "t",
    "æ": "ae", "œ": "oe", "þ": "th",
}  # fmt: skip


def plain(text: str) -> str:
    """Return a text in lower case without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    letters = (_APART.get(letter, letter) for letter in apart if not unicodedata.combining(letter))
    return "".join(letters)
