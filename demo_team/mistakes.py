from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

SET_ASIDE = "set aside"
NOT_USED = "stored, not used"
USED = "stored and used"


@dataclass(frozen=True)
class Mistake:
    """Something that went wrong on the way into an efforts file.

    Attributes
    ----------
    measure, athlete, kind : str
        Where: the efforts file, the athlete, and the kind of session.
    session, effort : int
        Which of the athlete's sessions of that kind, and which effort in it, from 1.
    column : str
        The cell that is changed.
    written : callable
        Turns what was meant into what was written.
    outcome : str
        What becomes of the row.
    what : str
        The mistake in a few words.
    doubled : bool
        Whether the correct row stays, and the changed one follows it.
    """

    measure: str
    athlete: str
    kind: str
    session: int
    effort: int
    column: str
    written: Callable[[str], str]
    outcome: str
    what: str
    doubled: bool = False


def _slip(share: float) -> Callable[[str], str]:
    return lambda value: f"{float(value) * (1.0 - share):.1f}"


def _instead(text: str) -> Callable[[str], str]:
    return lambda _: text


def _without_point(value: str) -> str:
    return value.replace(".", "")


def _point_too_early(value: str) -> str:
    return f"{float(value) / 10.0:.2f}"


def _letter_for_last_digit(value: str) -> str:
    return value[:-1] + "o"


def _a_little_more(value: str) -> str:
    return f"{float(value) + 1.3:.1f}"


JUMP, THROW = "jump_height", "throw_speed"
MISTAKES = (
    Mistake(JUMP, "H04", "routine", 3, 2, "value", _slip(0.22), USED, "slipped effort"),
    Mistake(JUMP, "H09", "routine", 6, 1, "value", _slip(0.23), USED, "slipped effort"),
    Mistake(JUMP, "H12", "fade", 1, 6, "value", _slip(0.28), USED, "slipped effort"),
    Mistake(JUMP, "H18", "routine", 2, 2, "value", _slip(0.34), USED, "slipped effort"),
    Mistake(THROW, "H06", "routine", 2, 1, "value", _slip(0.19), USED, "slipped effort"),
    Mistake(THROW, "H14", "fade", 1, 4, "value", _slip(0.25), USED, "slipped effort"),
    Mistake(JUMP, "H02", "routine", 4, 2, "value", _without_point, SET_ASIDE,
            "decimal point forgotten, beyond the limits"),
    Mistake(JUMP, "H08", "fade", 1, 9, "value", _point_too_early, SET_ASIDE,
            "decimal point in the wrong place, beyond the limits"),
    Mistake(JUMP, "H17", "routine", 5, 1, "value", _letter_for_last_digit, SET_ASIDE,
            "a letter in a number"),
    Mistake(JUMP, "H16", "routine", 2, 2, "athlete", _instead("H61"), SET_ASIDE,
            "unknown athlete code"),
    Mistake(JUMP, "H21", "routine", 7, 1, "started_at", _instead("2026-09-31T17:30"), SET_ASIDE,
            "a date that does not exist"),
    Mistake(JUMP, "H13", "routine", 3, 1, "volume_before", _instead(""), SET_ASIDE,
            "no volume in a routine session"),
    Mistake(JUMP, "H22", "routine", 6, 2, "value", _a_little_more, SET_ASIDE,
            "the row twice, the second time with another value", doubled=True),
    Mistake(THROW, "H10", "routine", 1, 2, "value", _without_point, SET_ASIDE,
            "decimal point forgotten, beyond the limits"),
    Mistake(THROW, "H16", "fade", 1, 3, "value", _letter_for_last_digit, SET_ASIDE,
            "a letter in a number"),
    Mistake(JUMP, "H19", "routine", 2, 1, "excluded", _instead("stumbled over a ball"), NOT_USED,
            "effort excluded with a reason"),
)  # fmt: skip


def with_mistakes(clean: pd.DataFrame, measure: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Put a measure's mistakes into its clean efforts.

    Returns
    -------
    efforts : DataFrame
        The efforts as they were written, all columns text.
    list_of_mistakes : DataFrame
        Columns file, line (the header is line 1), athlete, column, meant, written, outcome, what.
    """
    wrong = {_place(clean, mistake): mistake for mistake in MISTAKES if mistake.measure == measure}
    rows: list[dict[str, str]] = []
    listed: list[dict[str, object]] = []
    for place, cells in enumerate(clean.to_dict("records")):
        meant = {str(column): str(cell) for column, cell in cells.items()}
        mistake = wrong.get(place)
        if mistake is None or mistake.doubled:
            rows.append(meant)
        if mistake is not None:
            rows.append(meant | {mistake.column: mistake.written(meant[mistake.column])})
            listed.append(_listed(mistake, len(rows) + 1, meant, rows[-1]))
    return pd.DataFrame(rows), pd.DataFrame(listed)


def _place(clean: pd.DataFrame, mistake: Mistake) -> int:
    own = clean[(clean["athlete"] == mistake.athlete) & (clean["kind"] == mistake.kind)]
    started_at = own["started_at"].unique()[mistake.session - 1]
    here = (own["started_at"] == started_at) & (own["effort"] == str(mistake.effort))
    return int(own.index[here][0])


def _listed(
    mistake: Mistake, line: int, meant: dict[str, str], written: dict[str, str]
) -> dict[str, object]:
    return {
        "file": f"{mistake.measure}.csv",
        "line": line,
        "athlete": mistake.athlete,
        "column": mistake.column,
        "meant": meant[mistake.column],
        "written": written[mistake.column],
        "outcome": mistake.outcome,
        "what": mistake.what,
    }
