"""A real game: opening work with recovery, half-time, rolling substitutions, a second game."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

import icalendar
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.core.numbers import volume
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.game import start, substitute_words
from dashboard.game.advice import Occasion, PlannedGame, plan_game, usual_game
from dashboard.game.course import (
    MOST_AT_HALF_TIME,
    before_coming_on,
    bench_rows,
    earlier_volumes,
)
from dashboard.game.files import game_files
from dashboard.game.lines import Line, WaveLines, wave_lines
from dashboard.game.substitute_words import bench_line, bench_words
from dashboard.own.game import own_lines
from dashboard.rules.club_limits import check_choice, set_most_allowed
from dashboard.rules.game_work import game_work
from db.efforts.live_efforts import add_effort
from db.efforts.live_tests import parts_in
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.errors import BadInput
from db.file.store import Store
from db.plans.game_course import Course, last_course
from db.plans.games import BenchRow, Game, save_game
from db.plans.kept_games import kept_games
from db.plans.lengths import plans, save_choice
from db.plans.outcomes import Outcome, done_volumes, record_outcomes
from db.roster.measures import get_measure, save_measure
from modeling.curve.length import Limits
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.game.test_game import DAY, HERE, NAMES, START, text_of

NOON = datetime(2026, 3, 20, 12, 0)


def planned(store: Store, **said: Any) -> PlannedGame:
    with store.reading():
        kept = kept_draws(store, "jump_height")
        work = game_work(store, get_measure(store, "jump_height"))
        course = Course(work.recovery_seconds, 10.0)
        game = usual_game("jump_height", DAY, (START,), kept, work)
        game = replace(game, course=replace(course, **said.pop("course", {})))
        facts = {"bench": ("A2",), **said}
        return plan_game(store, Occasion(game, HERE, **facts), kept)


def lines_of(game: Game) -> dict[str, tuple[Line, WaveLines]]:
    return {
        line.player.plan.athlete: (line, wave)
        for wave in wave_lines(game, NAMES)
        for line in wave.lines
    }


def test_the_goal_of_a_game_is_the_average_of_its_opening_work_with_recovery(
    shown_store: Store,
) -> None:
    game = planned(shown_store).game
    assert (game.goal, game.efforts_to_follow, game.course.recovery_seconds) == (
        "sustained",
        10,
        60.0,
    )
    kept = kept_draws(shown_store, "jump_height")
    assert usual_game("jump_height", DAY, (START,), kept).goal == "best"


def test_the_work_of_a_game_leaves_everybody_their_length(shown_store: Store) -> None:
    """None of them loses more than is worthwhile by keeping the length for one best effort."""
    rows = responses(shown_store, "jump_height").set_index("athlete")["length"]
    usual = next(iter(kept_draws(shown_store, "jump_height").values())).usual
    kept = kept_draws(shown_store, "jump_height")
    work = game_work(shown_store, get_measure(shown_store, "jump_height"))
    start = datetime.combine(DAY, datetime.min.time()) + timedelta(hours=usual.hour)
    game = replace(
        usual_game("jump_height", DAY, (start,), kept, work),
        general_minutes=usual.general_minutes,
        gap_minutes=usual.rest_minutes,
    )
    with shown_store.reading():
        plan = plan_game(shown_store, Occasion(game, HERE), kept)
    assert plan.advice.set_index("athlete")["advised"].to_dict() == rows[list(NAMES)].to_dict()


def test_everybody_warms_up_again_at_half_time_and_never_beyond_the_most(
    filled_store: Store,
) -> None:
    game = planned(filled_store, course={"half_time_minutes": 30.0}).game
    again = {player.plan.athlete: player.half_time for player in game.players}
    assert 0 < max(again.values()) <= MOST_AT_HALF_TIME
    for player in game.players:
        assert player.plan.chosen_volume + player.half_time <= 25
        assert all(
            player.plan.chosen_volume + player.half_time + row.volume <= 25 for row in player.bench
        )
    longer = planned(filled_store, course={"half_time_minutes": 50.0}).game
    assert sum(player.half_time for player in longer.players) > sum(again.values())
    none = planned(filled_store, course={"half_time_minutes": 0.0}).game
    assert not any(player.half_time for player in none.players)
    assert substitute_words.half_time_sentence(none, wave_lines(none, NAMES), "efforts") == ""
    save_game(filled_store, game, "carl")
    files = game_files(filled_store, DAY, "jump_height")
    code = max(again, key=lambda each: again[each])
    told = f"At half-time {volume(again[code], 'efforts')} again"
    assert told in files.phone(code).decode()
    assert told in files.calendar(code).decode().replace("\r\n ", "")
    [sheet] = text_of(files.pdf())
    assert "Half-time, 30 min" in sheet and "Everybody moves easily for the last 3" in sheet
    rows = files.rows().set_index("athlete")
    assert rows["half_time"].to_dict() == again


def test_with_rolling_substitutions_everybody_comes_back_warm(shown_store: Store) -> None:
    fixed = planned(shown_store).game
    rolling = planned(shown_store, course={"rolling": True}).game
    assert {p.plan.athlete for p in fixed.players if p.bench} == {"A2"}
    lines = lines_of(rolling)
    assert all(line.bench for line, _ in lines.values())
    line, wave = lines["A3"]
    told = bench_words(line, wave, "efforts")
    assert told.startswith("After sitting out, again before coming back: after 10 min")
    assert "after 60 min" in told
    line, wave = lines["A2"]
    assert bench_words(line, wave, "efforts").startswith("As a substitute, again")
    assert bench_line(line, wave, "efforts").startswith("after 10 min")


def test_what_is_the_same_after_any_wait_is_said_once(shown_store: Store) -> None:
    line, wave = lines_of(planned(shown_store).game)["A2"]
    rows = tuple(BenchRow(minutes, 10.0, (1.0, 0.5, 2.0)) for minutes in (15.0, 25.0))
    sits = replace(line, player=replace(line.player, bench=rows))
    assert bench_line(sits, wave, "efforts") == "10 efforts"
    told = bench_words(sits, wave, "efforts")
    assert told == (
        "As a substitute, again before coming on: 10 efforts. Move easily and build up first."
    )


def test_what_was_done_for_the_first_game_counts_towards_the_day_s_most(
    filled_store: Store,
) -> None:
    first = planned(filled_store).game
    morning = replace(first, starts=(NOON,))
    save_game(filled_store, morning, "carl")
    [kept] = kept_games(filled_store, DAY, "jump_height")
    ended = NOON + timedelta(minutes=80)
    earlier = earlier_volumes([kept.game], ended)
    assert earlier["A1"] == first.players[0].plan.chosen_volume + first.players[0].half_time
    assert earlier_volumes([kept.game], None) == {} == earlier_volumes([kept.game], NOON)
    second = planned(
        filled_store, course={"earlier_ended_at": ended}, earlier=tuple(earlier.items())
    )
    for player in second.game.players:
        done = earlier[player.plan.athlete]
        assert player.earlier_volume == done
        assert player.plan.chosen_volume + player.half_time + done <= max(25.0, done)
    told = substitute_words.earlier_sentence(second.game, second.advice, "efforts")
    assert "count towards the day's most" in told and "nothing of it is still in effect" in told
    usual = Course(60.0, 10.0)
    rolling = replace(second.game.course, rolling=True, half_time_minutes=15.0)
    save_game(filled_store, replace(second.game, course=rolling), "carl")
    assert last_course(filled_store, usual) == Course(60.0, 15.0, True)
    save_game(filled_store, second.game, "carl")
    [before, again] = kept_games(filled_store, DAY, "jump_height")
    assert before == kept and again.game.course.earlier_ended_at == ended
    assert earlier_volumes([again.game], ended) == pytest.approx(earlier)
    # The first game's plan as it is now counts, not what the second game's plan remembers of it.
    player = morning.players[0]
    more = replace(player, plan=replace(player.plan, chosen_volume=player.plan.chosen_volume + 3))
    changed = [again.game, replace(morning, players=(more, *morning.players[1:]))]
    assert earlier_volumes(changed, ended)["A1"] == pytest.approx(earlier["A1"] + 3)
    greedy = replace(second.game.players[0].plan, chosen_volume=18.0, reason="wants it")
    with pytest.raises(BadInput, match="before the day's earlier game.* 25 efforts at most"):
        check_choice(filled_store, greedy, 20.0)


def test_what_was_recorded_for_the_first_game_counts_instead_of_its_plan(
    filled_store: Store,
) -> None:
    first = replace(planned(filled_store).game, starts=(NOON,))
    save_game(filled_store, first, "carl")
    [row] = plans(filled_store, DAY, "jump_height").query("athlete == 'A1'").to_dict("records")
    record_outcomes(filled_store, [Outcome(int(row["plan_id"]), 11.0)], "carl")
    recorded = done_volumes(filled_store, DAY, "jump_height", second_game=False)
    assert recorded == {"A1": 11.0}
    ended = NOON + timedelta(minutes=80)
    found, as_planned = (earlier_volumes([first], ended, each) for each in (recorded, None))
    again = first.players[0].half_time + first.players[0].top_up
    assert found["A1"] == 11.0 + again < as_planned["A1"]
    assert found | {"A1": as_planned["A1"]} == as_planned


def test_a_day_counts_what_was_done_with_another_measure(filled_store: Store) -> None:
    save_measure(
        filled_store,
        replace(get_measure(filled_store, "jump_height"), code="drop_jump", name="Drop jump"),
        "dora",
    )
    plan = planned(filled_store).game.players[0].plan
    other = save_choice(
        filled_store, replace(plan, measure="drop_jump", chosen_volume=15.0), "carl"
    )
    mine = replace(plan, chosen_volume=15.0)
    with pytest.raises(
        BadInput, match="15 efforts are set or done on the same.*Set 10 .*for Long One"
    ):
        check_choice(filled_store, mine)
    record_outcomes(filled_store, [Outcome(other, 8.0)], "carl")
    check_choice(filled_store, mine)


def test_a_day_counts_what_was_done_in_a_fade_test(filled_store: Store) -> None:
    """After 12, 13 of 25 are left; after 30, the general part only; other days do not count."""
    mine = replace(planned(filled_store).game.players[0].plan, chosen_volume=15.0)
    at = datetime.combine(mine.day, time(9))
    tests = (NewTest(mine.athlete, {"pain": False}),)
    number = begin_live_test(
        filled_store, NewLiveTest("jump_height", at, tests, Method("value"), StopRule(0.9, 3)), "c"
    )
    session = int(parts_in(filled_store, number)["session_id"].iloc[0])
    for effort in range(1, 13):
        add_effort(filled_store, session, effort, 40.0, effort - 1, "carl")
    with pytest.raises(BadInput, match="12 efforts .* in a fade test, .*Set 13 .* for Long One"):
        check_choice(filled_store, mine)
    check_choice(filled_store, replace(mine, chosen_volume=13.0))
    check_choice(filled_store, replace(mine, day=mine.day + timedelta(days=1)))
    for effort in range(13, 31):
        add_effort(filled_store, session, effort, 40.0, effort - 1, "carl")
    with pytest.raises(BadInput, match="Set 0 efforts or fewer for Long One"):
        check_choice(filled_store, replace(mine, chosen_volume=1.0))
    check_choice(filled_store, replace(mine, chosen_volume=0.0))


def test_a_substitute_at_the_most_keeps_a_part_for_coming_on(filled_store: Store) -> None:
    """A1 needs 40 and may do 25."""
    wide = Limits(most_done=60.0, most_allowed=25.0)
    kept = {
        code: replace(curve, limits=wide)
        for code, curve in kept_draws(filled_store, "jump_height").items()
    }
    around = kept["A1"].usual
    before = before_coming_on(kept["A1"], around).limits.most
    assert 15.0 <= before < 25.0
    [row] = bench_rows(kept["A1"], before, around, 0.0)[2:3]
    assert row.rest_minutes == 30.0 and row.volume == 25.0 - before
    free = replace(kept["A1"], limits=Limits())
    assert before_coming_on(free, around) is free


def test_a_substitute_does_less_before_the_game_than_a_starter_and_some_later(
    filled_store: Store,
) -> None:
    starting, sitting = planned(filled_store), planned(filled_store, bench=("A1",))
    before = {player.plan.athlete: player for player in starting.game.players}["A1"]
    found = {player.plan.athlete: player for player in sitting.game.players}["A1"]
    assert found.plan.chosen_volume < before.plan.chosen_volume
    assert found.top_up == 0.0
    most = before.plan.chosen_volume
    assert found.bench[2].volume == most - found.plan.chosen_volume > 0
    assert found.plan.chosen_volume + found.half_time <= most


def two_games(store: Store) -> tuple[Game, Game]:
    """Save two games on one day: one at noon, one at the usual hour."""
    first = replace(planned(store).game, starts=(NOON,))
    save_game(store, first, "carl")
    ended = NOON + timedelta(minutes=80)
    earlier = tuple(earlier_volumes([first], ended).items())
    second = planned(store, course={"earlier_ended_at": ended}, earlier=earlier).game
    save_game(store, second, "carl")
    return first, second


def test_sheet_and_files_of_a_day_show_both_games_each_with_its_starts(
    filled_store: Store,
) -> None:
    two_games(filled_store)
    files = game_files(filled_store, DAY, "jump_height")
    noon, evening = text_of(files.pdf())
    assert "first whistle 12:00" in noon and "Second game" not in noon
    assert f"first whistle {START:%H:%M}" in evening
    assert "Second game of the day; the first ended at 13:20" in evening
    assert len(files.athletes()) == len(HERE)
    rows = files.rows()
    assert rows.groupby("athlete")["start"].agg(list).to_dict() == {
        code: ["12:00", f"{START:%H:%M}"] for code in sorted(NAMES)
    }
    for page in (files.phone().decode(), files.phone("A1").decode()):
        assert page.index("first whistle 12:00</h1>") < page.index("ready; start 12:00")
        assert page.index("ready; start 12:00") < page.index(f"first whistle {START:%H:%M}</h1>")
        assert f"ready; start {START:%H:%M}" in page
    events = icalendar.Calendar.from_ical(files.calendar("A1")).events
    assert [event.end for event in events] == [NOON, START]
    assert len({event["uid"] for event in events}) == 2
    staff = icalendar.Calendar.from_ical(files.calendar()).events
    assert len({event["uid"] for event in staff}) == len(staff) >= 2


def test_an_athlete_s_page_shows_the_next_game_of_the_day(filled_store: Store) -> None:
    two_games(filled_store)
    kept = kept_games(filled_store, DAY)

    def next_start(now: datetime) -> datetime:
        return own_lines(kept, "A1", now)[0][1].starts_at

    assert next_start(NOON - timedelta(hours=5)) == NOON
    assert next_start(NOON + timedelta(minutes=79)) == NOON
    # The earlier game ended at 13:20.
    assert next_start(NOON + timedelta(minutes=81)) == START
    assert own_lines(kept, "A1", START + timedelta(hours=4)) == []
    assert own_lines(kept[:1], "A1", NOON + timedelta(hours=2))[0][1].starts_at == NOON


def field(application: AppTest, kind: str, beginning: str) -> Any:
    [found] = [each for each in application.get(kind) if str(each.key).startswith(beginning)]
    return found


def test_both_games_of_a_day_are_planned_changed_and_recorded_on_the_page(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "carl")

    def turn_to(side: str) -> None:
        field(application, "button_group", "today_side").set_value(side).run()

    field(application, "text_input", "plan_start").set_value("12:00").run()
    application.button(key="save_and_print").click().run()
    turn_to("After")
    application.button(key="all_as_planned").click().run()
    field(application, "selectbox", "plan_game_of_day").select("Second game").run()
    assert "Type when the day's second game starts" in told(application)
    field(application, "text_input", "plan_start").set_value("18:00").run()
    assert "when the day's first game ended" in told(application)
    field(application, "text_input", "game_earlier").set_value("13:20").run()
    assert not application.exception
    application.button(key="save_and_print").click().run()
    today = date.today()
    first, second = kept_games(filled_store, today, "jump_height")
    assert [at.hour for at in (*first.game.starts, *second.game.starts)] == [12, 18]
    turn_to("After")
    assert "0 of 5 saved, 0 changed." in told(application)
    application.button(key="all_as_planned").click().run()
    held = plans(filled_store, today, "jump_height")
    assert len(held) == 10 and held["done_volume"].equals(held["chosen_volume"])
    # Back at the first: its whistle, and no field that would make a second game of it.
    field(application, "selectbox", "plan_game_of_day").select("First game").run()
    assert field(application, "text_input", "plan_start").value == "12:00"
    turn_to("After")
    assert "5 of 5 saved, 0 changed." in told(application)
    turn_to("Before")
    assert not any("game_earlier" in str(each.key) for each in application.text_input)
    field(application, "number_input", "game_gap").set_value(9.0).run()
    application.button(key="save_and_print").click().run()
    changed, same = kept_games(filled_store, today, "jump_height")
    assert changed.game.gap_minutes == 9.0 and same == second


def test_soon_after_a_game_its_warm_up_is_still_in_effect(shown_store: Store) -> None:
    earlier = tuple((code, 10.0) for code, _ in HERE)
    left = []
    for minutes in (25, 60, 240):
        ended = START - timedelta(minutes=minutes)
        plan = planned(shown_store, course={"earlier_ended_at": ended}, earlier=earlier)
        left.append(plan.advice["left_over"].max())
        told = substitute_words.earlier_sentence(plan.game, plan.advice, "efforts")
        assert ("nothing of it" in told) == (plan.advice["left_over"].max() < 0.5)
    # 25 minutes less prevention, general part and gap (5, 12, 5) leave 3 minutes of fading.
    assert left[0] == pytest.approx((10 + 0.3 * 12) * 2 ** (-3 / 21)) and left == sorted(left)[::-1]
    unknown = planned(shown_store, course={"earlier_ended_at": NOON})
    told = substitute_words.earlier_sentence(unknown.game, pd.DataFrame({"left_over": []}), "x")
    assert "Nothing is known of the warm-up before" in told


def test_a_remembered_plan_is_the_same_as_a_new_one(filled_store: Store) -> None:
    by_hand = (("A1", 20.0, "feels good"),)
    usual, changed = planned(filled_store), planned(filled_store, set_by_hand=by_hand)
    known = start._planned.cache_info().hits
    assert planned(filled_store).game == usual.game
    assert start._planned.cache_info().hits == known + 1, "by what the curves hold"
    start._planned.cache_clear()
    start._basis.cache_clear()
    anew = planned(filled_store, set_by_hand=by_hand)
    pd.testing.assert_frame_equal(anew.advice, changed.advice)
    assert (anew.game, anew.own, anew.choices) == (changed.game, changed.own, changed.choices)
    assert changed.game != usual.game
    measure = get_measure(filled_store, "jump_height")
    set_most_allowed(filled_store, replace(measure, standard_volume=None), 3.0, "test")
    lower = planned(filled_store)
    assert lower.advice["advised"].max() <= 3 < usual.advice["advised"].max()
