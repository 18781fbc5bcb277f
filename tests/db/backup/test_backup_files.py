"""A backup that was damaged or edited is refused in a sentence, and leaves nothing behind."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

from db.backup.copying import backup, restore
from db.backup.files import LARGEST_BYTES, read_package
from db.errors import StoreDamaged, StoreError
from db.file import migrations
from db.file.store import Store

Json = Any
Change = Callable[[Json], Json]
ROWS = """
INSERT INTO athlete (athlete, name) VALUES ('A1', 'Åsa'), ('A2', 'Bo');
INSERT INTO import_batch (file, sha256, person, rows_read, stored, known, set_aside)
VALUES ('x.csv', repeat('a', 64), 'dora', 2, 2, 0, 0);
INSERT INTO session (athlete, measure, started_at)
VALUES ('A1', 'jump_height', '2026-03-01'), ('A2', 'jump_height', '2026-03-02');
INSERT INTO effort (session_id, effort, value, volume, batch_id, revision)
VALUES (1, 1, 40, 0, 1, 1), (2, 1, 41, 0, 1, 1);
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A backup without its copy, from the first schema: few tables, so it is quick."""
    place = tmp_path_factory.mktemp("made")
    (place / "schema").mkdir()
    shutil.copy(migrations.schema_files()[0], place / "schema")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(migrations, "SCHEMA_FOLDER", place / "schema")
        store = Store(place / "store.duckdb")
        store.create()
        with store.writing("dora", "begin") as cursor:
            cursor.execute(ROWS)
        folder = backup(store, place / "backups").folder
        (folder / "warmcurve.duckdb").unlink()
        yield folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    return shutil.copytree(made, tmp_path / "backup")


def refused(folder: Path) -> str:
    """Try to restore a backup that must be refused, and return the message."""
    new = folder.parent / "new" / "new.duckdb"
    with pytest.raises(StoreError) as refusal:
        restore(folder, new)
    assert os.listdir(new.parent) == []
    said = refusal.value.message
    assert "\n" not in said and len(said) < 600 and said.endswith(".")
    return said


def edit(folder: Path, name: str, change: Change) -> None:
    file = folder / name
    changed = change(json.loads(file.read_text()))
    file.write_text(changed if isinstance(changed, str) else json.dumps(changed))


def put(value: Json, *place: str | int) -> Change:
    """Return a change that puts a value at a place."""

    def change(said: Json) -> Json:
        at = said
        for step in place[:-1]:
            at = at[step]
        at[place[-1]] = value
        return said

    return change


def left_out(*place: str | int) -> Change:
    def change(said: Json) -> Json:
        at = said
        for step in place[:-1]:
            at = at[step]
        del at[place[-1]]
        return said

    return change


WRONG: list[Json] = [None, True, "", "x", -1, 0.5, 1e300, 2**53, 10**18, [], [1], {}, {"a": {}}]
NUMBERS = [value for value in WRONG if value not in ([], {})]
NAMES = ["../../etc/passwd", "/etc/passwd", "a b", 'a"; DROP TABLE audit; --', "a" * 200, "Å", ".."]
AT_THE_DOOR: list[Change] = [
    *(put(value, "schema_version") for value in [*WRONG, 0]),
    *(put(value, "sequences") for value in WRONG if value != {}),
    *(put(value, "sequences", "effort_id_sequence") for value in [*WRONG, 0]),
    *(put(1, "sequences", name) for name in NAMES),
    *(put(value, "resources") for value in WRONG if value != []),
    *(put(value, "resources", 1) for value in WRONG),
    *(put(name, "resources", 1, "name") for name in [*WRONG, *NAMES]),
    *(put(path, "resources", 1, "path") for path in [*WRONG, *NAMES]),
    *(put(value, "resources", 1, "hash") for value in [*WRONG, "sha256:", "md5:" + "a" * 64]),
    *(put(value, "resources", 1, "rows") for value in WRONG),
    *(left_out(key) for key in ("schema_version", "sequences", "resources")),
    *(left_out("resources", 0, key) for key in ("name", "path", "hash", "rows")),
    lambda said: said | {"resources": said["resources"] * 2},
    lambda said: said["resources"],
]
NO_DESCRIPTIONS: list[Change] = [
    lambda said: "",
    lambda said: "no JSON",
    lambda said: json.dumps(said)[:-20],
    lambda said: "[" * 100_000 + "]" * 100_000,
    lambda said: '{"a":' * 100_000 + "1" + "}" * 100_000,
    lambda said: json.dumps(said) + "\ufeff",
    lambda said: json.dumps(said).replace(": 1", ": " + "9" * 5000),
    lambda said: json.dumps(said).replace(": 1", ": NaN"),
    lambda said: " " * LARGEST_BYTES + json.dumps(said),
]


def test_an_unharmed_backup_restores_from_its_rows(folder: Path) -> None:
    assert restore(folder, folder.parent / "new.duckdb").rows["effort"] == 2


def test_no_changed_description_is_accepted(folder: Path) -> None:
    whole = (folder / "datapackage.json").read_text()
    assert len(AT_THE_DOOR) > 120
    for change in [*AT_THE_DOOR, *NO_DESCRIPTIONS]:
        edit(folder, "datapackage.json", change)
        assert "is missing or has changed" in refused(folder)
        (folder / "datapackage.json").write_text(whole)


def test_no_changed_manifest_is_accepted(folder: Path) -> None:
    whole = (folder / "manifest.json").read_text()
    kinds = ("made_at", "schema_version", "revision", "rows", "size_bytes", "sha256")
    changes = [
        put(value, key) for key in kinds for value in (None, [], "x", -1, 10**30, {"a": "b"})
    ]
    changes += [put(value, "rows", "effort") for value in (None, "2", 2.5, -1, 10**18)]
    changes += [put(1, "rows", name) for name in NAMES]
    changes += [left_out(key) for key in kinds]
    for change in [*changes, *NO_DESCRIPTIONS[:-1]]:
        edit(folder, "manifest.json", change)
        assert "manifest.json does not describe a backup" in refused(folder)
        (folder / "manifest.json").write_text(whole)
    edit(folder, "manifest.json", NO_DESCRIPTIONS[-1])
    assert "is too large to describe a backup" in refused(folder)
    (folder / "manifest.json").unlink()
    (folder / "manifest.json").mkdir()
    assert "manifest.json is missing" in refused(folder)


def test_the_message_says_what_is_wrong_with_the_description(folder: Path) -> None:
    edit(folder, "datapackage.json", put("x", "resources", 1, "rows"))
    with pytest.raises(StoreDamaged, match=r"does not describe a backup: see resources 1 rows\."):
        read_package(folder)


@pytest.mark.parametrize("last", [100_000_000, 2**53 - 1])
def test_a_sequence_is_set_and_not_counted_up(folder: Path, last: int) -> None:
    edit(folder, "datapackage.json", put(last, "sequences", "effort_id_sequence"))
    new = folder.parent / "new.duckdb"
    restore(folder, new)
    with duckdb.connect(new) as root:
        assert root.execute("SELECT nextval('effort_id_sequence')").fetchone() == (last + 1,)


@pytest.mark.parametrize(
    "change",
    [
        put(1, "sequences", "effort_id_sequence"),  # it gave 2 already
        left_out("sequences", "session_id_sequence"),
        put(5, "sequences", "of_nobody"),
        lambda said: said | {"schema_version": 2},
        lambda said: said | {"resources": said["resources"][1:]},
        lambda said: said | {"resources": [*said["resources"], _another(said)]},
    ],
)
def test_a_description_that_does_not_fit_the_schema_is_refused(
    folder: Path, change: Change
) -> None:
    shutil.copy(folder / "data" / "athlete.parquet", folder / "data" / "another.parquet")
    edit(folder, "datapackage.json", change)
    said = refused(folder)
    assert "do not hold a store" in said


def _another(said: Json) -> Json:
    (athlete,) = [one for one in said["resources"] if one["name"] == "athlete"]
    return athlete | {"name": "another", "path": "data/another.parquet"}


def _written(query: str) -> Callable[[Path], object]:
    def write(file: Path) -> None:
        with duckdb.connect() as root:
            root.execute(f"CREATE TABLE was AS FROM read_parquet('{file}')")
            root.execute(f"COPY ({query}) TO '{file}' (FORMAT parquet)")

    return write


def _flipped(file: Path) -> None:
    content = bytearray(file.read_bytes())
    for place in range(20, len(content) - 8, 7):
        content[place] ^= 0x55
    file.write_bytes(content)


@pytest.mark.parametrize(
    "harm",
    [
        _flipped,
        lambda file: file.write_bytes(b""),
        lambda file: file.write_bytes(b"PAR1" * 100),
        lambda file: file.write_bytes(file.read_bytes()[:-30]),
        lambda file: file.write_text("effort_id\n1\n"),
        lambda file: shutil.copy(file.with_name("athlete.parquet"), file),
        _written("SELECT * EXCLUDE excluded FROM was"),
        _written("SELECT *, 1 AS more FROM was"),
        _written("SELECT * REPLACE (value::VARCHAR AS value) FROM was"),
        _written("SELECT * REPLACE ('x' AS value) FROM was"),
        _written("SELECT * REPLACE (NULL::DOUBLE AS value) FROM was"),
        _written("SELECT * REPLACE (1::BIGINT AS effort_id) FROM was"),
        _written("SELECT * REPLACE (77::BIGINT AS session_id) FROM was"),
        _written("SELECT * REPLACE ((effort_id + 5)::BIGINT AS effort_id) FROM was"),
        _written("FROM was UNION ALL FROM was"),
        _written("FROM was LIMIT 1"),
    ],
    ids=range(16),
)
def test_a_damaged_parquet_file_is_refused(folder: Path, harm: Callable[[Path], object]) -> None:
    """The hash is changed to match, as an attacker would do."""
    file = folder / "data" / "effort.parquet"
    harm(file)
    sha256 = hashlib.sha256(file.read_bytes()).hexdigest()
    package = json.loads((folder / "datapackage.json").read_text())
    place = [one["name"] for one in package["resources"]].index("effort")
    edit(folder, "datapackage.json", put(f"sha256:{sha256}", "resources", place, "hash"))
    assert "do not hold a store" in refused(folder)


def test_rows_are_read_from_the_folder_that_was_named(made: Path, tmp_path: Path) -> None:
    """A path may contain wildcards, or look like a column with its value."""
    shutil.copytree(made, tmp_path / "sea" / "backup")
    (tmp_path / "sea" / "backup" / "data" / "athlete.parquet").unlink()
    for name in ("se[a]", "season=3", "s*"):
        folder = shutil.copytree(made, tmp_path / name / "backup")
        assert restore(folder, tmp_path / name / "new.duckdb").rows["athlete"] == 2


def test_a_copy_that_is_not_a_store_is_refused(folder: Path) -> None:
    copy = folder / "warmcurve.duckdb"
    shutil.rmtree(folder / "data")
    for statements in ("", 'CREATE TABLE "a""b" (x INTEGER)', "CREATE TABLE audit (x INTEGER)"):
        copy.unlink(missing_ok=True)
        with duckdb.connect(copy) as root:
            root.execute(statements)
        edit(folder, "manifest.json", put(_sha256(copy), "sha256"))
        said = refused(folder)
        assert "not a store of this program" in said or "does not hold" in said
    copy.write_text("no store at all")
    edit(folder, "manifest.json", put(_sha256(copy), "sha256"))
    assert "does not hold a store" in refused(folder)


def _sha256(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
