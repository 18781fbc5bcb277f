"""Add and edit athletes on the screen, one or several at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date

import duckdb

from db.errors import BadInput
from db.file.store import Store
from db.roster.athletes import PARSERS
from db.roster.new_codes import new_code, usual_order
from db.roster.plain_letters import plain
from db.roster.squads import put_in_squads, squads_column
from db.tables.cells import athlete_code

__all__ = ["Athlete", "add_athletes", "athletes_in_full", "change_athletes"]


@dataclass(frozen=True)
class Athlete:
    """What a director can set for an athlete.

    Attributes
    ----------
    athlete : str
        Code; it never changes.
    name : str
        As shown.
    position : str or None
        Where the athlete plays.
    born : date or None
        Date of birth.
    active : bool
        Whether the athlete is in the squad; False once they have left.
    squads : tuple of str
        Named squads, in order.
    """

    athlete: str
    name: str
    position: str | None = None
    born: date | None = None
    active: bool = True
    squads: tuple[str, ...] = ()


SET_BY_HAND = tuple(field.name for field in fields(Athlete) if field.name != "athlete")


def athletes_in_full(store: Store) -> list[Athlete]:
    """List all athletes by name, including those who have left."""
    with store.reading() as cursor:
        return _athletes(cursor)


def change_athletes(store: Store, changed: Sequence[Athlete], person: str) -> int:
    """Save changes to some athletes, all of them or none, and return how many changed.

    Raises
    ------
    BadInput
        If a code is unknown, a name is empty, or something is too long or not allowed.
    """
    checked = [_checked(each) for each in changed]
    with store.reading() as cursor:
        detail = _changes(cursor, checked)
    if not detail:
        return 0
    with store.writing(person, "change athletes", ", ".join(detail)) as cursor:
        wanted = _changes(cursor, checked)
        for each in checked:
            if each.athlete in wanted:
                _update(cursor, each)
    return len(wanted)


def add_athletes(store: Store, new: Sequence[Athlete], person: str) -> list[str]:
    """Add athletes and return their codes; a missing code is made from the name.

    Raises
    ------
    BadInput
        If there is nobody to add, a name is empty, given twice or already used, a code is
        taken, or something is too long or not allowed.
    """
    if not new:
        raise BadInput("There are no names. Type or paste them, a line for each athlete.")
    checked = [_checked(each) for each in new]
    with store.writing(person, "add athletes", f"{len(checked)}") as cursor:
        known = _athletes(cursor)
        _check_new(checked, known)
        taken = {each.athlete for each in known} | {each.athlete for each in checked}
        codes = []
        for each in checked:
            code = each.athlete or new_code(each.name, taken)
            taken.add(code)
            codes.append(code)
            cursor.execute("INSERT INTO athlete (athlete, name) VALUES (?, ?)", [code, each.name])
            values = {field: getattr(each, field) for field in SET_BY_HAND}
            _update(cursor, Athlete(code, **values))
    return codes


def _athletes(cursor: duckdb.DuckDBPyConnection) -> list[Athlete]:
    rows = cursor.execute(
        f"SELECT {', '.join(PARSERS)}, {squads_column('athlete')} FROM athlete "
        "ORDER BY name, athlete"
    ).fetchall()
    return [
        Athlete(code, name, position, born, active, tuple(squads or ()))
        for code, name, position, born, active, squads in rows
    ]


def _changes(cursor: duckdb.DuckDBPyConnection, wanted: Sequence[Athlete]) -> dict[str, None]:
    """Return the codes of the athletes who would change, in order."""
    known = {each.athlete: each for each in _athletes(cursor)}
    for each in wanted:
        if each.athlete not in known:
            raise BadInput(f"There is no athlete with the code '{each.athlete}'. Check the code.")
    return dict.fromkeys(each.athlete for each in wanted if known[each.athlete] != each)


def _update(cursor: duckdb.DuckDBPyConnection, athlete: Athlete) -> None:
    cursor.execute(
        "UPDATE athlete SET name = ?, position = ?, born = ?, active = ? WHERE athlete = ?",
        [athlete.name, athlete.position, athlete.born, athlete.active, athlete.athlete],
    )
    put_in_squads(cursor, "athlete", athlete.athlete, athlete.squads)


def _checked(athlete: Athlete) -> Athlete:
    """Return an athlete with its texts tidied for the store.

    Raises
    ------
    BadInput
        If something in it is not allowed.
    """
    name = " ".join(usual_order(athlete.name).split())
    if not name:
        raise BadInput("An athlete needs a name. Nothing was saved.")
    squads = tuple(sorted({" ".join(each.split()) for each in athlete.squads} - {""}))
    position = " ".join((athlete.position or "").split()) or None
    code = athlete.athlete.strip()
    try:
        for text in (name, position or "", *squads):
            PARSERS["name"](text)
        if code:
            athlete_code(code)
        if athlete.born is not None:
            PARSERS["born"](athlete.born.isoformat())
    except ValueError as error:
        raise BadInput(f"{name[:40]}: {error}. Nothing was saved.") from error
    return Athlete(code, name, position, athlete.born, athlete.active, squads)


def _check_new(new: Sequence[Athlete], known: Sequence[Athlete]) -> None:
    there = {plain(each.name): each for each in known}
    codes = {each.athlete for each in known}
    seen: set[str] = set()
    for each in new:
        if (other := there.get(plain(each.name))) is not None:
            has_left = "" if other.active else ", who has left: bring them back instead"
            raise BadInput(
                f"{each.name} is on the list already, with the code {other.athlete}{has_left}. "
                "Remove the name, or write it differently. Nothing was saved."
            )
        if plain(each.name) in seen:
            raise BadInput(
                f"{each.name} is there twice. Remove one, or write them differently. Nothing was "
                "saved."
            )
        if each.athlete and each.athlete in codes:
            raise BadInput(f"The code '{each.athlete}' is taken. Nothing was saved.")
        seen.add(plain(each.name))
