"""The stop rule of each measure: its default, what a director set, and how it is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.rules.stop_rules import (
    rule_of_worse,
    rule_words,
    set_stop_rule,
    stop_rule,
    worse_pct,
)
from db.efforts.new_rounds import StopRule
from db.errors import BadInput
from db.file.settings import set_setting
from db.roster.measures import Measure, get_measure
from modeling.testing.fade import fade_state
from tests.dashboard.conftest import new_store

OWN = Measure("agility", "Agility run", "s", "lower")


def test_each_kind_of_effort_has_its_usual_rule(tmp_path: Path) -> None:
    """Jumps 90 %, throws 95 %, sprint times 3 to 5 % slower: common practice, no source."""
    store = new_store(tmp_path / "rule.duckdb")
    told = {
        code: rule_words(stop_rule(store, get_measure(store, code)), get_measure(store, code))
        for code in ("jump_height", "throw_speed", "sprint_10m", "bar_speed")
    }
    assert {code: text.replace("\u00a0", " ") for code, text in told.items()} == {
        "jump_height": "stop when 3 in a row are below 90 % of the best so far",
        "throw_speed": "stop when 3 in a row are below 95 % of the best so far",
        "sprint_10m": "stop when 3 in a row are more than 4 % slower than the best so far",
        "bar_speed": "stop when 3 in a row are below 90 % of the best so far",
    }
    assert stop_rule(store, OWN) == stop_rule(store, get_measure(store, "sprint_10m"))


def test_a_throw_and_a_sprint_that_fade_are_stopped(tmp_path: Path) -> None:
    store = new_store(tmp_path / "rule.duckdb")
    throw, sprint = (get_measure(store, code) for code in ("throw_speed", "sprint_10m"))
    share = stop_rule(store, throw).share
    assert fade_state([25.0, 23.7, 23.6, 23.7], share=share).over
    share = stop_rule(store, sprint).share
    assert fade_state([1.80, 1.88, 1.88, 1.89], share=share, higher_is_better=False).over
    assert not fade_state([1.80, 1.87, 1.87, 1.87], share=share, higher_is_better=False).over


def test_a_rule_is_set_for_one_measure_only(tmp_path: Path) -> None:
    store = new_store(tmp_path / "rule.duckdb")
    jump, sprint = (get_measure(store, code) for code in ("jump_height", "sprint_10m"))
    set_stop_rule(store, jump, StopRule(0.85, 1), "dora")
    set_stop_rule(store, sprint, rule_of_worse(3.0, 2, sprint), "dora")
    assert stop_rule(store, jump) == StopRule(0.85, 1)
    assert rule_words(stop_rule(store, jump), jump).startswith("stop when the first is below 85")
    assert worse_pct(stop_rule(store, sprint), sprint) == pytest.approx(3.0, abs=1e-3)
    assert stop_rule(store, get_measure(store, "throw_speed")) == StopRule(0.95, 3)
    with pytest.raises(BadInput, match="Take 1 to 20 in a row"):
        set_stop_rule(store, jump, StopRule(1.0, 3), "dora")


def test_an_old_rule_for_all_measures_holds_where_none_is_set(
    tmp_path: Path,
) -> None:
    store = new_store(tmp_path / "rule.duckdb")
    set_setting(store, "stop_share_pct", "80", "dora")
    assert stop_rule(store, get_measure(store, "throw_speed")) == StopRule(0.8, 3)
