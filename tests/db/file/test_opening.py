"""An engine opens its own file again and again, and reaches no other."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from db.file import opening
from db.file.opening import MOST_IDLE, OpenFile


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The files for which engines were started, in order."""
    seen, start = list[Path](), opening._started

    def noting(path: Path, external_access: bool) -> duckdb.DuckDBPyConnection:
        seen.append(path)
        return start(path, external_access)

    monkeypatch.setattr(opening, "_started", noting)
    return seen


def use(path: Path, unharmed: bool = True) -> int:
    """Open a file, add a row and close it; return how many rows it has now."""
    file = OpenFile(path, external_access=False)
    file.main.execute("CREATE TABLE IF NOT EXISTS visit AS SELECT 1 LIMIT 0")
    file.main.execute("INSERT INTO visit VALUES (1)")
    row = file.main.execute("SELECT count(*) FROM visit").fetchone()
    file.close(unharmed)
    return int(row[0]) if row else 0


def test_an_engine_opens_its_file_again_unless_an_error_may_have_spoilt_it(
    tmp_path: Path, started: list[Path]
) -> None:
    path = tmp_path / "it's a club.duckdb"
    assert [use(path), use(path), use(path, unharmed=False)] == [1, 2, 3]
    assert started == [path]
    assert use(path) == 4
    assert started == [path, path]
    assert [one.name for one in tmp_path.iterdir()] == [path.name], "nothing is left beside it"


def test_few_engines_stay_idle_and_the_longest_idle_one_goes(
    tmp_path: Path, started: list[Path]
) -> None:
    paths = [tmp_path / f"{number}.duckdb" for number in range(MOST_IDLE + 1)]
    for path in paths:
        use(path)
    use(paths[1])
    assert started == paths
    use(paths[0])
    assert started == [*paths, paths[0]]


@pytest.mark.parametrize(
    "statement",
    [
        "SELECT * FROM read_text('{other}')",
        "COPY (SELECT 1) TO '{other}'",
        "ATTACH '{other}'",
        "SET enable_external_access = true",
        "SET GLOBAL allowed_paths = ['{other}']",
    ],
)
def test_a_statement_reaches_no_other_file(tmp_path: Path, statement: str) -> None:
    other = tmp_path / "other"
    other.write_text("kept")
    file = OpenFile(tmp_path / "club.duckdb", external_access=False)
    with pytest.raises((duckdb.PermissionException, duckdb.InvalidInputException)):
        file.cursor().execute(statement.format(other=other))
    file.close()
    assert other.read_text() == "kept"
