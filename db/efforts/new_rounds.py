"""Begin live tests: what is stated about them, and whether it is allowed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

import duckdb

from db.efforts.live_tests import open_test_of
from db.efforts.rows import FACTS
from db.errors import BadInput
from db.file.frames import fetch_number
from db.file.store import Store
from db.roster.measures import measures_of
from db.roster.statuses import check_able
from db.tables.cells import CONTEXTS, KINDS, MAX_VOLUME, PARSERS

METHODS = ("value", "flight time", "distance and time")
MOST_IN_A_ROW = 20


@dataclass(frozen=True)
class Method:
    """How values are measured.

    Attributes
    ----------
    method : str
        One of `METHODS`.
    device : str
        In free words.
    distance_m : float or None
        For "distance and time", and only there.
    """

    method: str = "value"
    device: str = ""
    distance_m: float | None = None


@dataclass(frozen=True)
class StopRule:
    """A fade test is over after `in_a_row` efforts below `share` of the best so far."""

    share: float
    in_a_row: int


@dataclass(frozen=True)
class NewTest:
    """One athlete's part of a live test.

    Attributes
    ----------
    athlete : str
        Code.
    facts : mapping
        Any of `db.efforts.rows.FACTS`; `pain` must be stated, and False.
    most_efforts : int or None
        The test is over after this many efforts; None is no limit.
    reason : str
        Why it begins although a game is near or the week is full; empty if neither is the case.
    build_up_efforts : int or None
        Submaximal efforts before the first; None if nobody said.
    """

    athlete: str
    facts: Mapping[str, object] = field(default_factory=lambda: MappingProxyType({}))
    most_efforts: int | None = None
    reason: str = ""
    build_up_efforts: int | None = None


@dataclass(frozen=True)
class NewLiveTest:
    """Tests that are begun together and take turns.

    Attributes
    ----------
    measure : str
        Code.
    started_at : datetime
        Local wall time.
    tests : tuple of NewTest
        In the order of turns.
    kind, context : str
        fade or routine; training, game, test or lifting.
    first_volume : float
        Volume done before the first effort; 0 in a fade test.
    method : Method
        How values are measured.
    stop : StopRule
        Saved with the tests, so changing the setting does not change a running test.
    """

    measure: str
    started_at: datetime
    tests: tuple[NewTest, ...]
    method: Method
    stop: StopRule
    kind: str = "fade"
    context: str = "test"
    first_volume: float = 0.0


def begin_live_test(store: Store, new: NewLiveTest, person: str) -> int:
    """Begin the tests of a live test, all or none, and return its number.

    Raises
    ------
    BadInput
        If anything is not allowed, or an athlete is out, has pain, was not asked about pain, or
        has an open test of the measure.
    """
    _check(new)
    codes = ", ".join(one.athlete for one in new.tests)
    with store.writing(person, "begin test", f"{new.measure} {codes}") as cursor:
        if new.measure not in {measure.code for measure in measures_of(cursor)}:
            raise BadInput(f"There is no measure '{new.measure}'. Check the code.")
        live_test_id = fetch_number(cursor, "SELECT nextval('round_id_sequence')")
        for place, test in enumerate(new.tests, start=1):
            _check_athlete(cursor, test.athlete, new)
            _insert_test(cursor, new, test, (live_test_id, place, person))
    return live_test_id


def _check(new: NewLiveTest) -> None:
    if not new.tests:
        raise BadInput("No athlete was chosen. Choose at least one.")
    doubled = [one.athlete for one in new.tests]
    if len(set(doubled)) < len(doubled):
        raise BadInput("An athlete was chosen twice. Choose each once.")
    for what, word, allowed in (("kind", new.kind, KINDS), ("context", new.context, CONTEXTS)):
        if word not in allowed:
            raise BadInput(f"There is no {what} '{word}'. Choose among {', '.join(allowed)}.")
    if not 0 <= new.first_volume <= MAX_VOLUME:
        raise BadInput(
            f"The volume done before is {new.first_volume:g}; it must be 0 to {MAX_VOLUME:g}."
        )
    check_stop(new.stop)
    _check_method(new.method)


def check_stop(stop: StopRule) -> None:
    """Refuse a stop rule outside the allowed range."""
    if not (0.5 <= stop.share < 1 and 1 <= stop.in_a_row <= MOST_IN_A_ROW):
        raise BadInput(
            f"The stop rule says {stop.in_a_row} in a row below {100 * stop.share:g} %. Take 1 to "
            f"{MOST_IN_A_ROW} in a row, below 50 to 99 % of the best."
        )


def _check_method(method: Method) -> None:
    if method.method not in METHODS:
        raise BadInput(f"There is no method '{method.method}'. Take {', '.join(METHODS)}.")
    distance, needed = method.distance_m, method.method == "distance and time"
    if needed != (distance is not None) or not 0 < (distance or 1) < float("inf"):
        raise BadInput("Distance and time needs a distance in metres above 0, other methods none.")


def _check_athlete(cursor: duckdb.DuckDBPyConnection, athlete: str, new: NewLiveTest) -> None:
    known = "SELECT count(*) FROM athlete WHERE athlete = ?"
    if not fetch_number(cursor, known, [athlete]):
        raise BadInput(f"There is no athlete '{athlete}'. Check the code.")
    check_able(cursor, athlete)
    found = open_test_of(cursor, athlete, new.measure)
    if found is not None:
        raise BadInput(
            f"{found[0]} has an open test of {new.measure}, begun by {found[1]}. Go on with it, or "
            "end it first."
        )
    there = "SELECT count(*) FROM session WHERE athlete = ? AND measure = ? AND started_at = ?"
    if fetch_number(cursor, there, [athlete, new.measure, new.started_at]):
        raise BadInput(f"{athlete} has a session of {new.measure} at this time already.")


def _insert_test(
    cursor: duckdb.DuckDBPyConnection, new: NewLiveTest, test: NewTest, turn: tuple[int, int, str]
) -> None:
    facts = _checked_facts(test)
    session = {
        "athlete": test.athlete,
        "measure": new.measure,
        "started_at": new.started_at,
        "kind": new.kind,
        "context": new.context,
        **facts,
    }
    session_id = fetch_number(
        cursor,
        f"INSERT INTO session ({', '.join(session)}) "
        f"VALUES ({', '.join('?' for _ in session)}) RETURNING session_id",
        list(session.values()),
    )
    cursor.execute(
        "INSERT INTO test_run (session_id, round_id, place, person, first_volume, stop_share, "
        "stop_in_a_row) VALUES (?, ?, ?, ?, ?, ?, ?)",
        [session_id, *turn, new.first_volume, new.stop.share, new.stop.in_a_row],
    )
    cursor.execute(
        "INSERT INTO session_method (session_id, method, device, distance_m) VALUES (?, ?, ?, ?)",
        [session_id, new.method.method, new.method.device.strip(), new.method.distance_m],
    )
    cursor.execute(
        "INSERT INTO test_limit (session_id, most_efforts, reason, build_up_efforts) "
        "VALUES (?, ?, ?, ?)",
        [session_id, test.most_efforts, test.reason.strip(), test.build_up_efforts],
    )


def _checked_facts(test: NewTest) -> dict[str, object]:
    """Return the stated facts, read as a file's cells would be; no pain must be among them."""
    stated = {name: fact for name, fact in test.facts.items() if fact not in (None, "")}
    unknown = sorted(set(stated) - set(FACTS))
    if unknown:
        raise BadInput(
            f"There is no session fact {', '.join(unknown)}. The facts are {', '.join(FACTS)}."
        )
    if stated.get("pain") is not False:
        raise BadInput(
            f"A test of maximal efforts needs an athlete without pain; of {test.athlete} that was "
            "not confirmed. With pain there is no test: see the medical staff and follow your "
            "local rules."
        )
    try:
        return {name: PARSERS[name](str(fact)) for name, fact in stated.items()}
    except ValueError as error:
        raise BadInput(f"The test of {test.athlete} cannot begin: {error}.") from error
