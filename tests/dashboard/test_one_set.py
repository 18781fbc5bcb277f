"""One athlete has one set of numbers, wherever they are shown, printed, sent or exported."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import icalendar
import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.app.exports import export_rows
from dashboard.athlete.private_curve import _drawing
from dashboard.core.numbers import between, number, volume
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import response_history, responses
from dashboard.game.advice import Occasion, plan_game, usual_game
from dashboard.game.course import work_to_follow
from dashboard.game.files import GameFiles, game_files
from dashboard.rules.game_work import game_work
from dashboard.squad import ranking
from dashboard.squad.ranking import squad
from dashboard.today.training_plan import plan_rows
from db.file.store import Store
from db.plans.games import save_game
from db.roster.measures import get_measure
from tests.dashboard.conftest import copied

DAY = date(2026, 11, 18)
"""A Wednesday: for none of them has the demo a plan."""
MEASURES = ("jump_height", "throw_speed")
EACH = 3
"""What is asked of the program for one athlete at a time is asked for every third."""
NUMBERS = ["call", "length", "lost_pct", "lost_pct_low", "lost_pct_high", "good_from", "good_to"]


@pytest.fixture(scope="module")
def club(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """The demo, with a game of each measure in its squad's usual circumstances."""
    store = copied(demo_once, tmp_path_factory.mktemp("one"))
    for measure in MEASURES:
        kept = kept_draws(store, measure)
        usual = next(iter(kept.values())).usual
        start = datetime.combine(DAY, datetime.min.time()) + timedelta(hours=usual.hour)
        game = replace(
            usual_game(measure, DAY, (start,), kept),
            general_minutes=usual.general_minutes,
            gap_minutes=usual.rest_minutes,
        )
        said = Occasion(game, tuple((code, 1) for code in kept))
        save_game(store, plan_game(store, said, kept).game, "carl")
    return store


@pytest.fixture(scope="module", params=MEASURES)
def measure(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module", autouse=True)
def open_club(club: Store) -> Iterator[None]:
    with club.kept_open():
        yield


@pytest.fixture(scope="module")
def rows(club: Store, measure: str) -> pd.DataFrame:
    return responses(club, measure).set_index("athlete")


def files(club: Store, measure: str) -> GameFiles:
    return game_files(club, DAY, measure)


def test_the_command_says_the_same(club: Store, measure: str, rows: pd.DataFrame) -> None:
    for code, row in rows[::EACH].iterrows():
        asked = ["advise", "--athlete", str(code), "--measure", measure, "--json"]
        told = json.loads(CliRunner().invoke(application, [*asked, "--db", str(club.path)]).stdout)
        good = told["good_range"] or [float("nan")] * 2
        lost = told["lost_pct"]
        found = [told["call"], told["volume"], lost["median"], lost["low"], lost["high"], *good]
        assert found[0] == row["call"]
        assert found[1:] == pytest.approx(row[NUMBERS[1:]].tolist(), nan_ok=True)


def test_exports_say_the_same(club: Store, measure: str, rows: pd.DataFrame) -> None:
    export = export_rows(club, "responses", measure).set_index("athlete").loc[rows.index]
    same = ["call", "length", "good_from", "good_to", "loss_at_standard_pct"]
    pd.testing.assert_frame_equal(export[same], rows[same], check_names=False)
    at_standard = rows["length"] == club_standard(club, measure)
    assert rows.loc[at_standard, "lost_pct"].tolist() == pytest.approx(
        rows.loc[at_standard, "loss_at_standard_pct"].tolist(), abs=1e-4
    )


def club_standard(club: Store, measure: str) -> float:
    return float(next(iter(kept_draws(club, measure).values())).standard_volume)


def test_the_sheet_the_phone_and_the_calendars_say_the_same(
    club: Store, measure: str, rows: pd.DataFrame
) -> None:
    handed_out = files(club, measure)
    game = handed_out.rows().set_index("athlete").loc[rows.index]
    assert game["volume"].tolist() == game["advised_volume"].tolist() == rows["length"].tolist()
    for end in ("", "_low", "_high"):
        lost = rows[f"lost_pct{end}"].tolist()
        assert game[f"loss_pct{end}"].tolist() == pytest.approx(lost, abs=1e-6)
    phone = handed_out.phone().decode()
    shown = re.findall(r'<h2>(.*?)</h2>.*?<div class="volume"><b>(.*?)</b>', phone, re.DOTALL)
    assert dict(shown) == {row["name"]: number(row["length"]) for _, row in rows.iterrows()}
    for code, length in rows["length"].items():
        [event] = icalendar.Calendar.from_ical(handed_out.calendar(str(code))).events
        told = event["summary"].replace("\u00a0", " ")
        assert told.startswith(f"Warm-up: {number(length)} ")


def test_a_game_s_opening_work_changes_a_length_only_where_that_is_worth_having(
    club: Store, measure: str, rows: pd.DataFrame
) -> None:
    kept = kept_draws(club, measure)
    [(before, _)] = files(club, measure).games
    work = game_work(club, get_measure(club, measure))
    usual = usual_game(measure, DAY, before.game.starts, kept, work)
    assert usual.goal == "sustained" and usual.course.recovery_seconds > 0
    game = replace(
        usual,
        general_minutes=before.game.general_minutes,
        gap_minutes=before.game.gap_minutes,
    )
    plan = plan_game(club, Occasion(game, tuple((code, 1) for code in kept)), kept)
    found = plan.advice.set_index("athlete").loc[rows.index]
    kept_to = found["advised"] == rows["length"]
    assert kept_to.mean() >= 0.8
    worthwhile = next(iter(kept.values())).worthwhile_pct
    own = {code: kept[str(code)] for code in rows.index[~kept_to]}
    for code, curve in own.items():
        step = curve.account.stretch(curve.usual)
        both = [found.loc[code, "advised"], rows.loc[code, "length"]]
        mean = curve.mean_over(
            curve.in_effect(np.array(both), curve.usual), work_to_follow(game), step
        ).mean(axis=1)
        assert mean[0] - mean[1] > 0.5 * worthwhile


def test_pages_say_the_same(club: Store, measure: str, rows: pd.DataFrame) -> None:
    listed = ranking.ranking(squad(club, measure)).set_index("athlete")
    plan = plan_rows(club, measure, DAY, 1).set_index("athlete")
    facts = get_measure(club, measure)
    for code, row in rows[rows["active"]][::EACH].iterrows():
        shown = listed.loc[row["name"]]
        assert (shown["call"], shown["length"]) == (row["call"], row["length"])
        assert shown["lost 90 %"] == between(row["lost_pct_low"], row["lost_pct_high"], 1)
        assert plan.loc[code, NUMBERS].equals(row[NUMBERS])
        history = response_history(club, measure, str(code))
        assert history["length"].iloc[-1] == row["length"]
        if row["sessions"]:
            drawing = _drawing(club, facts, str(code))
            assert drawing is not None
            told = drawing.sentences[0].replace("\u00a0", " ")
            assert told == f"Your length: {volume(row['length'], facts.volume_unit)}.".replace(
                "\u00a0", " "
            )


def test_nobody_leaves_the_standard_without_a_call_and_all_stay_under_the_limit(
    club: Store, measure: str, rows: pd.DataFrame
) -> None:
    standard, most = club_standard(club, measure), rows["most_allowed"].iloc[0]
    open_calls = rows["call"].isin(["not known", "either"])
    assert (rows.loc[open_calls, "length"] == standard).all()
    assert (rows["length"] <= most).all() and most in (25.0, 40.0)
    inside = (rows["good_from"] <= standard) & (standard <= rows["good_to"])
    assert (inside == (rows["call"] == "either")).all()
    kept = kept_draws(club, measure)
    game = files(club, measure).games[0][0].game
    for waves in (1, 2, 6):
        here = tuple((code, 1) for code in kept)
        said = Occasion(replace(game, gap_minutes=36.5), here, waves=(waves,))
        assert plan_game(club, said, kept).advice["set"].max() <= most
