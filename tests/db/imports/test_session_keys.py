"""Sessions at the same wall time are two if their offsets from UTC differ."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from datetime import datetime, timedelta, timezone

import pytest

from db.efforts.rows import efforts, sessions
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.file.checks import check
from db.file.store import Store
from db.fits.exports import export_frame
from db.imports.corrections import correctable_rows, store_corrected
from db.imports.past_imports import set_aside_rows
from db.imports.storing import ImportReport, import_efforts
from tests.db.conftest import HEADER, dump, table_of

SUMMER, WINTER, NONE = "2026-10-25T02:30+02:00", "2026-10-25T02:30+01:00", "2026-10-25T02:30"
Bring = Callable[..., ImportReport]


def row(start: str, effort: int = 1, value: float = 40, athlete: str = "A1") -> str:
    return f"{athlete},{start},jump_height,{effort},{value},{effort - 1}"


NIGHT = [row(SUMMER), row(SUMMER, 2, 41), row(WINTER, 1, 38), row(WINTER, 2, 39)]


def offsets(store: Store) -> list[tuple[int | None, int, list[float]]]:
    """The offset, the turn and the values of each session of A1."""
    with store.reading() as cursor:
        return cursor.execute(
            "SELECT any_value(utc_offset_minutes), any_value(turn), list(value ORDER BY effort) "
            "FROM session JOIN effort USING (session_id) WHERE athlete = 'A1' "
            "GROUP BY session_id ORDER BY session_id"
        ).fetchall()


BOTH = [(120, 1, [40, 41]), (60, 2, [38, 39])]


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_an_hour_that_occurs_twice_has_two_sessions(
    store: Store, bring: Bring, order: tuple[int, ...]
) -> None:
    report = bring(*(NIGHT[place] for place in order))
    assert (report.stored, report.set_aside, report.sessions) == (4, 0, 2)
    assert sorted(session[::2] for session in offsets(store)) == [
        (60, [38, 39]),
        (120, [40, 41]),
    ]
    assert [turn for _, turn, _ in offsets(store)] == [1, 2]
    assert check(store) == []
    before = dump(store)
    again = bring(*(NIGHT[place] for place in order))
    assert (again.stored, again.known, again.set_aside) == (0, 4, 0)
    assert dump(store) == before


@pytest.mark.parametrize(
    ("first", "then"),
    [(NIGHT[:2], NIGHT[2:]), (NIGHT[::2], NIGHT[1::2]), (NIGHT[:3], NIGHT[3:]), (NIGHT[:2], NIGHT)],
)
def test_separate_files_give_the_same_two_sessions(
    store: Store, bring: Bring, first: list[str], then: list[str]
) -> None:
    assert bring(*first).set_aside == 0
    assert bring(*then).set_aside == 0
    assert offsets(store) == BOTH


def test_a_value_that_contradicts_its_own_session_is_still_set_aside(
    store: Store, bring: Bring
) -> None:
    bring(*NIGHT)
    report = bring(row(SUMMER, 1, 38), row(WINTER, 1, 40))
    assert (report.stored, report.known, report.set_aside) == (0, 0, 2)


def test_each_session_has_its_own_facts(store: Store, bring: Bring) -> None:
    header = f"{HEADER},note,rest_minutes"
    bring(f"{NIGHT[0]},first,", f"{NIGHT[2]},second,", header=header)
    report = bring(f"{NIGHT[0]},,5", f"{NIGHT[2]},,7", header=header)
    assert (report.known, report.filled_sessions) == (2, 2)
    facts = sessions(store).sort_values("session_id")
    assert facts["note"].tolist() == ["first", "second"]
    assert facts["rest_minutes"].tolist() == [5, 7]


def test_a_row_without_an_offset_belongs_to_the_only_session(store: Store, bring: Bring) -> None:
    bring(row(SUMMER))
    assert bring(row(NONE), row(NONE, 2, 41)).set_aside == 0
    assert offsets(store) == [(120, 1, [40, 41])]


def test_a_session_without_an_offset_gets_the_first_one_given(store: Store, bring: Bring) -> None:
    bring(row(NONE))
    assert bring(row(WINTER, 2, 41)).filled_sessions == 1
    assert offsets(store) == [(60, 1, [40, 41])]
    bring(row(SUMMER, 1, 38))
    assert offsets(store) == [(60, 1, [40, 41]), (120, 2, [38])]


@pytest.mark.parametrize(
    ("before", "rows", "stored"),
    [
        (NIGHT, [row(NONE, 3)], 0),
        ([], [*NIGHT, row(NONE, 3)], 4),
        (NIGHT[:2], [row(WINTER), row(NONE, 3)], 1),
    ],
    ids=["stored", "in the file", "one of each"],
)
def test_a_row_without_an_offset_that_could_belong_to_either_is_set_aside(
    store: Store, bring: Bring, before: list[str], rows: list[str], stored: int
) -> None:
    if before:
        bring(*before)
    report = bring(*rows)
    assert (report.stored, report.set_aside) == (stored, 1)
    (aside,) = set_aside_rows(store, report.batch_id).to_dict("records")
    assert (aside["column"], aside["effort"]) == ("started_at", "3")
    assert "different offsets from UTC start at this time; write the offset" in aside["reason"]
    corrected = correctable_rows(store).assign(started_at=WINTER)
    assert store_corrected(store, corrected, "coach")[0].stored == 1


def test_two_offsets_do_not_share_a_session_without_one(store: Store, bring: Bring) -> None:
    bring(row(NONE))
    report = bring(row(SUMMER, 2), row(WINTER, 2))
    assert (report.stored, report.set_aside) == (0, 2)
    reasons = set_aside_rows(store, report.batch_id)["reason"]
    assert reasons.str.contains("without an offset from UTC, and the file has two").all()
    bring(row(SUMMER, 2))
    assert bring(row(SUMMER, 2), row(WINTER, 2)).set_aside == 0
    assert offsets(store) == [(120, 1, [40, 40]), (60, 2, [40])]


def test_other_sessions_in_the_same_file_are_not_changed(store: Store, bring: Bring) -> None:
    bring(row(NONE, athlete="A2"))
    ordinary = [row("2026-10-24T09:00"), row("2026-10-24T09:00", 2), row(NONE, 2, 40, "A2")]
    report = bring(*NIGHT, *ordinary, row("x"))
    assert (report.stored, report.set_aside, report.sessions) == (7, 1, 4)
    assert len(efforts(store, "jump_height")) == 8
    assert check(store) == []


def test_three_offsets_are_three_sessions(store: Store, bring: Bring) -> None:
    bring(row(SUMMER), row(WINTER), row("2026-10-25T02:30Z"))
    assert [session[:2] for session in offsets(store)] == [(120, 1), (60, 2), (0, 3)]


def test_exported_sessions_are_read_back_as_they_were(store: Store, bring: Bring) -> None:
    bring(*NIGHT)
    exported = export_frame(store, "efforts")
    assert exported["started_at"].str.slice(-6).tolist() == ["+02:00"] * 2 + ["+01:00"] * 2
    assert exported["effort"].tolist() == [1, 2, 1, 2]
    content = io.StringIO()
    exported.to_csv(content, index=False)
    header, *rows = content.getvalue().splitlines()
    before = dump(store)
    assert import_efforts(store, table_of(rows, header), "tester").known == 4
    assert {name: dump(store)[name] for name in ("session", "effort")} == {
        name: before[name] for name in ("session", "effort")
    }


def test_sessions_that_are_typed_in_are_told_apart_too(store: Store) -> None:
    numbers = [
        add_session(
            store,
            SessionEntry(
                "A1",
                "jump_height",
                datetime(2026, 10, 25, 2, 30, tzinfo=timezone(timedelta(hours=hours))),
                (EffortEntry(1, 40.0, 0.0),),
            ),
            "tester",
        )
        for hours in (2, 1, 2)
    ]
    assert numbers == [1, 2, 1]


def test_the_check_finds_a_session_that_is_there_twice(store: Store, bring: Bring) -> None:
    bring(*NIGHT)
    with store.writing("tester", "spoil") as cursor:
        cursor.execute("UPDATE session SET utc_offset_minutes = 120")
    assert any("more than once with the same measure and start" in fault for fault in check(store))
