"""What a club calls the start of a game."""

from __future__ import annotations

from db.errors import BadInput
from db.file.settings import get_setting, set_setting
from db.file.store import Store

START_WORDS = (
    "first whistle",
    "kick-off",
    "throw-off",
    "tip-off",
    "face-off",
    "first serve",
    "first pitch",
    "start",
)
"""The words used in sport; the one that fits most sports comes first."""
_SETTING = "start_word"


def start_word(store: Store) -> str:
    """Return what the club calls the start of a game."""
    return get_setting(store, _SETTING) or START_WORDS[0]


def keep_start_word(store: Store, word: str, person: str) -> None:
    """Save what the club calls the start of a game.

    Raises
    ------
    BadInput
        If it is not one of `START_WORDS`.
    """
    if word not in START_WORDS:
        raise BadInput(f"{word!r} is none of: {', '.join(START_WORDS)}.")
    set_setting(store, _SETTING, word, person)
