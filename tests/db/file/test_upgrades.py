"""Stores of every schema so far are upgraded with their rows, as explained beforehand."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner, Result

from dashboard.app.command_line import application
from db.errors import StoreTooNew
from db.file import migrations, upgrades
from db.file.checks import check
from db.file.copies import copies_before_upgrades
from db.file.store import Store
from db.file.upgrades import upgrade_of
from tests.db.backup.test_backup_files import ROWS

NEWEST = migrations.newest()
STRIDE = 6


@pytest.fixture(scope="module")
def of_every_schema(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Path]]:
    """A file of each schema, each upgraded from the one before, as after frequent updates."""
    folder = tmp_path_factory.mktemp("schemas")
    files: list[Path] = []
    for number, schema in enumerate(migrations.schema_files(), 1):
        file = folder / f"{number}.duckdb"
        if files:
            shutil.copyfile(files[-1], file)
        with duckdb.connect(file) as root:
            migrations._apply(root, schema)
            if number == 1:
                root.execute(
                    "INSERT INTO audit (revision, person, action, detail) "
                    "VALUES (1, 'dora', 'begin', '')"
                )
                root.execute(ROWS)
            root.execute("CHECKPOINT")
        files.append(file)
    yield files


@pytest.fixture
def old(of_every_schema: list[Path], tmp_path: Path) -> Store:
    shutil.copyfile(of_every_schema[0], tmp_path / "store.duckdb")
    return Store(tmp_path / "store.duckdb")


def test_a_store_of_an_old_schema_opens_with_its_rows(
    of_every_schema: list[Path], tmp_path: Path
) -> None:
    """The fixture took one step at a time; here, some files take all remaining steps at once."""
    assert len(of_every_schema) == NEWEST
    for number in {*range(1, NEWEST, STRIDE), NEWEST - 1, NEWEST}:
        file = of_every_schema[number - 1]
        shutil.copyfile(file, tmp_path / file.name)
        store = Store(tmp_path / file.name)
        assert store.schema() == number
        with store.reading() as cursor:
            rows = cursor.execute("SELECT athlete, value, volume FROM effort_detail").fetchall()
        assert sorted(rows) == [("A1", 40.0, 0.0), ("A2", 41.0, 0.0)], number
        assert check(store) == [], number
        assert store.schema() == NEWEST
        copies = copies_before_upgrades(store)
        assert len(copies) == (number < NEWEST), number
        for copy in copies:
            assert Store(copy).schema() == number


def told(store: Store, *words: str) -> Result:
    shown = CliRunner().invoke(application, ["upgrade", *words, "--db", str(store.path)])
    return shown


def test_a_check_explains_the_upgrade_and_changes_nothing(old: Store) -> None:
    before = old.path.read_bytes()
    shown = told(old, "--check")
    assert shown.exit_code == 0
    assert f"has schema 1; this version has {NEWEST}." in shown.stdout
    for step in upgrade_of(old).steps:
        assert f"\n{step.number}: {step.what_for}\n" in shown.stdout and step.what_for[-1] in ".:"
    assert "store.schema-1.TIME.duckdb: about" in shown.stdout
    assert "rename the copy to store.duckdb" in shown.stdout
    assert old.schema() == 1 and old.path.read_bytes() == before
    assert copies_before_upgrades(old) == []


def test_an_upgrade_leaves_a_copy_to_go_back_to(old: Store) -> None:
    shown = told(old)
    (copy,) = copies_before_upgrades(old)
    assert shown.stdout.endswith(f"as it was, it is {copy}.\n")
    assert old.schema() == NEWEST
    assert told(old, "--check").stdout.startswith("Nothing to do")
    old.path.unlink()
    copy.rename(old.path)
    assert Store(old.path).schema() == 1


def test_without_room_for_the_copy_the_upgrade_does_not_start(
    old: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = shutil.disk_usage(old.path.parent)._replace(free=1000)
    monkeypatch.setattr(upgrades.shutil, "disk_usage", lambda folder: full)
    shown = told(old)
    assert shown.exit_code == 1 and "too little room" in shown.stdout
    assert old.schema() == 1


def test_a_store_of_a_later_version_is_left_alone(old: Store) -> None:
    with duckdb.connect(old.path) as root:
        root.execute("INSERT INTO schema_version (version, name) VALUES (?, 'later')", [NEWEST + 1])
    with pytest.raises(StoreTooNew, match=f"has schema {NEWEST + 1}"):
        upgrade_of(old)
    shown = told(old, "--check")
    assert shown.exit_code == 1 and "Update the program" in shown.stderr
