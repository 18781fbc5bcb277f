"""Which tests to do next: saved by a fit, and read back as a list for the week."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.fits.usual_terms import latest_fit, responses, usual_terms
from dashboard.rules.club_limits import limits_by_athlete, mosts_by_athlete
from dashboard.rules.standing import blocked_codes
from dashboard.rules.test_days import athlete_days, week_rule
from dashboard.rules.typed_efforts import TIME_UNITS
from db.efforts.new_rounds import StopRule
from db.file.store import Store
from db.fits.next_tests import NEXT_TEST_COLUMNS, latest_next_tests
from db.roster.measures import Measure, get_measure

if TYPE_CHECKING:
    from modeling import ResponseModel
    from modeling.testing.simulated_tests import HowFar

DAY_COLUMNS = ("most_efforts", "first_day", "game_day")
LEAST_WORTH_PCT = 0.005
"""A test that is expected to bring less would show as 0.00 %, so it is not proposed."""
LEAST_SHARE = 0.1
"""A fade test uses up the best efforts of a day, so it must bring at least this share of the
smallest change worth having (our judgement)."""


def test_mosts(
    store: Store, measure: Measure, standard_volume: float, athletes: Iterable[str]
) -> dict[object, HowFar]:
    """Return how far each athlete's tests may go.

    The efforts measured in a routine session count among the day's maximal efforts, and its
    warm-up keeps to the usual limits. If volume is in minutes, these efforts add nothing to it.
    """
    from modeling.testing.simulated_tests import ROUTINE_EFFORTS, HowFar

    codes = list(athletes)
    limits = limits_by_athlete(store, measure, standard_volume, codes)
    measured = 0 if measure.volume_unit in TIME_UNITS else ROUTINE_EFFORTS
    return {
        code: HowFar(
            most.in_test,
            max(min(limits[code].most, min(most.in_day, most.in_test) - measured), 0.0),
        )
        for code, most in mosts_by_athlete(store, measure, codes).items()
    }


def next_test_rows(
    model: ResponseModel,
    athletes: Sequence[str],
    rule: StopRule,
    mosts: Mapping[object, HowFar] | None = None,
) -> pd.DataFrame:
    """Return the next tests that a fit saves: `db.fits.next_tests.NEXT_TEST_COLUMNS`."""
    from modeling.day.next_test import next_tests
    from modeling.estimate import interval

    found = next_tests(model, athletes, rule.share, mosts, rule.in_a_row)
    told = [asdict(each) | interval("takes", each.takes) for each in found]
    rows = pd.DataFrame(told, columns=NEXT_TEST_COLUMNS)
    return rows.astype({"sessions_to_firm_call": float})


def least_of_fade(worthwhile_pct: float) -> float:
    """Return the least that a fade test must be expected to bring to be proposed, in %."""
    return LEAST_SHARE * worthwhile_pct


def listed_tests(store: Store, measure: str, fade_tests: bool = True) -> pd.DataFrame:
    """Return each active athlete's most useful test, most worth first.

    Fade tests are listed only if `fade_tests` is set and they bring enough. Athletes who are out
    or in pain are left out.

    Columns: `athlete, name, kind, volume, worth_pct, sessions_to_firm_call, takes, takes_low,
    takes_high, most_efforts, first_day, game_day, sessions, efforts`; a row per athlete. The
    volume is what to do in the squad's usual circumstances, in whole units and within today's
    limits.
    """
    rows, fit = latest_next_tests(store, measure), latest_fit(store, measure)
    if fit is not None:
        proposed = fade_tests & (rows["worth_pct"] >= least_of_fade(fit.worthwhile_pct))
        rows = rows[proposed | (rows["kind"] == "routine")]
    rows = tests_to_do(store, measure, rows.drop_duplicates("athlete"))
    counts = responses(store, measure)[["athlete", "sessions", "efforts"]]
    return rows.merge(counts, on="athlete", how="left")


def tests_to_do(store: Store, measure: str, rows: pd.DataFrame) -> pd.DataFrame:
    """Turn next tests, whose volumes are in effect, into tests as they may be done today.

    Volumes become whole units to do in the usual circumstances, within today's limits. Three
    columns are added: the `most_efforts` of a fade test, the `first_day` with nothing against it
    (missing if there is none within two weeks) and its `game_day`. Athletes who are out or in
    pain are left out.
    """
    rows = rows[~rows["athlete"].isin(blocked_codes(store))].reset_index(drop=True)
    fit, terms = latest_fit(store, measure), usual_terms(store, measure)
    if fit is None:
        return rows.reindex(columns=[*rows, *DAY_COLUMNS])
    asked = rows["volume"] if terms is None else terms.to_do(rows["volume"]).round()
    measures = get_measure(store, measure)
    mosts = test_mosts(store, measures, fit.standard_volume, rows["athlete"])
    before = [mosts[code].before_routine for code in rows["athlete"]]
    known, rule, today = athlete_days(store, measures), week_rule(store), date.today()
    kinds = zip(rows["athlete"], rows["kind"] == "fade", strict=True)
    first = [known[code].first_day(today, rule, fade) for code, fade in kinds]
    around = zip(rows["athlete"], first, strict=True)
    return rows.assign(
        volume=np.minimum(asked, np.floor(before)) if len(rows) else asked,
        most_efforts=[float(mosts[code].in_fade) for code in rows["athlete"]],
        first_day=pd.to_datetime(pd.Series(first, rows.index, dtype=object)),
        game_day=[known[code].around(day) if day else "" for code, day in around],
    )


def worth_doing(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of `listed_tests` that are expected to bring anything."""
    return rows[rows["worth_pct"] >= LEAST_WORTH_PCT].reset_index(drop=True)


def as_asked(measure: str, rows: pd.DataFrame) -> Mapping[str, str | list[str]]:
    """Return what the page `Run a test` opens with for some rows of `listed_tests`.

    If the rows differ in kind or volume, the tester chooses it.
    """
    asked: dict[str, str | list[str]] = {"measure": measure, "test_athletes": list(rows["athlete"])}
    kinds, volumes = rows["kind"].unique(), rows["volume"].unique()
    if len(kinds) == 1:
        asked["test_kind"] = kinds[0]
        if kinds[0] == "routine" and len(volumes) == 1:
            asked["test_volume"] = f"{volumes[0]:.0f}"
    return asked
