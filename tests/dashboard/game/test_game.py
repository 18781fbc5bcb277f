"""A game from the coach's words to paper, calendar and phone; nothing here needs a page."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from zipfile import ZipFile

import icalendar
import numpy as np
import pandas as pd
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.core import cautions
from dashboard.core.palette import LIGHT
from dashboard.fits.kept_curves import kept_draws
from dashboard.game import substitute_words, words
from dashboard.game.advice import (
    GENERAL_MINUTES,
    Occasion,
    PlannedGame,
    clock_time,
    plan_game,
    usual_game,
)
from dashboard.game.chart import timeline_figure
from dashboard.game.files import GameFiles, file_name, game_files
from dashboard.game.lines import late_lines, most_at_once, wave_lines
from dashboard.game.measures import disagreements
from dashboard.game.sheet import GameHeading, game_sheet
from dashboard.game.tables import done_word, game_table
from dashboard.rules.club_limits import set_most_allowed
from dashboard.today.game_form import start_times
from db.errors import BadInput
from db.file.store import Store
from db.plans.games import Game, GameWave, Player, save_game
from db.plans.kept_games import kept_games
from db.plans.lengths import PlanEntry, save_choice
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from modeling.lifting.general_part import USUAL_MINUTES
from tests.dashboard import artificial

DAY = date(2026, 3, 20)
START = datetime(2026, 3, 20, 19, 30)
HERE = tuple((code, 1) for code in artificial.ATHLETES)
NAMES = {code: name for code, (name, *_) in artificial.ATHLETES.items()}
HEADING = GameHeading("Jump height", "efforts", "17 sessions, 204 efforts", "Test Club")


def occasion(store: Store, **facts: object) -> Occasion:
    game = usual_game("jump_height", DAY, (START,), kept_draws(store, "jump_height"))
    return Occasion(replace(game, **facts), HERE, bench=("A2",), slow=("A3",))


def planned(store: Store, said: Occasion) -> PlannedGame:
    with store.reading():
        return plan_game(store, said, kept_draws(store, "jump_height"))


@pytest.fixture
def kept(filled_store: Store) -> Store:
    """Return a store with one game, in which the coach set A1's length by hand."""
    own = PlanEntry(DAY, "A1", "jump_height", "best", 1, 40.0, 15.0, 20.0, "sore calf")
    save_choice(filled_store, own, "carl")
    save_game(filled_store, planned(filled_store, occasion(filled_store)).game, "carl")
    return filled_store


def text_of(content: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(content)
    texts = [page.get_textpage().get_text_range() for page in document]
    document.close()
    return [" ".join(text.replace("\u00a0", " ").split()) for text in texts]


def test_whoever_begins_before_the_first_wave_is_named_drawn_and_in_the_calendar(
    filled_store: Store,
) -> None:
    own = PlanEntry(DAY, "A2", "jump_height", "best", 1, 4.0, 15.0, 90.0, "why")
    save_choice(filled_store, own, "carl")
    said = replace(occasion(filled_store), waves=(2,))
    save_game(filled_store, planned(filled_store, said).game, "carl")
    files = game_files(filled_store, DAY, "jump_height")
    [(_, waves)] = files.games
    first, earliest = min(wave.begins_at for wave in waves), min(wave.first_at for wave in waves)
    assert earliest < first
    early = f"Short Two from {earliest:%H:%M}"
    begins = f"2 waves: {early}, the first wave begins at {first:%H:%M}, all are ready at 19:25"
    assert words.headline(waves) == begins
    alone = next(wave for wave in waves if wave.early)
    assert f", the wave begins at {alone.begins_at:%H:%M}" in words.headline([alone])
    assert begins in text_of(files.pdf())[0]
    assert early in words.timeline_in_words(waves, "efforts")
    figure = timeline_figure(waves, "efforts", LIGHT)
    assert datetime.fromisoformat(figure.layout.xaxis.range[0]) < earliest
    assert earliest in [trace.x[0] for trace in figure.data if trace.name == "early"]
    [event] = [
        each for each in icalendar.Calendar.from_ical(files.calendar()).events if early in str(each)
    ]
    assert event.start == earliest and early in event["summary"]


# Planning


def test_everybody_is_advised_under_the_day_s_circumstances(shown_store: Store) -> None:
    plan = planned(shown_store, occasion(shown_store, gap_minutes=21.0, general_minutes=0.0))
    rows = plan.advice.set_index("athlete")
    # A1, whose call is long, goes a quarter beyond the standard, 5 of it just before the start.
    # The slow A3's general part of 15 minutes counts for 4.5. Athletes with no call yet do the
    # standard, and after so long a wait keep part of it for just before the start. Nobody does
    # more because of the wait.
    assert rows["advised"].to_dict() == {"A1": 13, "A2": 4, "A3": 10, "A4": 13, "A5": 13}
    # A substitute has no top-up just before the start, but warms up again before coming on.
    top_up = {player.plan.athlete: player.top_up for player in plan.game.players}
    assert top_up == {"A1": 5, "A2": 0, "A3": 4, "A4": 5, "A5": 5}
    assert rows["set"].equals(rows["advised"]) and rows.loc["A5", "sessions"] == 0
    bench = {player.plan.athlete: player.bench for player in plan.game.players if player.bench}
    assert set(bench) == {"A2"} and bench["A2"][0].rest_minutes == 31.0


def test_an_athlete_newer_than_the_fit_gets_advice_marked_as_the_squad_s(
    filled_store: Store,
) -> None:
    save_athletes(filled_store, pd.DataFrame([{"athlete": "A9", "name": "New Nine"}]), "test")
    said = replace(occasion(filled_store), start_of=(*HERE, ("A9", 1)))
    plan = planned(filled_store, said)
    table = game_table(plan, wave_lines(plan.game, {})).set_index("athlete")
    assert table.loc["A9", "data"] == table.loc["A5", "data"] == "none: the squad's advice"
    assert table.loc["A9", "advised"] == table.loc["A5", "advised"]
    row = plan.advice.set_index("athlete").loc["A9"]
    assert "this is the squad's advice" in words.choice_sentence(row, "efforts")


def test_a_length_set_by_hand_is_done_in_any_wave(kept: Store) -> None:
    plan = planned(kept, replace(occasion(kept), waves=(1,)))
    own = {player.plan.athlete: player for player in plan.game.players}
    assert own["A1"].own_length and own["A1"].plan.chosen_volume == 20.0
    assert own["A1"].plan.reason == "sore calf"
    assert not own["A2"].own_length and own["A2"].plan.reason == "with wave 1"
    [game] = kept_games(kept, DAY, "jump_height")
    assert game.game.players[0].own_length


def test_minors_on_the_day_keep_to_their_own_most_with_or_without_a_curve(
    filled_store: Store,
) -> None:
    """Nobody gets another athlete's most, and the age on the day of the game counts."""
    rows = [
        {"athlete": "A9", "name": "New Nine", "born": "2009-05-06"},
        # 18 by now, but 17 on the day of the game.
        {"athlete": "A4", "name": "Unknown Four", "born": f"{DAY.year - 18}-04-20"},
        {"athlete": "A5", "name": "Untested Five", "born": f"{DAY.year - 18}-03-20"},
    ]
    save_athletes(filled_store, pd.DataFrame(rows), "test")
    measure = get_measure(filled_store, "jump_height")
    set_most_allowed(filled_store, replace(measure, standard_volume=None), 20.0, "test")
    said = replace(occasion(filled_store), start_of=(*HERE, ("A9", 1)))
    advised = planned(filled_store, said).advice.set_index("athlete")["advised"]
    assert (advised["A9"], advised["A4"], advised["A5"]) == (12, 12, 15)


def test_a_saved_plan_comes_out_the_same_when_worked_out_again(kept: Store) -> None:
    [before] = kept_games(kept, DAY, "jump_height")
    assert planned(kept, occasion(kept)).game == before.game


def test_two_starts_have_waves_of_their_own(shown_store: Store) -> None:
    later = START + timedelta(minutes=40)
    said = occasion(shown_store, starts=(START, later))
    said = replace(said, start_of=tuple((code, 1 + (code > "A3")) for code, _ in HERE))
    plan = planned(shown_store, said)
    waves = wave_lines(plan.game, NAMES)
    by_start = {
        start: {line.name for wave in waves for line in wave.lines if wave.starts_at == start}
        for start in (START, later)
    }
    assert by_start[later] == {"Unknown Four", "Untested Five"}
    assert set(plan.choices) == {1, 2}
    assert "first whistle 19:30 and 20:10" in text_of(game_sheet([(plan.game, waves)], HEADING))[0]


def test_athletes_who_would_not_be_ready_are_named_with_remedies(shown_store: Store) -> None:
    said = occasion(shown_store, free_from=START - timedelta(minutes=23))
    plan = planned(shown_store, replace(said, waves=(3,)))
    waves = wave_lines(plan.game, NAMES)
    late = late_lines(waves, plan.game.free_from)
    assert "Long One" in [line.name for line in late] and "Short Two" not in {
        line.name for line in late
    }
    assert "The court is free from 19:07. Not ready in time: by" in words.late_sentence(
        late, START - timedelta(minutes=23)
    )
    remedies = words.remedies(plan, late, 1)
    earliest = min(line.begins_at for line in late)
    assert remedies[0] == f"Begin at {earliest:%H:%M}: ask for the court that early."
    assert any(remedy.startswith("A general part of 8 minutes: still") for remedy in remedies)
    assert late_lines(waves, None) == ()


def test_a_game_begins_with_jogging_and_dynamic_work_and_never_cold(shown_store: Store) -> None:
    usual = occasion(shown_store).game
    low, high = USUAL_MINUTES["game"]
    assert low <= usual.general_minutes <= high
    cold = planned(shown_store, occasion(shown_store, general_minutes=0.0)).game
    with pytest.raises(BadInput, match="The general part has 0 minutes.* Nobody begins cold"):
        save_game(shown_store, cold, "carl")


def test_the_advice_on_the_gap_before_a_start_is_the_same_everywhere(shown_store: Store) -> None:
    """Dobbs et al. 2019: under 3 minutes -0.15 (-0.31 to 0.01), 3 to 7 0.18 (0.05 to 0.31)."""
    close = replace(occasion(shown_store).game, gap_minutes=2.0)
    told, again = words.gap_caution(close), substitute_words.bench_sentence(close)
    assert "Leave 3 minutes" in told and "end it 3 minutes before" in again
    for said in ("\u22120.15", "(\u22120.31 to 0.01)", "0.18 (0.05 to 0.31", "evidence is weak"):
        assert said in told
    assert "10 minutes" not in told and words.gap_caution(replace(close, gap_minutes=3)) == ""


def test_measures_that_disagree_are_both_named(shown_store: Store) -> None:
    plan = planned(shown_store, occasion(shown_store))
    other = pd.DataFrame(
        {
            "athlete": ["A1", "A2", "A4"],
            "sessions": 3,
            "advised": [4.0, 4.0, 60.0],
            "standard": 12.0,
            "lost_standard": [5.0, 5.0, 0.1],
        }
    )
    found = disagreements(plan, 1.0, other, 1.0)
    assert found[["athlete", "way", "other_way"]].values.tolist() == [["A1", "more", "less"]]


@pytest.mark.parametrize(
    ("typed", "starts"),
    [("", []), (" 19:30 ", ["19:30"]), ("20:15, 9:05 and 19:30", ["09:05", "19:30", "20:15"])],
)
def test_whistles_are_read_as_they_are_typed(typed: str, starts: list[str]) -> None:
    assert [f"{start:%H:%M}" for start in start_times(typed, DAY)] == starts


def test_a_game_that_cannot_be_planned_says_why(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="'25:00' is not a time of day such as 19:30"):
        clock_time("25:00", DAY)
    with pytest.raises(BadInput, match="There can be 12 starts on a day. 13 were typed"):
        start_times(" ".join(f"{hour}:00" for hour in range(13)), DAY)
    with pytest.raises(BadInput, match="takes curves that were worked out"):
        nowhere = Store(tmp_path / "store.duckdb")
        plan_game(nowhere, Occasion(usual_game("m", DAY, (START,), {}), HERE), {})


# Times

PLAN = PlanEntry(DAY, "A1", "jump_height", "best", 1, 40.0, 15.0, 40.0)
VOLUMES = st.floats(0, 80)


@given(
    waves=st.lists(st.tuples(VOLUMES, st.floats(0, 60)), min_size=1, max_size=5),
    own=VOLUMES,
    general=st.floats(0, 15),
    prevention=st.integers(0, 10),
    seconds=st.floats(5, 120),
)
@settings(max_examples=60, deadline=None)
def test_lines_go_from_the_beginning_to_the_whistle_without_a_gap(
    waves: list[tuple[float, float]], own: float, general: float, prevention: int, seconds: float
) -> None:
    game = replace(
        usual_game("jump_height", DAY, (START,), {}),
        minutes_per_effort=seconds / 60,
        general_minutes=general,
        prevention_minutes=float(prevention),
        waves=tuple(GameWave(1, n, *each) for n, each in enumerate(waves, start=1)),
        players=(Player(replace(PLAN, chosen_volume=own), "starts", 1, 1, True, general),),
    )
    for wave, (volume, rest) in zip(wave_lines(game, NAMES), waves, strict=True):
        for each in (wave, *wave.lines):
            assert each.begins_at <= each.efforts_at <= each.ready_at <= START
            assert START - each.ready_at - timedelta(minutes=rest) < timedelta(minutes=1)
            assert each.general_at - each.begins_at == timedelta(minutes=prevention)
        lasts = timedelta(minutes=volume * seconds / 60 + general + rest + prevention)
        assert timedelta() <= START - wave.begins_at - lasts < timedelta(minutes=1, seconds=1)


def test_waves_that_run_at_once_are_counted() -> None:
    game = usual_game("jump_height", DAY, (START, START + timedelta(minutes=5)), {})
    game = replace(
        game,
        waves=(GameWave(1, 1, 20, 5), GameWave(1, 2, 10, 5), GameWave(2, 1, 20, 5)),
    )
    most, moment = most_at_once(wave_lines(game, {}))
    assert (most, moment) == (3, START - timedelta(minutes=27))
    assert "At 19:03 3 waves run at once" in words.staff_sentence(most, moment, game)
    assert words.staff_sentence(2, moment, game) == ""


# Paper


def big_game(many: int, starts: int = 1) -> Game:
    """Make a game of many athletes with long names; the first six have their own lengths."""
    waves = tuple(
        GameWave(start, wave, 40.0 / wave, 5.0, (0.3, 0.1, 0.6))
        for start in range(1, starts + 1)
        for wave in (1, 2, 3)
    )
    players = tuple(
        Player(
            replace(PLAN, athlete=f"Å{n:03d} Żółć", reason="a reason " * 10 if n < 6 else ""),
            "bench" if n % 4 == 0 else "starts",
            1 + n % starts,
            1 + n % 3,
            n < 6,
            GENERAL_MINUTES,
            (0.4, 0.1, 0.9),
        )
        for n in range(many)
    )
    game = usual_game(
        "jump_height", DAY, tuple(START + timedelta(minutes=30 * n) for n in range(starts)), {}
    )
    return replace(game, waves=waves, players=players, grouping_cost_pct=(0.2, 0.0, 0.6))


def sheet_of(game: Game) -> bytes:
    return game_sheet([(game, wave_lines(game, {}))], HEADING)


@pytest.mark.parametrize(("many", "starts"), [(1, 1), (12, 1), (30, 1), (60, 2), (150, 6)])
def test_everybody_is_on_one_landscape_page_inside_its_margins(many: int, starts: int) -> None:
    content = sheet_of(big_game(many, starts))
    [text] = text_of(content)
    for number in range(many):
        assert f"Å{number:03d} Żółć" in text
    document = pypdfium2.PdfDocument(content)
    width, height = document[0].get_size()
    assert (round(width), round(height)) == (842, 595)
    grey = np.asarray(document[0].render(scale=1).to_pil().convert("L"))
    document.close()
    edges = (grey[:20], grey[-20:], grey[:, :20], grey[:, -20:])
    assert min(edge.min() for edge in edges) == 255
    assert grey.min() == 0


def test_long_names_stay_whole_and_waves_together_if_there_is_room() -> None:
    game = big_game(25)
    names = {
        player.plan.athlete: f"Åsa-Marie {number:02d} Vintergren-Østergård"
        for number, player in enumerate(game.players)
    }
    [text] = text_of(game_sheet([(game, wave_lines(game, names))], HEADING))
    assert all(name in text for name in names.values())
    assert [text.count(f"Wave {wave}") for wave in (1, 2, 3)] == [1, 1, 1]


def test_letters_are_large_for_a_usual_squad_and_the_page_has_no_colour() -> None:
    document = pypdfium2.PdfDocument(sheet_of(big_game(18)))
    page = document[0]
    words_on_page = page.get_textpage()
    place = words_on_page.search("Å001")
    index, count = place.get_next()
    _, bottom, _, top = words_on_page.get_charbox(index, loose=True)
    picture = np.asarray(page.render(scale=1).to_pil().convert("RGB"), dtype=int)
    document.close()
    assert count == 4
    # A letter of 12 points can be read at 70 cm (20 minutes of arc take 4 mm, from memory).
    assert top - bottom >= 12.0
    assert np.ptp(picture, axis=2).max() == 0


def test_the_sheet_says_what_a_coach_needs(kept: Store) -> None:
    [text] = text_of(game_files(kept, DAY, "jump_height").pdf())
    assert "Friday 20 March 2026, first whistle 19:30" in text
    assert "Test Club" in text and cautions.CAUTION in text
    assert "in the hall at 20 °C. Warm up for one best effort" in text
    assert "Short Two (sub)" in text and "Substitutes: efforts again" in text
    assert "set by hand (own length 1" in text and "calf" not in text
    assert "15 min general" in text
    assert "Ankles, then hips and knees; shoulder blades and neck, then elbows." in text


def test_the_same_plan_gives_the_same_bytes(kept: Store) -> None:
    first, second = (game_files(kept, DAY, "jump_height") for _ in range(2))
    assert first.pdf() == second.pdf()
    assert first.calendars() == second.calendars()
    assert sheet_of(big_game(30)) != sheet_of(big_game(29))


# Calendar, phone, table


def events(content: bytes) -> dict[str, icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(content)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))
    return {str(event["UID"]): event for event in calendar.walk("VEVENT")}


def test_an_athlete_s_calendar_holds_their_warm_up_and_nobody_else_s(kept: Store) -> None:
    files = game_files(kept, DAY, "jump_height")
    content = files.calendar("A1")
    [event] = events(content).values()
    # 20 efforts at half a minute each, 5 minutes of prevention, 12 general, ready 5 minutes before.
    assert event["DTSTART"].dt == START - timedelta(minutes=32)
    assert event["DTEND"].dt == START
    assert event["SUMMARY"] == "Warm-up: 20 efforts, start 19:30"
    assert cautions.CAUTION in event["DESCRIPTION"]
    assert b"Short Two" not in content
    assert "after 10 min" in str(next(iter(events(files.calendar("A2")).values()))["DESCRIPTION"])


def test_the_staff_s_calendar_holds_every_wave_with_its_names(kept: Store) -> None:
    files = game_files(kept, DAY, "jump_height")
    found = events(files.calendar())
    waves = wave_lines(kept_games(kept, DAY, "jump_height")[0].game, NAMES)
    assert len(found) == len([wave for wave in waves if wave.lines])
    told = " ".join(str(event["DESCRIPTION"]) for event in found.values())
    assert all(name in told for name in NAMES.values())
    with ZipFile(io.BytesIO(files.calendars())) as packed:
        assert set(packed.namelist()) == {
            "staff.ics",
            *(f"{name.replace(' ', '-')}-{code}.ics" for code, name in NAMES.items()),
        }


def test_a_calendar_s_file_name_works_on_any_file_system() -> None:
    assert file_name("Zoë O'Hara-Lind", "A1") == "Zoë-O-Hara-Lind-A1"
    assert file_name("../a\\b:c?", "A/1") == "a-b-c-A%2F1"
    assert len(file_name("ø" * 300, "A1").encode()) < 255
    assert file_name("Ann", "A1") != file_name("Ann", "A2")


def test_a_changed_plan_replaces_the_earlier_event(kept: Store) -> None:
    before = events(game_files(kept, DAY, "jump_height").calendar("A2"))
    save_game(kept, planned(kept, occasion(kept, gap_minutes=12.0)).game, "carl")
    after = events(game_files(kept, DAY, "jump_height").calendar("A2"))
    assert set(before) == set(after)
    [(old, new)] = zip(before.values(), after.values(), strict=True)
    assert new["SEQUENCE"] > old["SEQUENCE"] and new["DTSTART"].dt < old["DTSTART"].dt


def test_the_phone_view_shows_one_line_large_and_runs_nothing(kept: Store) -> None:
    files = game_files(kept, DAY, "jump_height")
    own, everybody = files.phone("A1").decode(), files.phone().decode()
    assert "<b>18:58</b>injury prevention, 5 min" in own
    assert "<b>19:03</b>general part, 12 min" in own and "<b>20</b>efforts from 19:15" in own
    assert "Set by hand." in own and "calf" not in own + everybody and "Short Two" not in own
    assert all(name in everybody for name in NAMES.values())
    assert "<script" not in everybody and "http" not in everybody


def test_every_plan_has_a_line_for_prevention_and_older_plans_stay_as_they_were(
    kept: Store,
) -> None:
    files = game_files(kept, DAY, "jump_height")
    [(_, waves)] = files.games
    told = (
        text_of(files.pdf())[0],
        files.phone().decode(),
        words.timeline_in_words(waves, "u"),
    )
    for text in told:
        assert "Injury prevention first, 5 min" in text or "injury prevention, 5 min" in text
    assert "5 min prevention, 12 min general" in text_of(files.pdf())[0]
    calendar = str(next(iter(events(files.calendar("A1")).values()))["DESCRIPTION"])
    assert "18:58 injury prevention, 5 min; 19:03 general part, 12 min" in calendar
    with kept.writing("test", "save game", "") as cursor:
        cursor.execute("DELETE FROM game_prevention")
    older = game_files(kept, DAY, "jump_height").phone("A1").decode()
    assert "<b>19:03</b>general part, 12 min" in older and "at least 5 min" in older
    assert "injury prevention, " not in older
    with pytest.raises(BadInput, match="must have 0 to 60"):
        save_game(kept, replace(kept_games(kept, DAY)[0].game, prevention_minutes=61.0), "carl")


def test_names_are_escaped_on_the_phone(kept: Store) -> None:
    save_athletes(kept, pd.DataFrame([{"athlete": "A1", "name": "A <b>&</b> Co"}]), "test")
    files = game_files(kept, DAY, "jump_height")
    assert "A &lt;b&gt;&amp;&lt;/b&gt; Co" in files.phone("A1").decode()
    assert "A <b>&</b> Co" in text_of(files.pdf())[0]


def test_the_table_has_a_row_for_everybody(kept: Store) -> None:
    rows = pd.read_csv(io.BytesIO(game_files(kept, DAY, "jump_height").csv())).set_index("athlete")
    assert set(rows.index) == set(NAMES)
    assert rows.loc[
        "A1", ["begins", "general_from", "volume", "ready", "set_by_hand"]
    ].tolist() == [
        "18:58",
        "19:03",
        20.0,
        "19:25",
        "yes",
    ]


def test_a_day_without_a_game_has_no_files(shown_store: Store) -> None:
    with pytest.raises(BadInput, match="No game with a time to start is saved for jump height on"):
        game_files(shown_store, DAY, "jump_height")


def run(store: Store, folder: Path, *more: str) -> tuple[int, str, str]:
    words_of_command = ["sheet", "--date", "2026-03-20", "--start", "19:30", "--measure"]
    words_of_command += ["jump_height", "--out", str(folder / "s.pdf"), *more]
    shown = CliRunner().invoke(application, [*words_of_command, "--db", str(store.path)])
    return shown.exit_code, shown.stdout, shown.stderr


def test_the_command_writes_what_is_saved(kept: Store, tmp_path: Path) -> None:
    code, out, err = run(
        kept, tmp_path, "--ics", str(tmp_path / "c"), "--csv", str(tmp_path / "s.csv")
    )
    assert (code, out) == (0, f"{tmp_path / 's.pdf'}: 5 athletes, start 19:30.\n")
    assert "As it is kept." in err
    files: GameFiles = game_files(kept, DAY, "jump_height")
    assert (tmp_path / "s.pdf").read_bytes() == files.pdf()
    assert (tmp_path / "s.csv").read_bytes() == files.csv()
    assert (tmp_path / "c" / "Long-One-A1.ics").read_bytes() == files.calendar("A1")


def test_the_command_plans_the_squad_if_nothing_is_saved(
    shown_store: Store, tmp_path: Path
) -> None:
    code, out, err = run(shown_store, tmp_path)
    assert code == 0 and "5 athletes" in out
    assert "No plan is kept for that start: the active squad" in err
    assert kept_games(shown_store) == []
    [text] = text_of((tmp_path / "s.pdf").read_bytes())
    assert all(name in text for name in NAMES.values())


def test_the_command_says_what_to_run_first(unfitted_store: Store, tmp_path: Path) -> None:
    code, _, err = run(unfitted_store, tmp_path)
    assert code == 1 and "Run: warmcurve fit --measure jump_height" in err


@pytest.mark.parametrize(
    ("done", "word"),
    [(None, "not recorded"), (8.0, "as planned"), (5.0, "changed"), (0.0, "skipped")],
)
def test_what_was_done_has_a_word(done: float | None, word: str) -> None:
    row = {"done_volume": float("nan") if done is None else done, "chosen_volume": 8.0}
    assert done_word(row) == word


def test_nobody_comes_on_cold_even_if_nothing_is_left_of_the_day_s_most(
    filled_store: Store,
) -> None:
    """If no maximal effort is left or needed, they move easily instead."""
    set_most_allowed(filled_store, get_measure(filled_store, "jump_height"), 15.0, "test")
    said = replace(occasion(filled_store), bench=("A1", "A4"))
    cut = planned(filled_store, said).game.players[0].plan
    save_choice(filled_store, replace(cut, chosen_volume=15.0, reason="all before"), "carl")
    save_game(filled_store, planned(filled_store, said).game, "carl")
    files = game_files(filled_store, DAY, "jump_height")
    told = files.phone("A1").decode()
    assert "again before coming on: easy moving only." in told and "nothing" not in told
    assert "nobody comes on cold" in " ".join(text_of(files.pdf())[0].split())


def test_more_waves_do_not_help_an_athlete_who_loses_at_their_own_length() -> None:
    rows = [("A1", 25.0, 25.0, 7.0), ("A2", 15.0, 4.0, 5.0), ("A3", 15.0, 15.0, 0.1)]
    advice = pd.DataFrame(rows, columns=["athlete", "set", "advised", "lost_set"])
    advice = advice.assign(lost_set_low=advice["lost_set"], lost_set_high=advice["lost_set"])
    spare, kept = words.dear_sentence(advice, NAMES, 1.5).split(". ")
    assert "Short Two" in spare and spare.endswith("add a wave, or give them their own length")
    assert "Long One" in kept and "even at their own length" in kept and "waves" not in kept
    assert words.dear_sentence(advice, NAMES, 9.0) == ""
