"""Files within the size limits are refused if their rows cannot be used, and only then."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pytest

from db.file.store import Store
from db.imports import kept_mappings, parsed_rows, sampled_rows
from db.imports.kept_mappings import read_efforts, save_mapping
from db.imports.mapped_tables import mapped
from db.imports.mappings import ColumnMapping, Source
from db.imports.past_imports import set_aside_rows
from db.imports.row_checks import ImportCheck
from db.imports.storing import check_rows, import_efforts
from db.imports.unusable_files import UnusableFile
from db.tables.text_tables import RawTable
from tests.db import hostile_files as hostile
from tests.db.hostile_files import HEADER, WRONG, Maker

SAMPLED = "100 of 100 rows from all parts of the file"
SMALL: dict[str, tuple[Maker, str]] = {
    "one_cell_rows": (
        partial(hostile.one_cell_rows, 300),
        f"{SAMPLED}.*On line 2: the cell is emp",
    ),
    "equal_wrong_rows": (
        partial(hostile.equal_wrong_rows, 300),
        f"{SAMPLED}.*in the column measure .100 of 100.. On line 1: there is no measure 'nothing'",
    ),
    "equal_right_rows": (
        partial(hostile.equal_right_rows, 300),
        "99 of 100 rows .* column effort .* an earlier row has the same effort",
    ),
    "booleans": (partial(hostile.booleans, 300), f"{SAMPLED}.*'true' is not a time"),
    "times_of_day": (partial(hostile.times_of_day, 300), f"{SAMPLED}.*is not a time"),
    "moments": (partial(hostile.moments, 300), f"{SAMPLED}.*is not a number"),
    "dates": (partial(hostile.dates, 300), f"{SAMPLED}.*has no time of day"),
    "midnights": (partial(hostile.midnights, 300), "More than 150 rows.*has no time of day"),
    "wrong_numbers": (partial(hostile.wrong_numbers, 300), f"{SAMPLED}.*is outside"),
    "unknown_athletes": (partial(hostile.unknown_athletes, 300), f"{SAMPLED}.*no athlete '0'"),
    "wrong_lines": (partial(hostile.wrong_lines, 300), f"{SAMPLED}.*'0y' is not a time"),
    "wrong_after_right": (
        partial(hostile.wrong_after_right, 10, 290),
        "More than 150 rows.*not a time",
    ),
    "lines_ended_by_returns": (
        partial(hostile.lines_ended_by_returns, 300),
        f"{SAMPLED}.*'1' is not a time",
    ),
    "numbers_of_many_digits": (
        partial(hostile.numbers_of_many_digits, 300),
        f"{SAMPLED}.* has 197 characters; 100 are allowed",
    ),
    "numbers_in_doubt": (partial(hostile.numbers_in_doubt, 300), "More than 150 rows.*can be 1 or"),
}
NAMES = {make.__name__: f"x.{ending}" for ending, makers in WRONG.items() for make in makers}


@pytest.fixture(autouse=True)
def _small_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sampled_rows, "_RUN_ROWS", 10)
    monkeypatch.setattr(parsed_rows, "MOST_SET_ASIDE", 150)


def checked(store: Store, content: bytes, name: str = "x.csv", add: bool = True) -> ImportCheck:
    return check_rows(store, read_efforts(store, content, name), add)


def lines_of(efforts: range, value: object = 41.5) -> str:
    return "".join(
        f"\nA{effort // 100},2026-03-01T09:00,jump_height,{effort % 100 + 1},{value},fade"
        for effort in efforts
    )


def file_of(*rows: str) -> bytes:
    return (f"{HEADER},kind" + "".join(rows)).encode()


def test_every_file_of_wrong_rows_has_a_small_version_here() -> None:
    assert set(SMALL) == set(NAMES)


@pytest.mark.parametrize("file", list(SMALL))
def test_a_file_of_wrong_rows_is_refused_in_a_sentence(store: Store, file: str) -> None:
    make, said = SMALL[file]
    add = file not in ("unknown_athletes",)
    with pytest.raises(UnusableFile, match=said) as refusal:
        checked(store, make(), NAMES[file], add)
    assert refusal.value.message.endswith("Nothing was stored.")


def test_rows_set_aside_of_a_large_file_are_counted_up_to_the_limit(store: Store) -> None:
    right = [lines_of(range(900))]
    check = checked(store, file_of(*right, lines_of(range(900, 1050), "x")))
    assert (len(check.new), len(check.set_aside)) == (900, 150)
    with pytest.raises(UnusableFile, match="More than 150 rows, .*151 of 151.* line 902: 'x'"):
        checked(store, file_of(*right, lines_of(range(900, 1051), "x")))


def test_a_file_with_far_more_wrong_rows_than_are_set_aside_is_refused_by_the_sample(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = hostile.wrong_after_right(20, 280)
    monkeypatch.setattr(sampled_rows, "MOST_SET_ASIDE", 100)
    with pytest.raises(UnusableFile, match="90 of 100 rows from all parts of the file"):
        checked(store, content)


def test_a_refused_file_leaves_nothing_and_a_large_right_one_is_stored(store: Store) -> None:
    with pytest.raises(UnusableFile):
        table = read_efforts(store, file_of(lines_of(range(300), "x")), "x.csv")
        import_efforts(store, table, "tester", True)
    assert set_aside_rows(store).empty
    table = read_efforts(store, file_of(lines_of(range(300))), "x.csv")
    assert import_efforts(store, table, "tester", True).stored == 300
    assert import_efforts(store, table, "tester", True).known == 300


def test_numbers_that_the_rest_of_a_file_settles_are_not_refused(store: Store) -> None:
    """None of the rows looked at first shows which mark is the decimal one."""
    rows = lines_of(range(300), "41.5").splitlines()[1:]
    content = [row.replace("41.5", "40$125") for row in rows]
    content[15] = content[15].replace("40$125", "40$12")
    text = "\n".join([f"{HEADER},kind", *content]).replace(",", ";").replace("$", ",")
    assert len(checked(store, text.encode()).new) == 300


def test_midnights_that_another_row_shows_to_be_times_are_not_refused(store: Store) -> None:
    rows = lines_of(range(300)).replace("T09:00", "T00:00").splitlines()[1:]
    rows[15:20] = [row.replace("T00:00", "T10:00") for row in rows[15:20]]
    content = "\n".join([f"{HEADER},kind", *rows]).encode()
    assert len(checked(store, content).new) == 300


def test_a_sample_is_mapped_and_judged_before_the_whole_file(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = []

    def watched(table: RawTable, **said: Any) -> RawTable:
        rows.append(len(table.frame))
        return mapped(table, **said)

    monkeypatch.setattr(kept_mappings, "mapped", watched)
    plain = {name: Source(name) for name in HEADER.split(",")}
    beside = {name: plain[name] for name in ("athlete", "started_at", "measure")}
    save_mapping(store, "plain", ColumnMapping(plain), "tester")
    pair = ColumnMapping(beside | {"value": Source()}, ("effort", "value"))
    save_mapping(store, "beside", pair, "tester")
    content = file_of(lines_of(range(300), -1))
    for mapping in ("plain", "beside"):
        with pytest.raises(UnusableFile, match="1?[0-9]* of 100 rows from all parts of the file"):
            read_efforts(store, content, "x.csv", mapping=mapping)
    assert rows == [100, 50]


def test_a_refused_file_asks_for_what_could_be_stated(store: Store) -> None:
    for make, asked in ((hostile.dates, "clock"), (hostile.numbers_in_doubt, "decimal_mark")):
        with pytest.raises(UnusableFile) as refusal:
            checked(store, make(300), NAMES[make.__name__])
        assert refusal.value.asked == {asked}


def ending_after(steps: int) -> Callable[[float, str], None]:
    """A progress callback that stops the work after some steps, as a person does."""
    left = iter(range(steps))

    def heard(share: float, what: str) -> None:
        if next(left, None) is None:
            raise KeyboardInterrupt

    return heard


def test_judging_reports_its_progress_and_can_be_stopped_at_any_step(store: Store) -> None:
    table = read_efforts(store, file_of(lines_of(range(300))), "x.csv")
    told: list[str] = []
    check_rows(store, table, True, lambda _, what: told.append(what))
    assert len(told) > 20

    for stop in range(0, len(told), 7):
        with pytest.raises(KeyboardInterrupt):
            check_rows(store, table, True, ending_after(stop))
