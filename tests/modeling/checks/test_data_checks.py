"""Data checks: simulated squads with planted faults, squads without any, and outside checks."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.stats import median_abs_deviation, norm, t
from statsmodels.robust.scale import mad

from demo_team.mistakes import USED
from modeling import ResponseModel
from modeling.checks.data_checks import DataCheck, Finding, check_data
from modeling.checks.device_shift import step_statistics
from modeling.checks.robust_scales import core_tail, median_scale, own_scales
from modeling.checks.session_faults import FALSE_SHARE, nearest_factor
from modeling.testing.simulation import SHAPES, Noise, Protocol, simulate_squad, simulated_truths
from tests.demo_team.usable_rows import usable_rows

EFFORT, DAY = 0.025, 0.02
ATHLETES = 12
SEEDS = range(6)
FAULTY_SEEDS = SEEDS[:4]
PROTOCOL = Protocol(fade_tests=1, routine_sessions=8)


@cache
def squad(seed: int, heavy: bool) -> pd.DataFrame:
    """A squad without faults: noise normal, or t with 4 degrees of freedom and own sizes."""
    rng = np.random.default_rng(seed)
    noise = Noise(effort=0.0, day=0.0) if heavy else Noise(effort=EFFORT, day=DAY)
    truths = simulated_truths([*SHAPES][seed % 4], ATHLETES, rng)
    rows = simulate_squad(truths, PROTOCOL, noise, rng)
    if heavy:
        own = np.exp(0.2 * rng.standard_normal(ATHLETES))[pd.factorize(rows["athlete"])[0]]
        session = pd.factorize(rows["session"])[0]
        day = DAY * rng.standard_t(4, session.max() + 1)
        rows["value"] *= np.exp(EFFORT * own * rng.standard_t(4, len(rows)) + day[session])
    return rows.assign(value=rows["value"].round(1))


def looked_through(rows: pd.DataFrame) -> DataCheck:
    model = ResponseModel(standard_volume=15).fit(rows, rows["value"])
    return check_data(model.fit_)


def scaled(rows: pd.DataFrame, where: pd.Series, factor: float, digits: int = 1) -> pd.DataFrame:
    values = rows["value"].where(~where, (rows["value"] * factor).round(digits))
    return rows.assign(value=values)


def routine(rows: pd.DataFrame, rng: np.random.Generator) -> str:
    return str(rng.choice(rows.loc[rows["kind"] == "routine", "session"].unique()))


def is_about(finding: Finding, rows: pd.DataFrame, where: pd.Series) -> bool:
    """Whether a finding is about at least 80 % of some rows and nothing much else."""
    own, meant = set(finding.rows), set(np.flatnonzero(where))
    return len(own & meant) >= 0.8 * len(own | meant)


# Squads without faults


@cache
def clean_checks() -> list[tuple[int, DataCheck]]:
    squads = [squad(seed, heavy) for seed in SEEDS for heavy in (False, True)]
    return [(len(rows), looked_through(rows)) for rows in squads]


def test_clean_data_have_at_most_one_outlying_effort_in_a_thousand() -> None:
    """Found over 40 larger squads: 0.14 per 1,000 with normal noise, 0.25 with heavy tails."""
    efforts = sum(count for count, _ in clean_checks())
    found = sum(one.kind == "effort" for _, check in clean_checks() for one in check.findings)
    assert efforts > 8000
    assert found <= 0.001 * efforts


def test_clean_data_have_hardly_any_other_findings() -> None:
    """Over 40 larger squads no unit, swap, duplicate or shift, and 2 jumps in 5,760 sessions."""
    kinds = [one.kind for _, check in clean_checks() for one in check.findings]
    assert not {"unit", "swap", "duplicate", "device"} & set(kinds)
    assert kinds.count("jump") <= 2


# Planted faults


def test_slipped_efforts_are_found() -> None:
    """15 to 35 % down; noise of 2.5 % hides hardly any of them."""
    found = planted = others = 0
    for seed in FAULTY_SEEDS:
        rng = np.random.default_rng(100 + seed)
        rows = squad(seed, heavy=False)
        slips = rng.choice(len(rows), 4, replace=False)
        factors = np.ones(len(rows))
        factors[slips] = 1 - rng.uniform(0.15, 0.35, 4)
        check = looked_through(rows.assign(value=(rows["value"] * factors).round(1)))
        singles = {one.rows[0] for one in check.findings if one.kind == "effort"}
        planted += 4
        found += len(singles & set(slips.tolist()))
        others += len(singles - set(slips.tolist()))
    assert found >= 0.9 * planted
    assert others <= 2


@pytest.mark.parametrize("factor", [2.54, 3.6, 100.0])
def test_a_session_in_another_unit_is_found_with_its_factor(factor: float) -> None:
    for seed in range(3):
        rows = squad(seed, heavy=seed == 2)
        where = rows["session"] == routine(rows, np.random.default_rng(seed))
        check = looked_through(scaled(rows, where, 1 / factor, 3))
        [unit] = [one for one in check.findings if one.kind == "unit"]
        assert is_about(unit, rows, where)
        # With heavy tails that day was 12 % off by itself, so another factor is nearer.
        assert unit.factor == pytest.approx(1 / factor, rel=0.15 if seed == 2 else 1e-6)
        assert unit.chance <= (FALSE_SHARE if seed == 2 else 1e-3)
        # The session's efforts are not reported again one by one.
        assert not {one.rows[0] for one in check.findings if one.kind == "effort"} & set(unit.rows)
        restored = np.array(unit.expected) / rows.loc[where, "value"].to_numpy()
        assert np.all(np.abs(restored - 1) < 0.15)


def test_an_athlete_whose_sessions_are_all_in_another_unit_is_found() -> None:
    rows = squad(1, heavy=False)
    where = rows["athlete"] == "A04"
    [unit] = [
        one for one in looked_through(scaled(rows, where, 1 / 2.54)).findings if one.kind == "unit"
    ]
    assert (unit.athlete, len(unit.rows)) == ("A04", where.sum())


def test_a_session_far_from_the_others_is_a_jump() -> None:
    found = 0
    for seed in FAULTY_SEEDS:
        rows = squad(seed, heavy=False)
        where = rows["session"] == routine(rows, np.random.default_rng(seed))
        check = looked_through(scaled(rows, where, 0.8))
        found += any(one.kind == "jump" and is_about(one, rows, where) for one in check.findings)
    assert found == len(FAULTY_SEEDS)


def test_two_swapped_athletes_are_found() -> None:
    """Their levels differ by at least 15 %; closer athletes fit even when swapped."""
    found = 0
    for seed in FAULTY_SEEDS:
        rng = np.random.default_rng(200 + seed)
        rows = squad(seed, heavy=seed % 2 == 1).copy()
        level = np.log(rows.groupby("athlete")["value"].median()).sort_values()
        far = [(a, b) for a in level.index for b in level.index if level[b] - level[a] > 0.15]
        one, two = far[rng.integers(len(far))]
        number = rng.integers(2, 10)
        sessions = {f"{one}-{number:02d}": two, f"{two}-{number:02d}": one}
        where = rows["session"].isin(sessions)
        athlete = rows["session"].map(sessions).where(where, rows["athlete"])
        rows = rows.assign(athlete=athlete, session=athlete + rows["session"].str[3:])
        swaps = [each for each in looked_through(rows).findings if each.kind == "swap"]
        found += bool(swaps) and is_about(swaps[0], rows, where)
        assert len(swaps) <= 1
        assert all({each.athlete, each.other_athlete} == {one, two} for each in swaps)
    assert found == len(FAULTY_SEEDS)


@pytest.mark.parametrize("other", [False, True])
def test_a_duplicated_session_is_found(other: bool) -> None:
    for seed in range(3):
        rng = np.random.default_rng(300 + seed)
        rows = squad(seed, heavy=False)
        session = routine(rows, rng)
        copy = rows[rows["session"] == session].assign(session="copy")
        copy["day"] += 0 if other else 7 / 24
        if other:
            codes = set(rows["athlete"]) - set(copy["athlete"])
            copy["athlete"] = sorted(codes)[rng.integers(len(codes))]
        rows = pd.concat([rows, copy], ignore_index=True)
        [double] = [one for one in looked_through(rows).findings if one.kind == "duplicate"]
        assert is_about(double, rows, rows["session"].isin([session, "copy"]))
        assert (double.other_athlete is not None) == other


@pytest.mark.parametrize("stays", [True, False])
def test_a_device_that_shifts_everybody_is_found(stays: bool) -> None:
    """All 12 athletes are shifted by 6 %, and no athlete is blamed for it."""
    found = 0
    for seed in FAULTY_SEEDS:
        rows = squad(seed, heavy=False)
        day = 28.0
        where = rows["day"] >= day if stays else rows["day"] == day
        check = looked_through(scaled(rows, where, 1.06))
        shifts = [one for one in check.findings if one.kind == "device"]
        found += any(
            is_about(one, rows, where) and one.stays == stays and abs(one.apart_pct - 6) < 3
            for one in shifts
        )
        assert len(shifts) <= 1
        assert all(one.athlete is None for one in shifts)
    assert found == len(FAULTY_SEEDS)


@pytest.mark.parametrize("measure", ["jump_height", "throw_speed"])
def test_the_slipped_efforts_of_the_demo_squad_are_found_and_nothing_else(measure: str) -> None:
    rows = usable_rows(measure)
    mistakes = pd.read_csv("demo_team/mistakes.csv")
    planted = mistakes[(mistakes["file"] == f"{measure}.csv") & (mistakes["outcome"] == USED)]
    check = looked_through(rows)
    found = {
        (one.athlete, float(rows["value"].iloc[one.rows[0]]))
        for one in check.findings
        if one.kind == "effort"
    }
    assert found == set(zip(planted["athlete"], planted["written"].astype(float), strict=True))
    assert {one.kind for one in check.findings} == {"effort"}


def test_lower_is_better_does_not_invert_the_factor() -> None:
    """For times, the factor found is that of the values, although higher times are worse."""
    rows = squad(0, heavy=False)
    times = rows.assign(value=(80.0 / rows["value"]).round(3))
    where = times["session"] == routine(rows, np.random.default_rng(0))
    times = scaled(times, where, 2.54, 3)
    model = ResponseModel(standard_volume=15, higher_is_better=False).fit(times, times["value"])
    check = check_data(model.fit_, higher_is_better=False)
    [unit] = [one for one in check.findings if one.kind == "unit"]
    assert unit.factor == 2.54 and unit.apart_pct > 100
    assert np.mean(unit.expected) == pytest.approx(2.0, rel=0.4)


# Outside checks


def test_scales_match_scipy_and_statsmodels() -> None:
    values = np.random.default_rng(3).standard_normal(501)
    centred = values - np.median(values)
    assert median_scale(centred) == pytest.approx(median_abs_deviation(values, scale="normal"))
    assert median_scale(centred) == pytest.approx(mad(values), rel=1e-9)


def test_own_scales_are_shrunk_towards_the_common_scale() -> None:
    rng = np.random.default_rng(4)
    owner = np.repeat([0, 1, 2], [400, 400, 4])
    values = rng.standard_normal(804) * np.array([1.0, 2.0, 2.0])[owner]
    scales = own_scales(values, owner, 4)
    of_all = median_scale(values)
    assert scales[3] == of_all
    for one, share in ((0, 400 / 420), (2, 4 / 24)):
        own = median_scale(values[owner == one])
        assert np.log(scales[one] / of_all) == pytest.approx(share * np.log(own / of_all))


@pytest.mark.parametrize("df", [3.0, 5.0, 20.0])
def test_the_tail_is_found_despite_gross_outliers(df: float) -> None:
    rng = np.random.default_rng(5)
    values = 1.3 * rng.standard_t(df, 4000)
    values[:16] = 40.0
    tail = core_tail(values)
    assert tail.df == pytest.approx(df, rel=0.35)
    assert tail.scale == pytest.approx(1.3, rel=0.07)
    assert tail.limit(0.001) == pytest.approx(t.isf(0.0005, tail.df) * tail.scale)
    assert tail.chance(np.array([-4.0]))[0] == pytest.approx(2 * t.sf(4 / tail.scale, tail.df))
    assert tail.log_density(np.array([2.0]))[0] == pytest.approx(
        t.logpdf(2.0, tail.df, scale=tail.scale)
    )


def test_a_step_matches_least_squares_with_known_noise() -> None:
    """Against statsmodels: athletes as dummies, a trend, the step, weights, scale fixed at 1."""
    rng = np.random.default_rng(6)
    athlete = rng.integers(0, 6, 80)
    day = rng.integers(0, 100, 80).astype(float)
    variance = rng.uniform(0.5, 2.0, 80)
    level = athlete + 0.02 * day + (day >= 60) + np.sqrt(variance) * rng.standard_normal(80)
    mark = (day >= 60).astype(float)
    found = step_statistics(level, athlete, day, variance, mark[:, None])
    design = np.column_stack([np.eye(6)[athlete], day, mark])
    fit = sm.WLS(level, design, weights=1 / variance).fit(cov_type="fixed scale")
    assert found.shift[0] == pytest.approx(fit.params[-1])
    assert found.statistic[0] == pytest.approx(fit.params[-1] / fit.bse[-1])


def test_the_nile_falls_from_1899_on() -> None:
    """The change after 1898, means 1097.75 and 849.97 (Cobb 1978, Biometrika 65, 243-251).

    For one series the statistic is the cumulative sum's, S_k / (s sqrt(k (n - k) / n)).
    """
    nile = sm.datasets.nile.load_pandas().data
    year, flow = nile["year"].to_numpy(), nile["volume"].to_numpy()
    count = len(flow)
    variance = np.full(count, 125.0**2)
    marks = (year[:, None] >= year[1:]).astype(float)
    steps = step_statistics(flow, np.zeros(count, int), year, variance, marks, trend=False)
    best = int(np.argmax(np.abs(steps.statistic)))
    assert year[1 + best] == 1899
    assert steps.shift[best] == pytest.approx(849.97 - 1097.75, abs=0.01)
    k = np.arange(1, count)
    cumulative = np.cumsum(flow - flow.mean())[:-1]
    closed = -cumulative / (125.0 * np.sqrt(k * (count - k) / count))
    np.testing.assert_allclose(steps.statistic, closed)


def test_the_log_ratio_of_any_shift_is_bounded_by_a_normal() -> None:
    """The claim behind units and swaps: P(d Z - d^2 / 2 > g) is at most P(Z > sqrt(2 g))."""
    for gain in (2.0, 5.0, 10.0):
        shifts = np.linspace(0.2, 12.0, 400)
        chances = norm.sf(gain / shifts + shifts / 2)
        bound = norm.sf(np.sqrt(2 * gain))
        assert chances.max() <= bound
        assert chances.max() == pytest.approx(bound, rel=0.01)


def test_a_factor_explains_what_lies_near_it() -> None:
    assert nearest_factor(np.log(2.6), 0.03, 1.0) == 2.54
    assert nearest_factor(np.log(1 / 3.5), 0.03, 1.0) == pytest.approx(1 / 3.6)
    assert nearest_factor(-np.log(100.0), 0.03, -1.0) == 100.0
    assert nearest_factor(np.log(1.5), 0.03, 1.0) is None
