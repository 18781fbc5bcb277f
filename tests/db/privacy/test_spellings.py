"""One word in all the ways people write it."""

from __future__ import annotations

import unicodedata

import duckdb

from db.privacy.identity import matches, replaced, whole_words
from db.privacy.spellings import spelling
from db.roster.plain_letters import plain

SAME = [
    ("Åsa", ["asa", "ÅSA", "Asa", unicodedata.normalize("NFD", "Åsa")]),
    ("Asa", ["Åsa", "ása", unicodedata.normalize("NFD", "ÂSA")]),
    ("Søren", ["Soren", "SØREN", "sörén"]),
    ("Strauß", ["Strauss", "STRAUẞ", "STRAUSS"]),
    ("Strauss", ["strauß"]),
    ("Þór", ["thor", "ÞÓR"]),
    ("Łukasz", ["Lukasz", "łukasz"]),
    ("Στέλιος", ["ΣΤΕΛΙΟΣ", "στελιος"]),
    ("Артём", ["артем", "АРТЁМ"]),
    ("O'Brien", ["o'brien"]),
    ("a.b+c@club.example", ["A.B+C@club.example"]),
]


def test_a_word_is_found_however_it_is_written() -> None:
    around = ["{}", "with {}, today", "({})", "{}'s", "jumps_{}_march.csv", "1. {}"]
    apart = ["x{}", "{}x", "7{}", "{}7"]
    for word, others in SAME:
        written = [word, *others]
        there = [text.format(one) for one in written for text in around]
        not_there = [text.format(one) for one in written for text in apart]
        assert _found(word, [*there, *not_there]) == there


def _found(word: str, texts: list[str]) -> list[str]:
    """Find a word with DuckDB and with Python, and check that they agree."""
    condition = matches("said", whole_words([word] if word else []))
    with duckdb.connect() as root:
        rows = root.execute(
            f"SELECT said FROM (SELECT unnest(?) AS said) WHERE {condition}", [texts]
        ).fetchall()
    by_python = [text for text in texts if spelling((word,) if word else ()).search(text)]
    assert [said for (said,) in rows] == by_python
    return by_python


def test_no_words_find_nothing_and_several_words_are_all_replaced() -> None:
    assert _found("", ["", "bo"]) == []
    with duckdb.connect() as root:
        for words, said in (([], "bo and åsa"), (["Bo", "Asa"], "X and X")):
            text = replaced("said", whole_words(words), "X")
            query = f"SELECT {text} FROM (SELECT 'bo and åsa' AS said)"
            assert root.execute(query).fetchone() == (said,)


def test_plain_letters() -> None:
    assert [plain(word) for word in ("Ærø", "Đorđe", "Ñandú")] == ["aero", "dorde", "nandu"]
