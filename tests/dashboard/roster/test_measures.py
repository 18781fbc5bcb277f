"""Measures, set by clicking."""

from __future__ import annotations

import pytest

from dashboard.rules.club_limits import most_allowed
from dashboard.rules.measure_kinds import KINDS, measure_code
from dashboard.rules.worthwhile_source import PROPOSED, SET, note_proposed, worthwhile_source
from dashboard.screen.units import kept_system
from db.errors import BadInput
from db.file.store import Store
from db.plans.start_words import keep_start_word, start_word
from db.roster.measures import get_measure
from tests.dashboard.conftest import SignIn, told
from tests.dashboard.roster.test_people import by_key, press


def test_a_measure_is_set_on_the_page_with_the_commands_checks(
    filled_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(filled_store, "dora", "measures")
    application.selectbox(key="roster_measure").set_value("jump_height").run()
    by_key(application.number_input, "_standard").set_value(12.0)
    by_key(application.number_input, "_Highest").set_value(20.0)
    press(application, "Save")
    assert "stored efforts of 'jump_height' lie outside the new limits" in told(application)
    by_key(application.number_input, "_Highest").set_value(90.0)
    by_key(application.number_input, "_most").set_value(22.0)
    by_key(application.number_input, "_worthwhile").set_value(1.5)
    press(application, "Save")
    measure = get_measure(filled_store, "jump_height")
    assert (measure.standard_volume, measure.highest, measure.worthwhile_pct) == (12.0, 90.0, 1.5)
    assert most_allowed(filled_store, measure) == 22.0


def test_a_new_measure_takes_its_unit_and_direction_from_its_kind(
    empty_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(empty_store, "dora", "measures")
    application.selectbox(key="roster_measure").set_value("A new one").run()
    kind = "A run, by its time: s, less is better"
    application.selectbox(key="roster_measure_kind").set_value(kind).run()
    assert by_key(application.text_input, "_name").value == "20 m sprint"
    press(application, "Add the measure")
    added = get_measure(empty_store, "20_m_sprint")
    assert (added.unit, added.better, added.volume_unit) == ("s", "lower", "sprints")
    press(application, "Add the measure")
    assert "There is a measure with the code '20_m_sprint' already." in told(application)


def test_units_on_screens_are_chosen(empty_store: Store, sign_in: SignIn) -> None:
    application = sign_in(empty_store, "dora", "measures")
    application.button_group(key="roster_units").set_value("imperial").run()
    assert "The units are saved." in told(application)
    assert kept_system(empty_store) == "imperial"


def test_the_club_chooses_the_word_for_the_start_of_a_game(
    empty_store: Store, sign_in: SignIn
) -> None:
    assert start_word(empty_store) == "first whistle"
    application = sign_in(empty_store, "dora", "measures")
    by_key(application.selectbox, "roster_start_word").set_value("tip-off").run()
    assert "The word is saved." in told(application)
    assert start_word(empty_store) == "tip-off"
    # What somebody else chose meanwhile stays.
    keep_start_word(empty_store, "kick-off", "test")
    application.run()
    assert by_key(application.selectbox, "roster_start_word").value == "kick-off"
    with pytest.raises(BadInput, match="'gun' is none of: first whistle, kick-off"):
        keep_start_word(empty_store, "gun", "test")


def test_it_is_known_where_the_smallest_change_comes_from(empty_store: Store) -> None:
    measure = get_measure(empty_store, "jump_height")
    assert worthwhile_source(empty_store, measure) == SET
    note_proposed(empty_store, measure, measure.worthwhile_pct, "test")
    assert worthwhile_source(empty_store, measure) == PROPOSED
    note_proposed(empty_store, measure, 2.3, "test")
    assert worthwhile_source(empty_store, measure) == SET


def test_kinds_state_unit_and_direction_and_names_become_codes() -> None:
    for told_kind, measure in KINDS.items():
        assert not measure.name or f": {measure.unit}," in told_kind
        assert measure.better == "higher" or "less is better" in told_kind
    assert measure_code("  Größe, höchste (cm) ") == "grosse_hochste_cm"
    assert measure_code("\u30b8\u30e3\u30f3\u30d7") == ""
