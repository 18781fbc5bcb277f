"""What an account is allowed: its role, and which athletes a coach sees."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from db.errors import BadInput
from db.file.frames import fetch_number
from db.roster.squads import put_in_squads

ROLES = ("director", "coach", "athlete")
SEES_ALL_COLUMN = (
    "EXISTS (SELECT 1 FROM person_sees_all s WHERE s.person = person.person) AS sees_all"
)
"""SQL for whether each row of the table of persons is a coach who sees all athletes."""


def with_sight(role: str, squads: Sequence[str], sees_all: bool) -> str:
    """Write a role and whom it sees, as the trail shows it."""
    if role != "coach":
        return role
    return f"{role} of {'all athletes' if sees_all else '; '.join(squads) or 'nobody yet'}"


def check_role(
    cursor: duckdb.DuckDBPyConnection,
    role: str,
    athlete: str | None,
    squads: Sequence[str],
    sees_all: bool,
) -> None:
    """Raise unless the role exists and suits the athlete, squads and sight given with it.

    Raises
    ------
    BadInput
        If the role, the athlete or a squad is unknown, an athlete's account has no athlete,
        anyone but a coach has squads or all athletes, or a coach has both.
    """
    if role not in ROLES:
        raise BadInput(f"There is no role '{role}'. The roles are {', '.join(ROLES)}.")
    if role == "athlete" and not athlete:
        raise BadInput("An account with the role athlete needs the code of its athlete.")
    known = fetch_number(cursor, "SELECT count(*) FROM athlete WHERE athlete = ?", [athlete])
    if athlete is not None and not known:
        raise BadInput(f"There is no athlete with the code '{athlete}'. Add the athlete first.")
    if role != "coach" and (squads or sees_all):
        raise BadInput(
            f"Only a coach is given squads or all athletes, and this is the role {role}."
        )
    if squads and sees_all:
        raise BadInput("A coach sees either some squads or all athletes. Choose one of them.")
    _check_squads(cursor, squads)


def put_sight(
    cursor: duckdb.DuckDBPyConnection, person: str, squads: Sequence[str], sees_all: bool
) -> None:
    """Set the squads that a coach sees, or let the coach see all athletes."""
    put_in_squads(cursor, "person", person, squads)
    cursor.execute("DELETE FROM person_sees_all WHERE person = ?", [person])
    if sees_all:
        cursor.execute("INSERT INTO person_sees_all (person) VALUES (?)", [person])


def _check_squads(cursor: duckdb.DuckDBPyConnection, squads: Sequence[str]) -> None:
    rows = cursor.execute("SELECT DISTINCT squad FROM athlete_squad ORDER BY squad").fetchall()
    known = [squad for (squad,) in rows]
    unknown = [squad for squad in squads if squad not in known]
    if unknown:
        there_are = f"The squads are {', '.join(known)}" if known else "There are none yet"
        raise BadInput(
            f"There is no squad '{unknown[0]}'. {there_are}; a file of athletes with a column "
            "squad makes them."
        )
