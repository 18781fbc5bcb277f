"""Who an athlete is in a store, and where its texts name them."""

from __future__ import annotations

import re
from dataclasses import dataclass

import duckdb

from db.errors import BadInput
from db.migrations import quoted

# Texts of the program, not of people: words, settings of a fit, hashes and codes of measures.
_NEVER_NAMES = frozenset(
    "kind context goal call reach role better sha256 token_sha256 password_hash settings_json "
    "version column measure unit volume_unit exercise region joints load_unit plates action squad "
    "learned_json method basis quantity decision place against constant "
    "status effect".split()
)
# Rows of others: another person may bear the same name.
_ROWS_OF_OTHERS = frozenset({"athlete", "person", "person_email", "measure", "schema_version"})
_LETTER = re.compile(r"[^\W\d_]")


@dataclass(frozen=True)
class Identity:
    """An athlete's code, name, accounts and e-mail addresses.

    Attributes
    ----------
    code, name : str
        As stored; the name is the code where none was given.
    accounts : tuple of str
        Sign-in names of the accounts that see this athlete's own page.
    emails : tuple of str
        Addresses of these accounts.
    """

    code: str
    name: str
    accounts: tuple[str, ...]
    emails: tuple[str, ...] = ()

    @property
    def words(self) -> list[str]:
        """What names the athlete in a text.

        What has one character or digits only is too common to be looked for. Longest first.
        """
        words = {self.code, self.name, *self.accounts, *self.emails}
        telling = [word for word in words if len(word) > 1 and _LETTER.search(word)]
        return sorted(telling, key=lambda word: (-len(word), word))


def identity_of(root: duckdb.DuckDBPyConnection, code: str) -> Identity:
    """Give the identity of the athlete with a code.

    Raises
    ------
    BadInput
        If there is none.
    """
    row = root.execute("SELECT athlete, name FROM athlete WHERE athlete = ?", [code]).fetchone()
    if row is None:
        raise BadInput(f"There is no athlete with the code '{code}'. Check the code.")
    accounts = root.execute(
        "SELECT person, email FROM person LEFT JOIN person_email USING (person) "
        "WHERE athlete = ? ORDER BY person",
        [code],
    ).fetchall()
    names = tuple(name for name, _ in accounts)
    return Identity(row[0], row[1], names, tuple(email for _, email in accounts if email))


def text_columns(root: duckdb.DuckDBPyConnection) -> list[tuple[str, str]]:
    """List the tables and columns of texts that may name somebody: all but what never does."""
    rows = root.execute(
        "SELECT table_name, column_name FROM duckdb_columns() JOIN duckdb_tables() "
        "USING (database_name, table_name) WHERE database_name = current_database() "
        "AND data_type = 'VARCHAR' ORDER BY table_name, column_name"
    ).fetchall()
    return [
        (table, column)
        for table, column in rows
        if table not in _ROWS_OF_OTHERS
        and (column not in _NEVER_NAMES or (table, column) == ("set_aside_row", "measure"))
        and (column != "athlete" or table == "set_aside_row")
    ]


def naming(column: str, identity: Identity) -> str:
    """Give the condition, in SQL, that a column names the athlete."""
    if column == "person":
        return _is_one_of(column, identity.accounts)
    named = [
        f'regexp_matches("{column}", {_text(pattern)})' for pattern in _patterns(column, identity)
    ]
    if column == "athlete":
        named.append(_is_one_of(column, (identity.code, identity.name)))
    return " OR ".join(named) or "false"


def without_names(column: str, identity: Identity, token: str) -> str:
    """Give the text of a column, as an SQL expression, with a token in place of the athlete."""
    if column == "person":
        is_theirs = naming(column, identity)
        return f'CASE WHEN {is_theirs} THEN {_text(token)} ELSE "{column}" END'
    expression = f'"{column}"'
    put_in = _text(rf"\1{token}\2")
    for pattern in _patterns(column, identity):
        # Twice, as what parts two words belongs to the first one found.
        for _ in range(2):
            expression = f"regexp_replace({expression}, {_text(pattern)}, {put_in}, 'g')"
    return expression


def _patterns(column: str, identity: Identity) -> list[str]:
    patterns = [rf"(?i)(^|[^\pL\pN]){re.escape(word)}($|[^\pL\pN])" for word in identity.words]
    if column == "detail" and identity.code not in identity.words:
        # The audit writes the code first or last, so that even a number is known for one there.
        patterns += [rf"^(){re.escape(identity.code)}( )", rf"( ){re.escape(identity.code)}()$"]
    return patterns


def _is_one_of(column: str, texts: tuple[str, ...]) -> str:
    listed = ", ".join(f"lower({_text(text)})" for text in texts)
    return f'lower("{column}") IN ({listed})' if listed else "false"


def _text(value: str) -> str:
    return quoted(value, "'")
