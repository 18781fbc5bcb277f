"""The stop rule of fade tests: a default for each kind of effort, which a director can change."""

from __future__ import annotations

from dashboard.core.numbers import number, percent
from db.efforts.new_rounds import StopRule, check_stop
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.roster.measures import Measure, kind_of_effort
from modeling.testing.fade import IN_A_ROW, SHARE, SHARE_OF

SHARE_KEY, IN_A_ROW_KEY = "stop_share_pct", "stop_in_a_row"
"""Names of settings: followed by `:CODE` for one measure, alone for all of them."""


def stop_rule(store: Store, measure: Measure) -> StopRule:
    """Return a measure's stop rule: the one a director set, else the usual one of its kind."""
    usual = SHARE_OF.get(kind_of_effort(measure), SHARE)
    share = _setting(store, SHARE_KEY, measure)
    in_a_row = _setting(store, IN_A_ROW_KEY, measure)
    return StopRule(float(share) / 100 if share else usual, int(in_a_row or IN_A_ROW))


def _setting(store: Store, key: str, measure: Measure) -> str | None:
    return get_setting(store, f"{key}:{measure.code}", get_setting(store, key))


def set_stop_rule(store: Store, measure: Measure, rule: StopRule, person: str) -> None:
    """Set the stop rule of a measure for tests that begin from now on.

    Raises
    ------
    BadInput
        If it is not allowed.
    """
    check_stop(rule)
    set_setting(store, f"{SHARE_KEY}:{measure.code}", f"{100 * rule.share:g}", person)
    set_setting(store, f"{IN_A_ROW_KEY}:{measure.code}", str(rule.in_a_row), person)


def worse_pct(rule: StopRule, measure: Measure) -> float:
    """Return how far from the best a low effort is, in %; for times, how much slower."""
    return 100 * (1 / rule.share - 1 if measure.better == "lower" else 1 - rule.share)


def rule_of_worse(pct: float, in_a_row: int, measure: Measure) -> StopRule:
    """Return the rule by which efforts this far from the best are low; undoes `worse_pct`."""
    share = 1 / (1 + pct / 100) if measure.better == "lower" else 1 - pct / 100
    return StopRule(share, in_a_row)


def low_words(rule: StopRule, measure: Measure) -> str:
    """Return what a low effort is: `below 90 % of the best`, `more than 4 % slower ...`."""
    if measure.better == "lower":
        return f"more than {number(worse_pct(rule, measure))}\u00a0% slower than the best"
    return f"below {percent(100 * rule.share, 0)} of the best"


def rule_words(rule: StopRule, measure: Measure) -> str:
    """Return the stop rule in words."""
    one = rule.in_a_row == 1
    row = "the first is" if one else f"{rule.in_a_row} in a row are"
    return f"stop when {row} {low_words(rule, measure)} so far"
