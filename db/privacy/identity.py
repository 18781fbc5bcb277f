"""Who an athlete is in a store, and where its texts name them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import duckdb

from db.errors import BadInput
from db.file.opening import quoted
from db.privacy.spellings import any_of
from db.roster.plain_letters import plain

# Texts of the program, not of people: words, settings of a fit, hashes and codes of measures.
_NEVER_NAMES = frozenset(
    "kind context goal call reach role better sha256 token_sha256 password_hash settings_json "
    "version column measure unit volume_unit exercise region joints load_unit plates action "
    "learned_json method basis quantity decision place against constant "
    "status effect key speed_kind bar why".split()
)
# Another person may have the same name, so these tables are left alone.
_OTHERS = frozenset({"person", "person_email", "schema_version"})
PLACES_OF_BACKUPS = "starts_with(key, 'backup')"
"""SQL condition of the settings that are folders of this machine and must stay as they are."""
_LETTER, _NO_LETTER = re.compile(r"[^\W\d_]"), re.compile(r"[\W\d_]")
_BETWEEN_WORDS = re.compile(r"[\W_]+")
NAMES_CODES = (
    "action IN ('save choice', 'add session', 'begin test', 'begin trial', 'make private link', "
    "'add lifted set', 'add person', 'change password', 'activate person', 'deactivate person', "
    "'change e-mail', 'remove e-mail', 'change role', 'set status', 'change athletes', "
    "'merge athletes', 'part athletes', 'invite person', 'take invitation')"
)
"""SQL condition of the audit rows that have codes and accounts in fixed places, not prose."""


@dataclass(frozen=True)
class Identity:
    """An athlete's code, name, accounts and e-mail addresses.

    Attributes
    ----------
    code, name : str
        As stored; the name is the code if none was given.
    accounts : tuple of str
        Sign-in names of the accounts that see this athlete's own page.
    emails : tuple of str
        Addresses of these accounts.
    shown : tuple of str
        Names shown for these accounts, if they differ from the athlete's.
    """

    code: str
    name: str
    accounts: tuple[str, ...]
    emails: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()

    @property
    def words(self) -> list[str]:
        """What names the athlete in a text beyond doubt, longest first.

        These are whole names, addresses, and codes of letters with something else. Digits alone
        are too common, and one word of letters, such as Will or May, may mean something else.
        """
        words = {self.code, self.name, *self.shown, *self.accounts, *self.emails}
        telling = [word for word in words if _has_letter(word) and _NO_LETTER.search(plain(word))]
        return sorted(telling, key=lambda word: (-len(word), word))

    @property
    def parts(self) -> list[str]:
        """What may mean the athlete in a text: the code and words of names, in plain letters."""
        mailboxes = [address.partition("@")[0] for address in self.emails]
        names = [self.name, *self.shown, *self.accounts, *mailboxes]
        parts = {part for name in names for part in _BETWEEN_WORDS.split(plain(name))}
        return sorted(part for part in parts | {plain(self.code)} if _has_letter(part))


def identity_of(root: duckdb.DuckDBPyConnection, code: str) -> Identity:
    """Return the identity of the athlete with a code.

    Raises
    ------
    BadInput
        If there is none.
    """
    row = root.execute("SELECT athlete, name FROM athlete WHERE athlete = ?", [code]).fetchone()
    if row is None:
        raise BadInput(f"There is no athlete with the code '{code}'. Check the code.")
    accounts = root.execute(
        "SELECT person, email, display_name FROM person LEFT JOIN person_email USING (person) "
        "WHERE athlete = ? ORDER BY person",
        [code],
    ).fetchall()
    return Identity(
        row[0],
        row[1],
        tuple(name for name, _, _ in accounts),
        tuple(email for _, email, _ in accounts if email),
        tuple(sorted({shown for _, _, shown in accounts} - {row[1]})),
    )


def text_columns(root: duckdb.DuckDBPyConnection) -> list[tuple[str, str]]:
    """List the text columns that may name somebody, with their tables."""
    rows = root.execute(
        "SELECT table_name, column_name FROM duckdb_columns() JOIN duckdb_tables() "
        "USING (database_name, table_name) WHERE database_name = current_database() "
        "AND data_type = 'VARCHAR' ORDER BY table_name, column_name"
    ).fetchall()
    return [
        (table, column)
        for table, column in rows
        if table not in _OTHERS
        and (table, column) != ("athlete", "name")
        and (column not in _NEVER_NAMES or (table, column) == ("set_aside_row", "measure"))
        and (column != "athlete" or table == "set_aside_row")
    ]


def naming(column: str, identity: Identity) -> str:
    """Return the SQL condition that a column names the athlete beyond doubt."""
    if column == "person":
        return _is_one_of(column, identity.accounts)
    named = [matches(f'"{column}"', whole_words(identity.words))]
    if column == "athlete":
        named.append(_is_one_of(column, (identity.code, identity.name)))
    if column == "detail":
        named.append(f"({NAMES_CODES} AND {matches('detail', _own_place(identity))})")
    return " OR ".join(named)


def without_names(column: str, identity: Identity, token: str) -> str:
    """Return an SQL expression of a column's text with a token in place of the athlete."""
    if column == "person":
        is_theirs = naming(column, identity)
        return f'CASE WHEN {is_theirs} THEN {_text(token)} ELSE "{column}" END'
    expression = replaced(f'"{column}"', whole_words(identity.words), token)
    if column == "detail":
        instead = replaced(expression, _own_place(identity), token)
        return f"CASE WHEN {NAMES_CODES} THEN {instead} ELSE {expression} END"
    return expression


def whole_words(texts: Sequence[str]) -> str:
    """Return a pattern of any of some texts as whole words, however written."""
    return rf"(^|[^\pL\pN])(?:{any_of(texts)})($|[^\pL\pN])"


def matches(expression: str, pattern: str) -> str:
    """Return the SQL condition that a pattern is found in a text."""
    return f"regexp_matches({expression}, {_text(pattern)})"


def replaced(expression: str, pattern: str, token: str) -> str:
    """Return an SQL expression that puts a token between the two ends of a pattern."""
    # Twice, because the character between two words is used up by the first match.
    for _ in range(2):
        put_in = _text(rf"\1{token}\2")
        expression = f"regexp_replace({expression}, {_text(pattern)}, {put_in}, 'g')"
    return expression


def _own_place(identity: Identity) -> str:
    """Return a pattern of code and accounts, even 7 or may, where nothing else can be."""
    return rf"(^|[ ,])(?:{any_of((identity.code, *identity.accounts))})($|[ ,])"


def _has_letter(word: str) -> bool:
    """Return whether to look for a word: it is longer than one letter, and not just a number."""
    return len(word) > 1 and _LETTER.search(word) is not None


def _is_one_of(column: str, texts: tuple[str, ...]) -> str:
    listed = ", ".join(f"lower({_text(text)})" for text in texts)
    return f'lower("{column}") IN ({listed})' if listed else "false"


def _text(value: str) -> str:
    return quoted(value, "'")
