"""Texts about others that may mention an athlete, to keep or clear when the athlete is erased.

Part of a name may be an ordinary word, so people decide about each text.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import duckdb

from db.errors import BadInput
from db.file.opening import quoted
from db.file.relations import with_dependants
from db.file.store import Store
from db.privacy.identity import (
    NAMES_CODES,
    PLACES_OF_BACKUPS,
    Identity,
    identity_of,
    matches,
    naming,
    replaced,
    text_columns,
    whole_words,
    without_names,
)
from db.privacy.spellings import spelling
from db.roster.plain_letters import plain

CLEARED = "(cleared)"
"""What replaces a text that was cleared."""
PROSE = frozenset(
    {
        ("athlete", "position"),
        ("athlete_status", "reason"),
        ("effort", "excluded"),
        ("effort_change", "new_excluded"),
        ("effort_change", "old_excluded"),
        ("effort_change", "reason"),
        ("finding_decision", "reason"),
        ("plan", "reason"),
        ("session", "note"),
        ("session_method", "device"),
        ("session_plan", "note"),
        ("taken_back_effort", "excluded"),
        ("taken_back_import", "reason"),
        ("test_limit", "reason"),
        ("test_run", "ended_because"),
    }
)
"""Free text, which is cleared as a whole; elsewhere only words that may name somebody go."""
SET_ASIDE, AS_ONE = "set_aside_row", "row_text"
"""A row that was set aside counts as one text, whichever of its cells may name somebody."""
NO_TEXTS = frozenset(
    {"person", "ended_by", "made_by", "other_athlete", "row_key", "fact", "data_basis"}
)
"""Columns of codes, accounts and words of the program."""
_OWNERS = {
    "athlete": "t.athlete",
    "session_id": "(SELECT s.athlete FROM session s WHERE s.session_id = t.session_id)",
    "effort_id": "(SELECT d.athlete FROM effort_detail d WHERE d.effort_id = t.effort_id)",
    "finding_id": "(SELECT f.athlete FROM finding f WHERE f.finding_id = t.finding_id)",
}


@dataclass(frozen=True)
class Place:
    """Where a text is.

    Attributes
    ----------
    table, column : str
        In the store.
    rows : int
        In how many rows.
    athletes : tuple of str
        Codes of the athletes whose rows these are; empty if they are nobody's.
    """

    table: str
    column: str
    rows: int
    athletes: tuple[str, ...]


@dataclass(frozen=True)
class Mention:
    """A text that may mention an athlete.

    Attributes
    ----------
    key : str
        Identifies the text, the same each time.
    text : str
        The text.
    words : tuple of str
        What in it may mean the athlete, in plain letters.
    places : tuple of Place
        Where it is.
    """

    key: str
    text: str
    words: tuple[str, ...]
    places: tuple[Place, ...]


def mentions(store: Store, code: str) -> list[Mention]:
    """List the texts in rows of others that may mention an athlete, in order of the texts.

    Raises
    ------
    BadInput
        If there is no such athlete.
    """
    with store.reading() as cursor:
        identity = identity_of(cursor, code)
        own = with_dependants(cursor, {"athlete": f"athlete = {_text(identity.code)}"})
        return mentions_of(cursor, identity, own)


def mentions_of(
    root: duckdb.DuckDBPyConnection, identity: Identity, own: Mapping[str, str]
) -> list[Mention]:
    """List the same for an open store.

    Parameters
    ----------
    root : DuckDBPyConnection
        The store.
    identity : Identity
        Whom they may mention.
    own : mapping of str to str
        For each table, the SQL condition of the rows that go with the athlete.
    """
    looked_for = [*identity.words, *identity.parts, identity.code]
    # Materialised, or the pattern would be prepared again for each of the many tables.
    rows = root.execute(
        f"WITH texts AS MATERIALIZED ({_texts(root, identity, own)}) "
        f"SELECT * FROM texts WHERE {matches('searched', whole_words(looked_for))} ORDER BY ALL"
    ).fetchall()
    words: dict[str, set[str]] = {}
    places: dict[str, dict[tuple[str, str], list[str | None]]] = {}
    for text, table, column, searched, athlete in rows:
        found = _words_in(searched, identity, prose=(table, column) in PROSE)
        if found:
            words.setdefault(text, set()).update(found)
            places.setdefault(text, {}).setdefault((table, column), []).append(athlete)
    return [
        Mention(
            _key(text),
            text,
            tuple(sorted(found)),
            tuple(
                Place(table, column, len(whose), tuple(sorted({one for one in whose if one})))
                for (table, column), whose in places[text].items()
            ),
        )
        for text, found in words.items()
    ]


def _words_in(text: str, identity: Identity, prose: bool) -> set[str]:
    """Return the words of a text that may mean the athlete.

    Outside prose, names beyond doubt are left out, as they are replaced anyway. A number does not
    count as a code there.
    """
    if not prose:
        text = spelling(tuple(identity.words)).sub(" ", text)
    looked_for = [*identity.words, identity.code] if prose else []
    looked_for += identity.parts
    return {plain(word) for word in looked_for if spelling((word,)).search(text)}


def clearing(
    chosen: Collection[str], known: Collection[Mention], identity: Identity, token: str
) -> dict[tuple[str, str], tuple[str, str]]:
    """Return what replaces the texts that are cleared.

    Parameters
    ----------
    chosen : collection of str
        Keys of the texts.
    known : collection of Mention
        All texts that may mention the athlete.
    identity : Identity
        The athlete.
    token : str
        What is written in place of the athlete.

    Returns
    -------
    dict of tuple of str to tuple of str
        For each table and column, in SQL: which rows have such a text, and what they say then.

    Raises
    ------
    BadInput
        If a key belongs to none of the texts.
    """
    by_key = {mention.key: mention for mention in known}
    if unknown := sorted(set(chosen) - set(by_key)):
        raise BadInput(
            f"No text that may mention the athlete has the key {unknown[0]}. Nothing was erased. "
            "Look at the texts again: they may have changed meanwhile."
        )
    texts: dict[tuple[str, str], list[str]] = {}
    for mention in (by_key[key] for key in sorted(set(chosen))):
        for place in mention.places:
            texts.setdefault((place.table, place.column), []).append(_text(mention.text))
    return {
        (table, column): (
            f'"{column}" IN ({", ".join(among)})',
            _cleared((table, column), identity, token),
        )
        for (table, column), among in texts.items()
    }


def _cleared(column: tuple[str, str], identity: Identity, token: str) -> str:
    if column in PROSE:
        return _text(CLEARED)
    named = without_names(column[1], identity, token)
    return replaced(named, whole_words(identity.parts), token)


def _texts(root: duckdb.DuckDBPyConnection, identity: Identity, own: Mapping[str, str]) -> str:
    """Return the query of all texts that stay when the athlete goes, and whose rows they are."""
    columns: dict[str, list[str]] = {}
    for table, column in text_columns(root):
        columns.setdefault(table, []).append(column)
    named = [naming(column, identity) for column in columns[SET_ASIDE]]
    gone = dict(own) | {
        SET_ASIDE: " OR ".join(named),
        "audit": NAMES_CODES,
        "setting": PLACES_OF_BACKUPS,
    }
    owners = _owners(root)
    return " UNION ALL ".join(
        f"SELECT t.\"{column}\" AS text, '{table}' AS table_name, '{column}' AS column_name, "
        f"{_searched(table, column, columns)} AS searched, "
        f"{owners.get(table, 'NULL::VARCHAR')} AS athlete "
        f'FROM (SELECT * FROM "{table}" WHERE NOT coalesce({gone.get(table, "false")}, false)) t'
        for table, of_table in columns.items()
        for column in of_table
        if column not in NO_TEXTS and (table != SET_ASIDE or column == AS_ONE)
    )


def _searched(table: str, column: str, columns: Mapping[str, Sequence[str]]) -> str:
    if table != SET_ASIDE:
        return f't."{column}"'
    return f"concat_ws(chr(10), {', '.join(columns[SET_ASIDE])})"


def _owners(root: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Return, for each table, whose row a row is, in SQL."""
    rows = root.execute(
        "SELECT table_name, column_name FROM duckdb_columns() "
        "WHERE database_name = current_database()"
    ).fetchall()
    there = set(rows)
    return {
        table: owner
        for table, _ in rows
        for key, owner in reversed(_OWNERS.items())
        if (table, key) in there
    }


def _key(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def _text(value: str) -> str:
    return quoted(value, "'")
