"""Efforts for research: nobody is named, and reading them back gives the same fit."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard import OpenPackage, open_package
from dashboard.app.command_line import application
from dashboard.fits.fitting import model_rows
from db.efforts.effort_changes import exclude_effort
from db.efforts.rows import efforts, observations
from db.errors import BadInput, StoreDamaged
from db.file.store import Store
from db.fits.exports import export_frame
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.privacy.anonymity import anonymity
from db.privacy.open_package import MOST_DAYS, write_open_package
from db.roster.athletes import list_athletes
from db.roster.measures import get_measure
from modeling import ResponseModel
from tests.dashboard import artificial
from tests.dashboard.conftest import add_routine_sessions
from tests.dashboard.full_store import full_store

MEASURE = "jump_height"


@pytest.fixture
def store(unfitted_store: Store) -> Store:
    """Efforts, one of them not used, in sessions some of which have circumstances."""
    with unfitted_store.kept_open():
        add_routine_sessions(unfitted_store)
        told = (
            "athlete,started_at,measure,effort,value,volume_before,rest_minutes,freshness,note,pain,"
            "effort_rest_seconds"
            "\nA1,2026-03-20T10:00+01:00,jump_height,1,39,15,8,6,knee of Long One,yes,"
            "\nA2,2026-03-21T10:00+01:00,jump_height,1,39,5,,,,,600"
            "\nA2,2026-03-21T10:00+01:00,jump_height,2,40,6,,,,,600"
            "\nA2,2026-03-21T10:00+01:00,jump_height,3,38,7,,,,,600"
        )
        import_efforts(unfitted_store, read_table(told.encode(), "told.csv"), "test")
        first = int(efforts(unfitted_store, MEASURE, "A1")["effort_id"].iloc[0])
        exclude_effort(unfitted_store, first, "Long One slipped", "test")
        yield unfitted_store


def written(store: Store, folder: Path, **how: bool | str) -> OpenPackage:
    write_open_package(store, folder / "open.zip", **how)
    return open_package(folder / "open.zip")


def used(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[rows["excluded"].isna()].reset_index(drop=True)


def whose(rows: pd.DataFrame) -> dict[float, str]:
    """Identify athletes by the sum of their values, which a new code does not change."""
    sums = rows.groupby("athlete")["value"].sum().round(6)
    return {total: str(code) for code, total in sums.items()}


def fitted(rows: pd.DataFrame, **settings: object) -> pd.DataFrame:
    """Fit efforts, and return each athlete's results by the sum of the athlete's values."""
    model = ResponseModel(**settings).fit(rows, rows["value"].astype(float))
    said = model.to_frame().set_index("athlete")
    codes = whose(rows)
    return said.loc[list(codes.values())].set_axis(list(codes))


@pytest.mark.parametrize("move_dates", [False, True])
def test_reading_it_back_gives_the_same_fit(store: Store, tmp_path: Path, move_dates: bool) -> None:
    package = written(store, tmp_path, move_dates=move_dates)
    measure = get_measure(store, MEASURE)
    ours = fitted(
        model_rows(observations(store, MEASURE)),
        standard_volume=artificial.STANDARD,
        worthwhile_pct=measure.worthwhile_pct,
        effort_rest_seconds=15.0,
    )
    theirs = fitted(used(package.efforts(MEASURE)), **package.settings(MEASURE))
    assert len(ours) == 4
    dated = ["last_session"]
    pd.testing.assert_frame_equal(
        theirs.drop(columns=dated).sort_index(), ours.drop(columns=dated).sort_index(), rtol=1e-4
    )


def test_a_store_imports_the_efforts_as_they_are(store: Store, tmp_path: Path) -> None:
    package = written(store, tmp_path)
    with zipfile.ZipFile(tmp_path / "open.zip") as archive:
        file = read_table(archive.read("data/efforts.parquet"), "efforts.parquet")
    again = Store(tmp_path / "again.duckdb")
    again.create()
    report = import_efforts(again, file, "test", add_athletes=True)
    assert (report.stored, report.set_aside) == (len(package.all_efforts), 0)
    columns = ["started_at", "effort", "value", "volume_before", "rest_minutes", "freshness"]
    pd.testing.assert_frame_equal(
        export_frame(again, "efforts")[columns].sort_values(columns, ignore_index=True),
        export_frame(store, "efforts")[columns].sort_values(columns, ignore_index=True),
    )


def test_nobody_is_named(tmp_path: Path) -> None:
    store = full_store(tmp_path / "full.duckdb")
    write_open_package(store, tmp_path / "open.zip", licence="CC-BY-4.0")
    with zipfile.ZipFile(tmp_path / "open.zip") as archive:
        held = b"\n".join(archive.read(name) for name in archive.namelist())
    package = open_package(tmp_path / "open.zip")
    texts = [
        *package.athletes["athlete"],
        *package.all_efforts.select_dtypes("str").to_numpy().flat,
    ]
    people = list_athletes(store)
    for told in [*people["name"], "slip of", "note of", "Test Club", "dora", str(store.path)]:
        assert told.encode() not in held
    assert not set(people["athlete"]) & set(texts)
    assert package.description["licenses"] == [{"name": "CC-BY-4.0"}]


def test_codes_are_random_and_moved_dates_keep_the_days_between_sessions(
    store: Store, tmp_path: Path
) -> None:
    as_they_were, moved = (
        written(store, tmp_path, move_dates=move).efforts(MEASURE) for move in (False, True)
    )
    gaps = set()
    codes = whose(moved)
    for total, code in whose(as_they_were).items():
        rows = as_they_were[as_they_were["athlete"] == code].sort_values("value")
        others = moved[moved["athlete"] == codes[total]].sort_values("value")
        before, after = (pd.to_datetime(each["started_at"].str[:16]) for each in (rows, others))
        assert before.dt.time.tolist() == after.dt.time.tolist()
        (gap,) = {(then - now).days for then, now in zip(before, after, strict=True)}
        assert 1 <= gap <= MOST_DAYS
        gaps.add(gap)
    assert len(gaps) > 1  # all the same once in 365 to the power of 3 times


def test_an_unused_effort_is_marked_without_the_reason(store: Store, tmp_path: Path) -> None:
    rows = written(store, tmp_path).efforts(MEASURE)
    assert rows["excluded"].dropna().tolist() == ["not used by the club"]
    assert {"note", "pain", "joints", "mobility"}.isdisjoint(rows)


def test_positions_and_birth_years_are_counted_and_can_be_left_out(
    store: Store, tmp_path: Path
) -> None:
    report = write_open_package(store, tmp_path / "open.zip")
    assert report.positions == ("centre", "wing")
    by_position, by_year, _ = report.anonymity
    assert (by_position.groups, by_position.smallest, by_position.alone) == (2, 2, 0)
    assert (by_year.groups, by_year.smallest) == (1, 4)  # no birth year is known
    less = written(store, tmp_path, positions=False, birth_years=False)
    assert less.athletes[["position", "birth_year"]].isna().all(axis=None)
    assert less.description["anonymity"][2]["smallest"] == 4


def test_the_smallest_group_is_counted_with_missing_values_as_one() -> None:
    athletes = pd.DataFrame({"position": ["wing", "wing", None, None, "back"]})
    found = anonymity(athletes, ["position"])
    assert (found.athletes, found.groups, found.smallest, found.alone) == (5, 3, 1, 1)


def test_the_command_says_what_it_wrote_and_what_to_check(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "open.zip"
    words = ["export", "package", str(file), "--db", str(store.path)]
    shown = CliRunner().invoke(application, words)
    assert shown.exit_code == 0, shown.output
    count = len(open_package(file).all_efforts)
    assert f"open.zip: 4 athletes, {count} efforts of 1 measure.\n" in shown.stdout
    assert "By position: 2 different among 4, the fewest who share one are 2; 0 sh" in shown.stdout
    assert "Positions: centre, wing. Check that none of them names anybody." in shown.stderr
    assert "--licence names one" in shown.stderr
    named = CliRunner().invoke(application, [*words, "--licence", "CC0-1.0"])
    assert "licence" not in named.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["package", "x.csv"], "must end in .zip"),
        (["efforts", "x.zip"], "FILE: the name must end in .csv or .parquet"),
        (["efforts", "x.csv", "--move-dates"], "are for a package"),
    ],
)
def test_options_that_do_not_fit_are_refused(words: list[str], said: str) -> None:
    shown = CliRunner().invoke(application, ["export", *words])
    assert shown.exit_code == 2
    assert said in shown.stderr


def test_a_changed_or_invalid_package_is_refused(store: Store, tmp_path: Path) -> None:
    package = written(store, tmp_path)
    with pytest.raises(BadInput, match="no measure 'throw_speed' in the package"):
        package.efforts("throw_speed")
    other = tmp_path / "other.zip"
    with zipfile.ZipFile(tmp_path / "open.zip") as old, zipfile.ZipFile(other, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content[:-1] if name.endswith("efforts.parquet") else content)
    (tmp_path / "text.zip").write_text("no zip")
    for file in (other, tmp_path / "text.zip"):
        with pytest.raises(StoreDamaged, match="no open package, or is not as it was made"):
            open_package(file)
    with pytest.raises(BadInput, match=r"nothing\.zip cannot be read"):
        open_package(tmp_path / "nothing.zip")


def test_a_store_without_efforts_has_nothing_to_write(empty_store: Store, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no efforts to write"):
        write_open_package(empty_store, tmp_path / "open.zip")
    with pytest.raises(BadInput, match="cannot be written"):
        write_open_package(_one_effort(empty_store), tmp_path / "none" / "open.zip")
    assert not list(tmp_path.glob("open*"))


def _one_effort(store: Store) -> Store:
    text = "athlete,started_at,measure,effort,value\nA1,2026-03-01T10:00,jump_height,1,40\n"
    text = text.replace("value", "value,kind").replace(",40", ",40,fade")
    import_efforts(store, read_table(text.encode(), "one.csv"), "test", add_athletes=True)
    return store
