"""What a cell of an efforts file may say; parsers raise ValueError with the reason if it is not."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta

Parser = Callable[[str], object]

NEEDED = ("athlete", "started_at", "measure", "effort", "value")
SESSION_FACTS = (
    "kind",
    "context",
    "general_minutes",
    "rest_minutes",
    "effort_rest_seconds",
    "ambient_c",
    "days_since_game",
    "load_kg",
    "planned_volume",
    "freshness",
    "joints",
    "mobility",
    "pain",
    "note",
)
MAX_VOLUME = 10_000.0
LEAST_GENERAL_MINUTES = 3.0
"""Nobody starts cold, neither lifting nor playing (common practice, no source)."""
KINDS = ("routine", "fade")
CONTEXTS = ("training", "game", "test", "lifting")
# Wide enough for anything real; they catch typing errors and wrong columns.
LIMITS: dict[str, tuple[float, float]] = {
    "effort": (1, 10_000),
    "volume_before": (0, MAX_VOLUME),
    "general_minutes": (0, 240),
    "rest_minutes": (0, 1440),
    "effort_rest_seconds": (0, 3600),
    "ambient_c": (-50, 60),
    "days_since_game": (0, 3650),
    "load_kg": (0, 1000),
    "planned_volume": (0, MAX_VOLUME),
    "freshness": (0, 10),
    "joints": (0, 10),
    "mobility": (0, 10),
}
ATHLETE_CODE = re.compile(r"\w[\w .-]{0,39}")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
# A number with two meanings, as `in_doubt` writes it.
IN_DOUBT = re.compile(r"([+-]?[\d.,]+) \(([+-]?[\d.]+) or ([+-]?\d+)\)", re.ASCII)
EARLIEST = datetime(1950, 1, 1)
LONGEST_DATE = len("2026-03-01")
# Spreadsheets run a cell that begins like this, so exports put a ' before it. It comes off again.
FORMULA = re.compile(r"'*[=+\-@\t\r]")


def athlete_code(text: str) -> str:
    """Check an athlete code: up to 40 letters, digits, spaces and . _ - after a letter or digit."""
    if not ATHLETE_CODE.fullmatch(text):
        raise ValueError(
            f"'{text}' cannot be an athlete code; take up to 40 letters, digits, '.', '_' and '-'"
        )
    return text


def wall_time(text: str) -> tuple[datetime, int | None]:
    """Return the start of a session as wall-clock time, and its offset from UTC in minutes."""
    moment = moment_of(text)
    if moment is None:
        raise ValueError(f"'{text}' is not a time; write it as 2026-03-01T09:30")
    if lacks_time(text):
        raise ValueError(f"'{text}' has no time of day; write it as 2026-03-01T09:30")
    wall = moment if moment.tzinfo is None else moment.replace(tzinfo=None)
    if wall < EARLIEST:
        raise ValueError(f"'{text}' is before {EARLIEST:%Y}; check the year")
    if wall > datetime.now() + timedelta(days=1):
        raise ValueError(f"'{text}' is in the future; efforts are stored after they were made")
    offset = moment.utcoffset()
    return wall, None if offset is None else round(offset.total_seconds() / 60)


def moment_of(text: str) -> datetime | None:
    """Parse a start in ISO 8601; None if the text is not one."""
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def lacks_time(text: str) -> bool:
    """Tell whether a start is a date without a time of day."""
    return len(text) <= LONGEST_DATE and moment_of(text) is not None


def in_doubt(text: str, mark: str) -> str:
    """Write a number with both readings: its mark as decimal mark, and as thousands separator."""
    return f"{text} ({float(text.replace(mark, '.')):.10g} or {text.replace(mark, '')})"


def number(text: str) -> float:
    """Parse a finite number."""
    if found := IN_DOUBT.fullmatch(text):
        raise ValueError(
            f"'{found[1]}' can be {found[2]} or {found[3]}, and nothing in the file shows which; "
            "write one of them, or state the decimal mark"
        )
    if not NUMBER.fullmatch(text):
        raise ValueError(f"'{text}' is not a number; write one such as 41.5")
    value = float(text)
    if value in (float("inf"), float("-inf")):
        raise ValueError(f"'{text}' is too large for a number")
    return value


def number_between(lowest: float, highest: float) -> Callable[[str], float]:
    """Make a parser of numbers within limits."""

    def parse(text: str) -> float:
        value = number(text)
        if not lowest <= value <= highest:
            raise ValueError(f"{text} is outside {lowest:g} to {highest:g}")
        return value

    return parse


def positive(text: str) -> float:
    """Parse a number above zero."""
    value = number(text)
    if value <= 0:
        raise ValueError(f"{text} is not above 0")
    return value


def whole_number_between(lowest: float, highest: float) -> Callable[[str], float]:
    """Make a parser of whole numbers within limits."""
    within = number_between(lowest, highest)

    def parse(text: str) -> float:
        value = within(text)
        if value != int(value):
            raise ValueError(f"{text} is not a whole number; write 1, 2, 3 ...")
        return value

    return parse


def word_of(*words: str) -> Callable[[str], str]:
    """Make a parser of a few allowed words."""

    def parse(text: str) -> str:
        if text.lower() not in words:
            raise ValueError(f"'{text}' is not allowed; the words are {', '.join(words)}")
        return text.lower()

    return parse


def yes_or_no(text: str) -> bool:
    """Parse a yes or a no."""
    if text.lower() in ("yes", "true", "1"):
        return True
    if text.lower() in ("no", "false", "0"):
        return False
    raise ValueError(f"'{text}' is not allowed; write yes or no")


def text_up_to(longest: int) -> Callable[[str], str]:
    """Make a parser of free text."""

    def parse(text: str) -> str:
        if len(text) > longest:
            raise ValueError(f"the text has {len(text)} characters; {longest} are allowed")
        return text[1:] if text.startswith("'") and FORMULA.match(text) else text

    return parse


PARSERS: dict[str, Parser] = {
    "athlete": str,
    "started_at": wall_time,
    "measure": str,
    "effort": whole_number_between(*LIMITS["effort"]),
    "value": positive,
    "volume_before": number_between(*LIMITS["volume_before"]),
    "kind": word_of(*KINDS),
    "context": word_of(*CONTEXTS),
    **{fact: number_between(*LIMITS[fact]) for fact in SESSION_FACTS if fact in LIMITS},
    "pain": yes_or_no,
    "note": text_up_to(2000),
    "excluded": text_up_to(500),
}
NUMBERS = ("value", *LIMITS)
FREE_TEXTS = ("note", "excluded")
LONGEST_CELL = 200
"""Most characters of a cell that is neither a number nor free text; a code has 40."""
LONGEST_NUMBER = 100
"""Most characters of a number: a Parquet decimal has 78, one in doubt is written as 3 numbers."""
