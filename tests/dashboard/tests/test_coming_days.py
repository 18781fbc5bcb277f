"""Tests over the coming days: every rule of the week holds, and what is worth most goes first."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta

import numpy as np
import pandas as pd
import pytest

from dashboard.rules.test_days import AthleteDays
from dashboard.tests.coming_days import AHEAD, day_lines, spread_tests, total_sentence
from db.file.store import Store
from modeling.day.caution import WeekRule, reasons_against_testing
from tests.dashboard.conftest import SignIn, told

TODAY = date(2026, 3, 16)
RULE = WeekRule()


def listed(sessions: list[float], kind: str = "routine") -> pd.DataFrame:
    codes = [f"A{number}" for number in range(len(sessions))]
    return pd.DataFrame(
        {
            "athlete": codes,
            "name": [f"Name {code}" for code in codes],
            "kind": kind,
            "volume": 8.0,
            "most_efforts": 40.0,
            "takes": 3.0 if kind == "routine" else 12.0,
            "takes_low": 3.0 if kind == "routine" else 6.0,
            "takes_high": 3.0 if kind == "routine" else 30.0,
            "sessions_to_firm_call": sessions,
        }
    )


@pytest.mark.parametrize("seed", range(8))
def test_games_rest_and_room_are_respected_every_day(seed: int) -> None:
    chance = np.random.default_rng(seed)
    rows = listed([*chance.integers(0, 5, 9).astype(float), np.nan], "fade")
    rest, most = int(chance.integers(0, 4)), int(chance.integers(1, 5))
    games = tuple(
        datetime.combine(TODAY + timedelta(days=int(day)), time(18))
        for day in chance.choice(14, 3, replace=False)
    )
    known = {
        code: AthleteDays(games, (TODAY - timedelta(days=int(chance.integers(1, 6))),))
        for code in rows["athlete"]
    }
    coming = spread_tests(rows, known, RULE, rest, most, TODAY)
    given = [(test.row["athlete"], test.day) for test in coming if test.day is not None]
    assert max(Counter(day for _, day in given).values()) <= most
    for code, days in known.items():
        own = sorted(day for athlete, day in given if athlete == code)
        assert all(
            (after - before).days > rest for before, after in zip(own, own[1:], strict=False)
        )
        for number, day in enumerate(own):
            before = (*days.tests, *own[:number])
            at = datetime.combine(day, time(17))
            assert not reasons_against_testing(at, games, before, RULE)
            assert TODAY <= day < TODAY + AHEAD
    with_none = {test.row["athlete"] for test in coming if test.day is None}
    assert {code for code, _ in given} | with_none == set(rows["athlete"]), "nobody is forgotten"


def test_first_tests_come_before_second_ones_and_those_worth_most_come_first() -> None:
    known = {f"A{number}": AthleteDays() for number in range(3)}
    coming = spread_tests(listed([2.0, np.nan, 0.0]), known, RULE, 0, 1, TODAY)
    assert [(test.row["athlete"], test.number) for test in coming] == [
        *(("A0", 1), ("A1", 1), ("A2", 1), ("A0", 2)),
    ]
    assert [(test.day - TODAY).days for test in coming if test.day] == [0, 1, 2, 3]
    lines = day_lines(coming, known, "efforts")
    assert lines[0].endswith("Name A0, 3 efforts after 8 efforts (test 1 of 2)")
    assert total_sentence(coming) == "4 tests of 3 athletes on 4 days, about 12 maximal efforts."


def test_an_athlete_who_can_never_be_tested_is_named() -> None:
    games = tuple(
        datetime.combine(TODAY + timedelta(days=day), time(18)) for day in range(0, 20, 2)
    )
    known = {"A0": AthleteDays(games)}
    coming = spread_tests(listed([3.0], "fade"), known, RULE, 2, 4, TODAY)
    assert day_lines(coming, known, "efforts") == ["No day within two weeks: Name A0"]


def test_the_page_follows_the_room_in_a_session(shown_store: Store, sign_in: SignIn) -> None:
    page = sign_in(shown_store, "carl", "tests_to_do")

    def days() -> int:
        [lines] = [each.value for each in page.markdown if "Untested Five, fade test" in each.value]
        return str(lines).count("- **")

    together = days()
    page.number_input(key="tests_in_session").set_value(1).run()
    assert not page.exception
    assert days() > together
    assert f"on {days()} days" in told(page)
