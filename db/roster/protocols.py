"""How a measure is done: what an effort is, the rest between two, and what stays the same."""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields, replace

from db.errors import BadInput
from db.file.store import Store
from db.roster.measures import Measure, kind_of_effort

__all__ = [
    "MOST_REST_SECONDS",
    "PARTS",
    "Protocol",
    "protocol_of",
    "rest_asked_for",
    "save_protocol",
]

LONGEST_TEXT = 80
MOST_REST_SECONDS = 3600.0
SINGLE_EFFORTS = frozenset({"efforts", "jumps", "throws", "sprints"})
"""Volume units where each unit is one effort, with a rest after it."""


@dataclass(frozen=True)
class Protocol:
    """How a measure is done; an empty text means that nothing was said.

    Attributes
    ----------
    effort : str
        What one effort is.
    rest_seconds : float or None
        Prescribed rest between two efforts; a group that takes turns rests longer.
    arms, depth, ball, beginning, surface, shoes : str
        What is to be the same each time.
    """

    effort: str = ""
    rest_seconds: float | None = None
    arms: str = ""
    depth: str = ""
    ball: str = ""
    beginning: str = ""
    surface: str = ""
    shoes: str = ""


PARTS = tuple(field.name for field in fields(Protocol) if field.name != "rest_seconds")
USUAL = {
    "jump": Protocol(
        "maximal countermovement jumps",
        15.0,
        arms="hands on hips",
        depth="own depth",
        surface="firm floor",
        shoes="own indoor shoes",
    ),
    "throw": Protocol(
        "maximal throws", 20.0, ball="match ball", beginning="three-step run-up", shoes="own shoes"
    ),
    "sprint": Protocol(
        "maximal sprints",
        120.0,
        beginning="standing start behind the line",
        surface="the same floor",
        shoes="own shoes",
    ),
    "other": Protocol("maximal efforts", 60.0),
}
"""The defaults, by kind of effort (common practice, no source)."""


def protocol_of(store: Store, measure: Measure) -> Protocol:
    """Return how a measure is done, with the defaults of its kind where nothing was saved."""
    usual = USUAL[kind_of_effort(measure)]
    columns = ", ".join(field.name for field in fields(Protocol))
    with store.reading() as cursor:
        row = cursor.execute(
            f"SELECT {columns} FROM measure_protocol WHERE measure = ?", [measure.code]
        ).fetchone()
    if row is None:
        return usual
    said = {
        field.name: value
        for field, value in zip(fields(Protocol), row, strict=True)
        if value not in ("", None)
    }
    return replace(usual, **said)


def rest_asked_for(store: Store, measure: Measure) -> float | None:
    """Return the seconds between two efforts; None if a unit of volume is not one effort."""
    if measure.volume_unit not in SINGLE_EFFORTS:
        return None
    return protocol_of(store, measure).rest_seconds


def save_protocol(store: Store, measure: Measure, protocol: Protocol, person: str) -> None:
    """Save how a measure is done; an empty part goes back to the default.

    Raises
    ------
    BadInput
        If a text is too long or the rest is not allowed.
    """
    for part in PARTS:
        if len(getattr(protocol, part)) > LONGEST_TEXT:
            raise BadInput(
                f"The text for {part} is too long. Use at most {LONGEST_TEXT} characters."
            )
    rest = protocol.rest_seconds
    if rest is not None and not 0 <= rest <= MOST_REST_SECONDS:
        raise BadInput(f"The rest is {rest:g} s; it must be 0 to {MOST_REST_SECONDS:g} s.")
    with store.writing(person, "save measure", measure.code) as cursor:
        values = [value.strip() if isinstance(value, str) else value for value in astuple(protocol)]
        cursor.execute(
            "INSERT OR REPLACE INTO measure_protocol VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [measure.code, *values],
        )
