"""One athlete has one set of numbers, wherever they are shown, printed, sent or exported."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import TypeVar

import icalendar
import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pypdfium2
import pytest
from typer.testing import CliRunner

from dashboard import plot_checks, plot_curve, plot_squad
from dashboard.app.command_line import application
from dashboard.app.exports import export_rows
from dashboard.core.numbers import between, number, percent, volume
from dashboard.core.once import one_answer
from dashboard.core.palette import LIGHT
from dashboard.curve import words as curve_words
from dashboard.curve.chart import athlete_figure
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import response_history, responses
from dashboard.fits.usual_terms import curves, latest_check, placed_efforts
from dashboard.game.advice import Occasion, plan_game, usual_game
from dashboard.game.course import work_to_follow
from dashboard.game.files import GameFiles, game_files
from dashboard.game.substitute_words import FILLED_UP
from dashboard.own.facts import own_facts
from dashboard.own.plain import measure_parts
from dashboard.rules.club_limits import limits_by_athlete
from dashboard.rules.game_work import game_work
from dashboard.screen import units
from dashboard.squad import ranking
from dashboard.squad.chart import squad_figure
from dashboard.squad.ranking import squad
from dashboard.squad.sheet import squad_sheet
from dashboard.today.training_plan import plan_rows
from dashboard.trust.how_sure_charts import bands_figure, places_figure
from dashboard.week.fit_moments import Week
from db.file.store import Store
from db.plans.games import save_game
from db.roster.measures import Measure, get_measure
from demo_team.club import ACCOUNTS
from modeling import ResponseModel
from tests.dashboard.conftest import SignIn, copied, told

Answer = TypeVar("Answer")

DAY = date(2026, 11, 18)
"""A Wednesday, because the demo has no plan for any Wednesday."""
MEASURES = ("jump_height", "throw_speed")
EACH = 3
"""Where the program answers for one athlete at a time, only every third athlete is checked."""
NUMBERS = ["call", "length", "lost_pct", "lost_pct_low", "lost_pct_high", "good_from", "good_to"]


@pytest.fixture(scope="module")
def club(demo_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Store:
    """The demo, with a game for each measure in the squad's usual circumstances."""
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
    return answered(responses, club, measure).set_index("athlete")


def files(club: Store, measure: str) -> GameFiles:
    return answered(game_files, club, DAY, measure)


def answered(question: Callable[..., Answer], *asked: object) -> Answer:
    """Answer as for a page: what one answer needs repeatedly is read once."""
    with one_answer():
        return question(*asked)


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


def test_python_says_the_same_from_the_exported_efforts(club: Store) -> None:
    measure = MEASURES[0]
    rows = responses(club, measure).set_index("athlete")
    facts, standard = get_measure(club, measure), club_standard(club, measure)
    efforts = export_rows(club, "efforts", measure)
    model = ResponseModel(standard_volume=standard, worthwhile_pct=facts.worthwhile_pct)
    model.fit(efforts, efforts["value"])
    found = model.to_frame(rows.index, limits_by_athlete(club, facts, standard, rows.index))
    export = export_rows(club, "responses", measure).drop(columns=["measure", "volume_unit"])
    export = export.set_index("athlete").loc[rows.index]
    # An athlete who is out or in pain has no length for now, but still has a curve.
    export["length"] = export["length"].fillna(found.set_index("athlete")["length"])
    pd.testing.assert_frame_equal(found.set_index("athlete"), export, check_dtype=False, rtol=1e-6)
    lines = export_rows(club, "curves", measure).drop(columns="measure")
    own = model.curves(rows.index)
    order = ["athlete", "volume"]
    pd.testing.assert_frame_equal(
        own.sort_values(order, ignore_index=True),
        lines.sort_values(order, ignore_index=True)[list(own)],
        check_dtype=False,
        rtol=1e-6,
        atol=1e-9,
    )
    assert model.usual_volumes.to_do(model.standard_volume_) == pytest.approx(standard)
    check_figures(club, facts, model)


def check_figures(club: Store, facts: Measure, model: ResponseModel) -> None:
    """Check that a notebook draws from a model what the pages draw from the store."""
    unit, standard = facts.volume_unit, club_standard(club, facts.code)
    rows = squad(club, facts.code).dropna(subset="length")
    limits = limits_by_athlete(club, facts, standard, rows["athlete"])
    names = dict(zip(rows["athlete"], rows["name"], strict=True))
    same_figure(
        plot_squad(model, rows["athlete"], names, limits, unit),
        squad_figure(rows, standard, unit, LIGHT),
    )
    for row in rows.iloc[: 2 * EACH : EACH].to_dict("records"):
        points = placed_efforts(club, facts, row["athlete"])
        points["told"] = units.told(points["value"], facts.unit)
        curve = curves(club, facts.code, row["athlete"])
        same_figure(
            plot_curve(model, row["athlete"], unit, facts.unit),
            athlete_figure(curve, points, row, standard, unit, LIGHT),
        )
    found = latest_check(club, facts.code)
    assert found is not None
    bands, places, _ = plot_checks(model, unit)
    same_figure(bands, bands_figure(found.bands, unit, LIGHT))
    same_figure(places, places_figure(found.places, LIGHT))


def same_figure(found: go.Figure, page: go.Figure) -> None:
    """Compare what is drawn, whatever the order of the points in a trace."""
    assert [trace.name for trace in found.data] == [trace.name for trace in page.data]
    for own, other in zip(found.data, page.data, strict=True):
        for axis in ("x", "y"):
            drawn = [np.sort(np.array(trace[axis], dtype=float)) for trace in (own, other)]
            np.testing.assert_allclose(*drawn, rtol=1e-4, atol=1e-4)
        assert sorted(own.text or ()) == sorted(other.text or ())
    said = [[note.text for note in figure.layout.annotations] for figure in (found, page)]
    assert said[0] == said[1]


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


def test_a_games_opening_work_changes_a_length_only_where_it_is_worth_it(
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
    listed = ranking.ranking(answered(squad, club, measure)).set_index("athlete")
    plan = answered(plan_rows, club, measure, DAY, 1).set_index("athlete")
    facts = get_measure(club, measure)
    for code, row in rows[rows["active"]][::EACH].iterrows():
        shown = listed.loc[row["name"]]
        assert (shown["call"], shown["length"]) == (row["call"], row["length"])
        assert shown["lost 90 %"] == between(row["lost_pct_low"], row["lost_pct_high"], 1)
        assert plan.loc[code, NUMBERS].equals(row[NUMBERS])
        history = answered(response_history, club, measure, str(code))
        assert history["length"].iloc[-1] == row["length"]
        if row["sessions"]:
            facts_of_own = answered(own_facts, club, str(code), DAY)
            parts = {each.title: each for each in measure_parts(facts_of_own)}
            length = volume(row["length"], facts.volume_unit)
            assert parts[facts.name].length == f"Your length: {length}"


def test_paper_says_the_same(club: Store, measure: str, rows: pd.DataFrame) -> None:
    week = Week.of(DAY)
    front = read_pdf(squad_sheet(club, measure, week, week.before))[0]
    sheet = " ".join(read_pdf(files(club, measure).pdf()))
    for _, row in rows[rows["active"]].iterrows():
        lost = percent(row["loss_at_standard_pct"]).replace("\u00a0", " ")
        line = f"{row['name']} {row['call']} {number(row['length'])} {lost}"
        assert line in front, line
        own_start = r"( from [\d:]+, efforts [\d:]+)?"
        filled_up = f"(;? {FILLED_UP})?"
        line = rf"{re.escape(row['name'])}{own_start}{filled_up} {number(row['length'])}\b"
        assert re.search(line, sheet), line


def test_the_command_s_words_and_the_csv_of_a_game_say_the_same(
    club: Store, measure: str, rows: pd.DataFrame
) -> None:
    unit = get_measure(club, measure).volume_unit
    game = pd.read_csv(BytesIO(files(club, measure).csv())).set_index("athlete")
    assert game.loc[rows.index, "volume"].tolist() == rows["length"].tolist()
    for code, row in rows[::EACH].iterrows():
        asked = ["advise", "--athlete", str(code), "--measure", measure, "--db", str(club.path)]
        told = CliRunner().invoke(application, asked).stdout.replace("\u00a0", " ")
        assert f"{volume(row['length'], unit)}".replace("\u00a0", " ") in told
        if not pd.isna(row["good_from"]):
            good = (
                f"Good range on a usual day: {between(row['good_from'], row['good_to'], 0)} {unit}"
            )
            assert good.replace("\u00a0", " ") in told


def test_served_pages_say_the_same(
    club: Store,
    measure: str,
    rows: pd.DataFrame,
    sign_in: SignIn,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("WARMCURVE_DB", str(club.path))
    unit = get_measure(club, measure).volume_unit

    def seen(name: str, page: str, athlete: str | None = None) -> str:
        application = sign_in(club, name, page)
        application.selectbox(key="measure").set_value(measure)
        if athlete is not None:
            application.selectbox(key="athlete").set_value(athlete)
        return plain(told(application.run()))

    squad_page = seen("director", "squad")
    own = [
        f"{row['name']} {number(row['length'])}"
        for _, row in rows.iterrows()
        if row["active"] and row["call"] in ("short", "long")
    ]
    assert own and all(each in squad_page for each in own)
    for code in rows.index[rows["active"] & (rows["sessions"] > 0)][:: 3 * EACH]:
        row = rows.loc[code]
        length = plain(volume(row["length"], unit))
        good = plain(between(row["good_from"], row["good_to"], 0))
        athlete_page = seen("coach", "athlete", str(code))
        assert (
            plain(
                curve_words.length_sentence(
                    row.to_dict() | {"athlete": code}, club_standard(club, measure), unit
                )
            )
            in athlete_page
        )
        advice_page = seen("coach", "advice", str(code))
        assert length in advice_page
        if not pd.isna(row["good_from"]):
            assert f"Good range: {good}" in athlete_page
            assert f"Good range on a usual day: {good}" in advice_page
    own_page = seen("athlete", "my_warm_up")
    assert plain(volume(rows.loc[ACCOUNTS[-1].athlete, "length"], unit)) in own_page


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def read_pdf(content: bytes) -> list[str]:
    pages = pypdfium2.PdfDocument(BytesIO(content))
    texts = [page.get_textpage().get_text_range() for page in pages]
    return [" ".join(text.replace("\u00a0", " ").split()) for text in texts]


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
