"""Sheet, phone and pages say what is done, that prevention is for all, and what the air asks."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2

from dashboard.game.files import game_files
from dashboard.rules.protocol_words import effort_line, pace_minutes, paced_line, whole_line
from db.file.store import Store
from db.plans.games import save_game
from db.roster.measures import get_measure
from db.roster.protocols import Protocol, protocol_of, save_protocol
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.full_store import GAME_DAY, game_of


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


def test_a_phone_writes_one_effort_and_whole_sentences(filled_store: Store) -> None:
    game = game_of(("A1", "A2"))
    one = replace(game.players[0].plan, chosen_volume=1.0)
    first = replace(game.players[0], plan=one, top_up=2.0, own_length=False)
    save_game(filled_store, replace(game, players=(first, *game.players[1:])), "carl")
    told = game_files(filled_store, GAME_DAY, "jump_height").phone(one.athlete).decode()
    assert "<b>1</b>effort from" in told
    assert "<p>Move easily, then 2 more shortly before the start.</p>" in told


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
