"""Sheet, phone and pages: what to do, prevention for everybody, and cautions in heat and cold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pandas as pd
import pypdfium2

from dashboard.game.files import game_files
from dashboard.game.prevention_words import PREVENTION
from dashboard.game.substitute_words import FILLED_UP
from dashboard.game.words import player_line
from dashboard.own.facts import own_facts
from dashboard.own.plain import game_parts
from dashboard.own.words import game_sentences
from dashboard.rules.club_limits import set_most_allowed
from dashboard.rules.protocol_words import (
    BUILD_UP,
    effort_line,
    pace_minutes,
    paced_line,
    whole_line,
)
from dashboard.today.training_plan import plan_phone, plan_sheet
from db.file.store import Store
from db.plans.games import BenchRow, save_game
from db.plans.lengths import PlanEntry, save_choice
from db.roster.athletes import save_athletes
from db.roster.measures import get_measure
from db.roster.protocols import Protocol, protocol_of, save_protocol
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.full_store import GAME_DAY, game_of
from tests.dashboard.game.test_game import DAY
from tests.dashboard.game.test_game_course import planned


def test_sheet_and_phone_say_what_is_done_and_what_comes_first(filled_store: Store) -> None:
    save_protocol(
        filled_store, get_measure(filled_store, "jump_height"), Protocol(arms="arms free"), "dora"
    )
    for air, said in ((33.0, "heat rules"), (5.0, "warm clothing")):
        save_game(filled_store, replace(game_of(("A1", "A2")), ambient_c=air), "carl")
        files = game_files(filled_store, GAME_DAY, "jump_height")
        sheet = pypdfium2.PdfDocument(files.pdf())[0].get_textpage().get_text_range()
        for text in (sheet, files.phone().decode().replace("&#39;", "'")):
            text = " ".join(text.split())
            assert "maximal countermovement jumps, arms free, one every 30 s" in text
            assert "between two" not in text
            assert "the general part ends with about 3 easier efforts" in text
            assert "Injury prevention first, 5 min" in text
            assert "a short one skips none of it" in text and said in text
            # The times are set, so no text may suggest others.
            assert "begin later" not in text and "some minutes more" not in text
        [(kept, (wave,))] = files.games
        sentences = game_sentences(kept.game, wave, wave.lines[0], "efforts")
        assert any(said in each for each in sentences) and BUILD_UP in sentences


def test_the_phone_view_uses_the_singular_and_whole_sentences(filled_store: Store) -> None:
    game = game_of(("A1", "A2"))
    one = replace(game.players[0].plan, chosen_volume=1.0)
    first = replace(game.players[0], plan=one, top_up=2.0, own_length=False)
    save_game(filled_store, replace(game, players=(first, *game.players[1:])), "carl")
    told = game_files(filled_store, GAME_DAY, "jump_height").phone(one.athlete).decode()
    assert "<b>1</b>effort from" in told
    assert "<p>Move easily and build up, then 2 more shortly before the start.</p>" in told


def test_nobody_goes_out_cold_and_a_build_up_comes_before_efforts_done_again(
    filled_store: Store,
) -> None:
    game = game_of(("A1", "A2"))
    spent = replace(game.players[0].plan, chosen_volume=0.0)
    rows = (BenchRow(15.0, 2.0, (1.0, 0.5, 2.0)), BenchRow(65.0, 8.0, (5.0, 3.0, 7.0)))
    players = (
        replace(game.players[0], plan=spent, own_length=False),
        replace(game.players[1], role="bench", bench=rows, half_time=2.0),
    )
    save_game(filled_store, replace(game, players=players), "carl")
    files = game_files(filled_store, GAME_DAY, "jump_height")
    sheet = pypdfium2.PdfDocument(files.pdf())[0].get_textpage().get_text_range()
    assert "only the general part with its easier efforts" in " ".join(sheet.split())
    assert "<p>Only the general part with its easier efforts.</p>" in files.phone("A1").decode()
    # No time is shown where there are no efforts.
    assert "<b>0</b>efforts</div>" in files.phone("A1").decode()
    [(kept, (wave,))] = files.games
    [none] = [line for line in wave.lines if not line.volume]
    assert f"{none.efforts_at:%H:%M} " not in player_line(none, wave, "efforts")
    assert f"Long One (sub) from {none.begins_at:%H:%M}, 6 min general; only" in " ".join(
        sheet.split()
    )
    [part] = game_parts(own_facts(filled_store, "A1", GAME_DAY), [(kept, wave, none)], True)
    assert part.in_short == f"6 min moving, ready {none.ready_at:%H:%M}"
    assert "0 efforts" not in str(part.steps)
    told = files.phone("A2").decode()
    assert "Move easily and build up first." in told
    assert "At half-time 2 efforts again, after easy moving and a build-up." in told
    assert "move easily and build up first." in " ".join(sheet.split())
    assert "Then, after a short build-up, 2 efforts" in " ".join(sheet.split())


def test_a_training_s_phone_and_sheet_say_what_comes_first(filled_store: Store) -> None:
    plan = PlanEntry(date.today(), "A2", "jump_height", "best", 1, 4.0, 15.0, 4.0)
    save_choice(filled_store, plan, "carl")
    sheet = pypdfium2.PdfDocument(plan_sheet(filled_store, plan.day, "jump_height"))
    for text in (
        sheet[0].get_textpage().get_text_range(),
        plan_phone(filled_store, plan.day, "jump_height").decode().replace("&#39;", "'"),
    ):
        text = " ".join(text.split())
        assert PREVENTION in text and BUILD_UP in text
        assert "Jump height: maximal countermovement jumps, hands on hips, 15 s between two" in text


def test_a_saved_length_keeps_to_a_lower_most_that_is_known_later(filled_store: Store) -> None:
    game = planned(filled_store).game
    by_code = {player.plan.athlete: player for player in game.players}
    eager = replace(by_code["A4"], own_length=True, plan=replace(by_code["A4"].plan, reason="why"))
    before = by_code["A1"].plan.chosen_volume
    players = tuple({**by_code, "A4": eager}.values())
    save_game(filled_store, replace(game, players=players), "carl")
    born = [(DAY - timedelta(days=16 * 366)).isoformat()] * 2
    save_athletes(filled_store, pd.DataFrame({"athlete": ["A1", "A4"], "born": born}), "test")
    set_most_allowed(filled_store, get_measure(filled_store, "jump_height"), 15.0, "dora")
    rows = game_files(filled_store, DAY, "jump_height").rows().set_index("athlete")["volume"]
    # A1 drops to six tenths of 15. A length the coach set by hand stays, and so does an adult's.
    assert rows["A1"] == 9.0 < before and rows["A4"] == eager.plan.chosen_volume > 9.0
    assert rows["A3"] == by_code["A3"].plan.chosen_volume
    own = own_facts(filled_store, "A1", DAY).games
    [mine] = [p for p in own[0].game.players if p.plan.athlete == "A1"]
    assert mine.plan.chosen_volume == 9.0 and mine.top_up == mine.half_time == 0.0


def test_athletes_at_their_most_fill_up_with_easy_efforts_but_not_in_heat(
    filled_store: Store,
) -> None:
    game = planned(filled_store).game
    [late] = [p.plan for p in game.players if p.plan.athlete == "A1"]
    assert late.standard_volume is not None and late.chosen_volume > late.standard_volume
    set_most_allowed(
        filled_store, get_measure(filled_store, "jump_height"), late.chosen_volume, "dora"
    )
    for air, fills_up in ((20.0, True), (33.0, False)):
        save_game(filled_store, replace(game, ambient_c=air), "carl")
        files = game_files(filled_store, DAY, "jump_height")
        told = [FILLED_UP.capitalize() in files.phone(code).decode() for code in ("A1", "A3")]
        assert told == [fills_up, False]


def test_athletes_who_need_more_fill_up_even_if_the_standard_is_the_most(
    filled_store: Store,
) -> None:
    """A minor's most, six tenths of the club's, may likewise be no more than the standard."""
    before = planned(filled_store).game
    set_most_allowed(filled_store, get_measure(filled_store, "jump_height"), 15.0, "dora")
    for game in (before, planned(filled_store).game):
        save_game(filled_store, game, "carl")
        files = game_files(filled_store, DAY, "jump_height")
        rows = files.rows().set_index("athlete")
        assert rows.loc["A1", "volume"] == rows.loc["A1", "standard_volume"] == 15.0
        told = {code: FILLED_UP.capitalize() in files.phone(code).decode() for code in rows.index}
        assert [code for code, fills_up in told.items() if fills_up] == ["A1"]
    late = PlanEntry(date.today(), "A1", "jump_height", "best", 1, 15.0, 15.0, 15.0)
    for code in ("A1", "A3"):
        save_choice(filled_store, replace(late, athlete=code), "carl")
    sheet = pypdfium2.PdfDocument(plan_sheet(filled_store, late.day, "jump_height"))
    text = " ".join(sheet[0].get_textpage().get_text_range().split())
    assert text.count(FILLED_UP) == 1 and f"15 15 the standard, {FILLED_UP}" in text


def test_a_test_says_what_stays_the_same_each_time(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "dora", "run_test")
    line = whole_line(protocol_of(filled_store, get_measure(filled_store, "jump_height")))
    assert line.startswith("Maximal countermovement jumps, hands on hips, 15 s between two")
    assert "own depth, firm floor, own indoor shoes. The same each time." in line
    assert line in told(page)
    sprint = Protocol("maximal sprints", 120.0)
    assert "2 min between two" in effort_line(sprint)
    assert paced_line(sprint, pace_minutes(sprint)) == "maximal sprints, one every 2 min"
    assert pace_minutes(Protocol("maximal jumps", 15.0)) == 0.5
