"""A game as it is: opening work with recovery, half-time, rolling substitutions, a second game."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pandas as pd
import pytest

from dashboard.core.numbers import volume
from dashboard.fits.kept_curves import kept_draws
from dashboard.fits.lengths import responses
from dashboard.game import substitute_words
from dashboard.game.advice import Occasion, PlannedGame, plan_game, usual_game
from dashboard.game.course import MOST_AT_HALF_TIME, earlier_volumes
from dashboard.game.files import game_files
from dashboard.game.lines import wave_lines
from dashboard.game.substitute_words import bench_line, bench_words
from dashboard.rules.club_limits import check_choice
from dashboard.rules.game_work import game_work
from db.errors import BadInput
from db.file.store import Store
from db.plans.game_course import Course, last_course
from db.plans.games import Game, save_game
from db.plans.kept_games import kept_games
from db.roster.measures import get_measure
from tests.dashboard.test_game import DAY, HERE, NAMES, START, text_of

NOON = datetime(2026, 3, 20, 12, 0)


def planned(store: Store, **said: object) -> PlannedGame:
    with store.reading():
        kept = kept_draws(store, "jump_height")
        work = game_work(store, get_measure(store, "jump_height"))
        course = Course(work.recovery_seconds, 10.0)
        game = usual_game("jump_height", DAY, (START,), kept, work)
        game = replace(game, course=replace(course, **said.pop("course", {})))  # type: ignore[arg-type]
        facts = {"bench": ("A2",), **said}
        return plan_game(store, Occasion(game, HERE, **facts), kept)  # type: ignore[arg-type]


def lines_of(game: Game) -> dict[str, tuple[object, object]]:
    return {
        line.player.plan.athlete: (line, wave)
        for wave in wave_lines(game, NAMES)
        for line in wave.lines
    }


def test_a_game_is_for_the_average_of_its_opening_work_with_recovery(shown_store: Store) -> None:
    game = planned(shown_store).game
    assert (game.goal, game.efforts_to_follow, game.course.recovery_seconds) == (
        "sustained",
        10,
        60.0,
    )
    kept = kept_draws(shown_store, "jump_height")
    assert usual_game("jump_height", DAY, (START,), kept).goal == "best"


def test_the_work_of_a_game_leaves_everybody_their_length(shown_store: Store) -> None:
    """Nobody of these loses more than is worthwhile by keeping to the length of one best effort."""
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
    assert all(line.bench for line, _ in lines.values())  # type: ignore[attr-defined]
    line, wave = lines["A3"]
    told = bench_words(line, wave, "efforts")  # type: ignore[arg-type]
    assert told.startswith("After time on the bench, again before coming back: after 10 min")
    assert "after 60 min" in told
    line, wave = lines["A2"]
    assert bench_words(line, wave, "efforts").startswith("As a substitute, again")  # type: ignore[arg-type]
    assert bench_line(line, wave, "efforts").startswith("after 10 min")  # type: ignore[arg-type]


def test_before_a_second_game_what_was_done_counts_towards_the_day_s_most(
    filled_store: Store,
) -> None:
    first = planned(filled_store).game
    morning = replace(first, starts=(NOON,))
    save_game(filled_store, morning, "carl")
    [kept] = kept_games(filled_store, DAY, "jump_height")
    ended = NOON + timedelta(minutes=80)
    earlier = earlier_volumes(kept.game, ended)
    assert earlier["A1"] == first.players[0].plan.chosen_volume + first.players[0].half_time
    assert earlier_volumes(kept.game, None) == {} == earlier_volumes(kept.game, NOON)
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
    [again] = kept_games(filled_store, DAY, "jump_height")
    assert again.game.course.earlier_ended_at == ended
    assert earlier_volumes(again.game, ended) == pytest.approx(earlier)
    [sheet] = text_of(game_files(filled_store, DAY, "jump_height").pdf())
    assert "Second game of the day; the first ended at 13:20" in sheet
    greedy = replace(second.game.players[0].plan, chosen_volume=18.0, reason="wants it")
    with pytest.raises(BadInput, match="before the day's earlier game.* 25 efforts at most"):
        check_choice(filled_store, greedy, 20.0)


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
