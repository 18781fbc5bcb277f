"""Many clubs on one page, from their exports: counts and spreads, and no name."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.squad.overview_command import wants
from db.errors import BadInput
from db.file.store import Store
from db.fits.overviews import ClubMeasure, club_measures

KNOWN = ClubMeasure("north", "hop", 20, 900, 15, date(2026, 3, 1), 3, None, None)


def clubs(folder: Path, store: Store) -> list[Path]:
    """Export a store as two clubs: one as Parquet with everything, one as CSV with little."""
    parts = {"north": ("responses", "squad", "efforts"), "south": ("responses",)}
    for name, ending in (("north", "parquet"), ("south", "csv")):
        (folder / name).mkdir()
        for part in parts[name]:
            file = str(folder / name / f"{part}.{ending}")
            done = CliRunner().invoke(application, ["export", part, file, "--db", str(store.path)])
            assert done.exit_code == 0, done.output
    return [folder / name for name in parts]


def test_counts_match_the_exports(shown_store: Store, tmp_path: Path) -> None:
    north, south = clubs(tmp_path, shown_store)
    [one] = club_measures(north, date(2000, 1, 1))
    athletes, efforts, sessions = duckdb.sql(
        f"SELECT count(DISTINCT athlete), count(*), count(DISTINCT (athlete, started_at)) "
        f"FILTER (kind = 'fade') FROM read_parquet('{north / 'efforts.parquet'}')"
    ).fetchall()[0]
    assert (one.club, one.measure) == ("north", "jump_height")
    assert (one.athletes, one.tests) == (athletes, sessions)
    assert one.efforts <= efforts, "without those set aside by a reason"
    assert one.spread is not None and one.spread[1] <= one.spread[0] <= one.spread[2]
    [later] = club_measures(north, date(2100, 1, 1))
    assert later.tests == 0
    [other] = club_measures(south, date(2000, 1, 1))
    assert (other.athletes, other.firm, other.newest) == (one.athletes, one.firm, one.newest)
    assert (other.tests, other.worth, other.spread) == (None, None, None)


def test_the_page_names_clubs_and_no_athletes(shown_store: Store, tmp_path: Path) -> None:
    folders, out = clubs(tmp_path, shown_store), tmp_path / "clubs.html"
    words = ["overview", *map(str, folders), str(tmp_path / "none"), "--out", str(out)]
    done = CliRunner().invoke(application, words)
    assert done.exit_code == 0 and "There is no folder" in done.output
    page = out.read_text("utf-8")
    body = page.partition("<body>")[2]
    assert "north" in page and "south" in page and "2 clubs, 8 athletes" in page
    for row in duckdb.sql(
        f"SELECT DISTINCT athlete FROM read_parquet('{folders[0] / 'efforts.parquet'}')"
    ).fetchall():
        assert row[0] not in body
    assert "Long One" not in page and "<script" not in page


def test_a_folder_that_is_no_export_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="has no responses.parquet"):
        club_measures(tmp_path, date(2026, 1, 1))
    (tmp_path / "responses.parquet").write_bytes(b"PAR1 and no more")
    with pytest.raises(BadInput, match=r"responses\.parquet is no export of warmcurve"):
        club_measures(tmp_path, date(2026, 1, 1))
    done = CliRunner().invoke(
        application, ["overview", str(tmp_path), "--out", str(tmp_path / "no.html")]
    )
    assert done.exit_code == 1 and not (tmp_path / "no.html").exists()


def test_words_say_which_help_a_club_needs() -> None:
    assert wants(KNOWN, 60) == []
    assert wants(replace(KNOWN, firm=5), 60) == ["75\u00a0% have no firm call: test them"]
    assert wants(replace(KNOWN, tests=0), 60) == ["no fade test in 60 days"]
    assert wants(replace(KNOWN, athletes=4, firm=4), 60) == [
        "few athletes: begin with what other clubs learned"
    ]
    assert wants(replace(KNOWN, athletes=0, firm=0), 60) == ["nobody has efforts yet"]
