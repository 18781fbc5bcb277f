"""The store as seen by people who may not see every athlete."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import duckdb

from db.errors import BadInput
from db.file import migrations
from db.file.store import Store
from db.people.accounts import Person, list_people

OPEN = frozenset(
    {
        "account_constant",
        "advice_base",
        "data_check",
        "exercise",
        "fit_learned",
        "game",
        "game_course",
        "game_prevention",
        "game_start",
        "game_wave",
        "latest_squad_curve",
        "level_effect",
        "mapping",
        "measure",
        "measure_protocol",
        "routine_volume",
        "schema_version",
        "setting",
        "squad_curve_point",
        "squad_worth",
    }
)
"""What everybody signed in may read: nothing in these is about one athlete."""
FITS = frozenset({"fit", "latest_fit"})
SET_ASIDE = frozenset({"set_aside_row", "set_aside_detail"})
HIDDEN = frozenset({"person"})


@dataclass(frozen=True)
class Sight:
    """Whose rows somebody may see.

    Attributes
    ----------
    person : str
        Sign-in name.
    athlete : str or None
        The one athlete an athlete's account sees; None for a coach.
    squads : tuple of str
        The squads whose athletes a coach sees; without any, nobody.
    """

    person: str
    athlete: str | None
    squads: tuple[str, ...]

    def athletes(self, catalog: str) -> str:
        """Return the condition that picks the rows of the athletes in sight."""
        if self.athlete is not None:
            return f"athlete = {_text(self.athlete)}"
        if not self.squads:
            return "false"
        names = ", ".join(map(_text, self.squads))
        return f"athlete IN (SELECT athlete FROM {catalog}.athlete_squad WHERE squad IN ({names}))"


def sight_of(person: Person) -> Sight | None:
    """Return whose rows a person may see; None for everybody's.

    Raises
    ------
    ValueError
        If an athlete's account names no athlete.
    """
    if person.role == "athlete":
        if not person.athlete:
            raise ValueError("An athlete's account names no athlete.")
        return Sight(person.person, person.athlete, ())
    if person.limited:
        return Sight(person.person, None, person.squads)
    return None


def in_sight(store: Store, sight: Sight | None) -> Store:
    """Return the store limited to the rows in sight; None means everybody's."""
    return store if sight is None else LimitedStore(store.path, sight, store.wait_seconds)


def whole(store: Store) -> Store:
    """Return the store with everybody's rows, for answers about a squad that name no athlete."""
    return Store(store.path, store.wait_seconds) if isinstance(store, LimitedStore) else store


def seen_by(store: Store, athlete: str) -> list[Person]:
    """List the active directors and coaches who may see an athlete, by sign-in name."""
    with store.reading() as cursor:
        rows = cursor.execute("SELECT squad FROM athlete_squad WHERE athlete = ?", [athlete])
        squads = {squad for (squad,) in rows.fetchall()}
    return [
        person
        for person in list_people(store)
        if person.active
        and person.role != "athlete"
        and ((sight := sight_of(person)) is None or squads & {*sight.squads})
    ]


class LimitedStore(Store):
    """The store without the rows of athletes out of sight, whatever the query.

    Each unit of work puts temporary views in front of the store's tables, under the same names,
    so no query has to think of it: rows of other athletes are not there, counts leave them out,
    and a code out of sight is unknown. Of the imports, only the person's own are there. A table
    that points at no athlete or import and is not listed as open is empty.

    A write sees only the athletes in sight, and the store's views limited in the same way, but
    it writes to the tables themselves. It cannot add athletes, because that would reveal a code
    that exists out of sight.

    Parameters
    ----------
    path : Path or str
        The file.
    sight : Sight
        Whose rows are there.
    wait_seconds : float
        As for `Store`.
    """

    def __init__(self, path: Path | str, sight: Sight, wait_seconds: float = 15.0) -> None:
        super().__init__(path, wait_seconds)
        self.sight = sight

    def _reader(self) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        """Return a cursor that sees only the rows in sight."""
        return self._file.ready_cursor(
            self._wait(), self.sight, partial(_cover, sight=self.sight, writing=False)
        )

    @contextmanager
    def writing(
        self, person: str, action: str, detail: str = ""
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        """Yield a cursor that writes as `Store.writing` does, but knows only athletes in sight."""
        with super().writing(person, action, detail) as cursor:
            _cover(cursor, self.sight, writing=True)
            yield cursor

    @contextmanager
    def alone(self) -> Iterator[duckdb.DuckDBPyConnection]:
        """Refuse: only people who see everything may copy everything."""
        raise BadInput("This account does not see the whole store, so it cannot copy it.")
        yield


def _cover(cursor: duckdb.DuckDBPyConnection, sight: Sight, writing: bool) -> None:
    """Put temporary views in front of the tables or views with rows out of sight.

    Reading covers the tables. DuckDB looks up the tables of a view through the same search path,
    so the store's views are limited too. Writing covers those views and the table of athletes.
    """
    covered = [
        relation
        for relation in _relations(cursor)
        if relation.name not in OPEN
        and ((relation.is_view or relation.name == "athlete") if writing else not relation.is_view)
    ]
    database = cursor.execute("SELECT current_database()").fetchall()[0][0].replace('"', '""')
    catalog = f'"{database}".main'
    cursor.execute(
        "; ".join(
            f"CREATE TEMP VIEW {each.name} AS {_visible(each, sight, catalog)}" for each in covered
        )
    )


@dataclass(frozen=True)
class _Relation:
    name: str
    is_view: bool
    columns: frozenset[str]


_known_relations: dict[int, list[_Relation]] = {}


def _relations(cursor: duckdb.DuckDBPyConnection) -> list[_Relation]:
    """List the tables and views of this version's schema; every open store has it."""
    version = migrations.newest()
    if version not in _known_relations:
        rows = cursor.execute(
            "SELECT table_name, table_name IN (SELECT view_name FROM duckdb_views()), "
            "list(column_name) FROM duckdb_columns() WHERE NOT internal "
            "AND database_name = current_database() AND schema_name = 'main' GROUP BY 1"
        ).fetchall()
        _known_relations[version] = [
            _Relation(name, is_view, frozenset(columns)) for name, is_view, columns in rows
        ]
    return _known_relations[version]


def _visible(relation: _Relation, sight: Sight, catalog: str) -> str:
    """Return the query for the rows in sight of a table or view."""
    name, columns = relation.name, relation.columns
    athletes, whole = sight.athletes(catalog), f"SELECT * FROM {catalog}.{name}"
    if name in FITS:
        return _visible_fits(name, athletes, catalog)
    if name in HIDDEN:
        return f"{whole} WHERE false"
    if "other_athlete" in columns:
        return f"{whole} WHERE {_both(athletes, catalog)}"
    if "finding_id" in columns:
        findings = f"SELECT finding_id FROM {catalog}.finding WHERE {_both(athletes, catalog)}"
        return f"{whole} WHERE finding_id IN ({findings})"
    if "trial_id" in columns and "athlete" not in columns:
        trials = f"SELECT trial_id FROM {catalog}.trial WHERE {athletes}"
        return f"{whole} WHERE trial_id IN ({trials})"
    if "session_plan_id" in columns:
        # A plan for nobody in particular is for every coach.
        own = athletes if sight.athlete else f"athlete IS NULL OR {athletes}"
        plans = f"SELECT session_plan_id FROM {catalog}.session_plan WHERE {own}"
        return f"{whole} WHERE session_plan_id IN ({plans})"
    if "athlete" in columns and name not in SET_ASIDE:
        return f"{whole} WHERE {athletes}"
    if "session_id" in columns:
        sessions = f"SELECT session_id FROM {catalog}.session WHERE {athletes}"
        return f"{whole} WHERE session_id IN ({sessions})"
    if "effort_id" in columns:
        efforts = f"SELECT effort_id FROM {catalog}.effort_detail WHERE {athletes}"
        return f"{whole} WHERE effort_id IN ({efforts})"
    if "batch_id" in columns:
        own = f"SELECT batch_id FROM {catalog}.import_batch WHERE person = {_text(sight.person)}"
        return f"{whole} WHERE batch_id IN ({own})"
    return f"{whole} WHERE false"


def _both(athletes: str, catalog: str) -> str:
    """Return the condition for rows whose athletes, one or two, are all in sight.

    A row without an athlete is about everybody, so only people who see everybody get it.
    """
    other = f"other_athlete IN (SELECT athlete FROM {catalog}.athlete WHERE {athletes})"
    return f"{athletes} AND (other_athlete IS NULL OR {other})"


def _visible_fits(name: str, athletes: str, catalog: str) -> str:
    """Return the query for fits that count only the athletes in sight, without warnings."""
    counted = (
        "SELECT fit_id, count(*) FILTER (sessions > 0) AS athletes, sum(sessions) AS sessions, "
        f"sum(efforts) AS efforts FROM {catalog}.response WHERE {athletes} GROUP BY fit_id"
    )
    counts = ", ".join(
        f"coalesce(n.{what}, 0)::INTEGER AS {what}" for what in ("athletes", "sessions", "efforts")
    )
    return (
        f"SELECT f.* REPLACE ({counts}, '' AS warnings) FROM {catalog}.{name} f "
        f"LEFT JOIN ({counted}) n ON n.fit_id = f.fit_id"
    )


def _text(value: str) -> str:
    quoted = value.replace("'", "''")
    return f"'{quoted}'"
