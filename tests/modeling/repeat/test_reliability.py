"""Reliability against published worked examples, certified data and simulated truths."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, chi2, f_oneway, norm, t
from statsmodels.regression.mixed_linear_model import MixedLM

from modeling.errors import ModelError
from modeling.repeat.detection import best_of_bias, day_noise, detectable_change, sessions_needed
from modeling.repeat.method_agreement import agreement
from modeling.repeat.reliability import Reliability, paired, reliability
from modeling.repeat.usual_sessions import usual_sessions
from modeling.repeat.variance_components import Bounded, components, percent_of
from tests.benchmarks.coverage import Squad, coverage, sessions_of

# Shrout & Fleiss (1979), 6 targets x 4 judges, as printed with the output of R psych::ICC.
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
)
# 8 wines x 4 judges: the data set `icc` of pingouin, with the results in its documentation.
WINES = np.array([[1, 1, 3, 6, 6, 7, 8, 9], [2, 3, 8, 4, 5, 5, 7, 9]]).T
WINES = np.column_stack([WINES, [0, 3, 1, 3, 5, 6, 7, 9], [1, 2, 4, 3, 6, 2, 9, 8]])
# Weir (2005), data set A, 1RM squat in kg, as in the tests of R SimplyAgree (p. 236).
WEIR = np.array(
    [[146, 148, 170, 90, 157, 156, 176, 205], [140, 152, 152, 99, 145, 153, 167, 218]]
).T
# Five athletes on two days, made up.
TWO_DAYS = np.array([[61, 77, 80, 56, 67], [66, 76, 86, 55, 64]]).T
# Bland & Altman (1986), peak expiratory flow in l/min, first readings of both meters.
WRIGHT = "494,395,516,434,476,557,413,442,650,433,417,656,267,478,178,423,427"
MINI = "512,430,520,428,500,600,364,380,658,445,432,626,260,477,259,350,451"
# NIST StRD, analysis of variance, SiRstv: certified values, 5 instruments x 5.
SIRSTV = (
    "196.3052 196.1240 196.1890 196.2569 196.3403 196.3042 196.3825 196.1669 196.3257 196.0422 "
    "196.1303 196.2005 196.2889 196.0343 196.1811 196.2795 196.1748 196.1494 196.1485 195.9885 "
    "196.2119 196.1051 196.1850 196.0052 196.2090"
)
# NIST StRD, AtmWtAg, 2 instruments x 24, in ten-millionths above 107.8681: numerically hard.
ATM_WT_AG = (
    "568 465 572 785 446 903 526 494 616 587 519 486 419 569 508 672 385 518 662 424 360 333 610 "
    "477 079 344 513 197 604 385 642 365 151 082 517 448 198 482 334 609 101 512 469 360 254 261 "
    "450 368"
)


def crossed(table: np.ndarray) -> pd.DataFrame:
    """Turn a table of athletes by trials into rows."""
    athletes, trials = table.shape
    return pd.DataFrame(
        {
            "athlete": np.repeat(np.arange(athletes), trials),
            "trial": np.tile(np.arange(1, trials + 1), athletes),
            "value": table.ravel().astype(float),
        }
    )


def parts_of(table: np.ndarray):
    rows = crossed(table)
    return components(rows["athlete"], rows["trial"], rows["value"])


def compared(rows: pd.DataFrame) -> Reliability:
    return reliability(rows, ["value"])["value"]


def ends(bounded: Bounded) -> tuple[float, float, float]:
    return bounded.value, bounded.low, bounded.high


# Published examples


def test_shrout_and_fleiss_s_analysis_of_variance_and_correlations() -> None:
    parts = parts_of(SHROUT_FLEISS)
    assert parts.mean_square_athletes == pytest.approx(11.241667, abs=1e-6)
    assert parts.mean_square_trials == pytest.approx(32.486111, abs=1e-6)
    assert parts.mean_square_error == pytest.approx(1.019444, abs=1e-6)
    assert (parts.df_athletes, parts.df_trials, parts.df_error) == (5, 3, 15)
    assert parts.f_athletes == pytest.approx(11.02724796, abs=1e-8)
    icc_3, icc_2 = parts.icc_3_1(0.95), parts.icc_2_1(0.95)
    assert icc_3.value == pytest.approx(0.71484071, abs=1e-8)
    assert ends(icc_3)[1:] == pytest.approx((0.342, 0.946), abs=5e-4)
    assert icc_2.value == pytest.approx(0.28976378, abs=1e-8)
    assert ends(icc_2)[1:] == pytest.approx((0.019, 0.761), abs=5e-4)


def test_without_trials_it_is_the_one_way_correlation() -> None:
    """ICC(1,1) of Shrout & Fleiss; its lower end is -0.133, which is cut off at 0."""
    rows = crossed(SHROUT_FLEISS)
    parts = components(rows["athlete"], None, rows["value"])
    assert parts.f_athletes == pytest.approx(1.79467849, abs=1e-8)
    icc = parts.icc_3_1(0.95)
    assert ends(icc) == pytest.approx((0.16574177, 0.0, 0.723), abs=5e-4)
    assert parts.icc_2_1().value == pytest.approx(icc.value)


def test_the_wines_match_another_package() -> None:
    parts = parts_of(WINES)
    assert parts.f_athletes == pytest.approx(11.787, abs=5e-4)
    assert parts.icc_3_1().value == pytest.approx(0.729, abs=5e-4)
    assert parts.icc_2_1().value == pytest.approx(0.728, abs=5e-4)
    for icc in (parts.icc_3_1(0.95), parts.icc_2_1(0.95)):
        assert (round(icc.low, 2), round(icc.high, 2)) == (0.43, 0.93)


def test_weir_s_standard_error_of_measurement() -> None:
    found, parts = compared(crossed(WEIR)), parts_of(WEIR)
    assert round(found.typical_error.value, 1) == 7.6
    assert found.typical_error.value == pytest.approx(7.556927, abs=1e-6)
    assert found.minimal_detectable.value == pytest.approx(20.946732, abs=1e-3)
    assert parts.mean_square_trials / parts.mean_square_error == pytest.approx(0.53, abs=5e-3)
    assert found.icc_3_1.value == pytest.approx(0.947016, abs=1e-6)
    assert found.icc_2_1.value == pytest.approx(0.949975, abs=1e-6)


def test_two_days_give_what_hopkins_reads_off_their_differences() -> None:
    """Closed forms of Hopkins (2000), Sports Med 30:1-15, and of Shrout & Fleiss for two trials."""
    first, second = TWO_DAYS.T.astype(float)
    change, in_logs = second - first, np.log(second / first)
    error = change.std(ddof=1) / np.sqrt(2)
    interval = error * np.sqrt(4 / chi2.ppf([0.95, 0.05], 4))
    athletes = 2 * np.var((first + second) / 2, ddof=1)
    found = compared(crossed(TWO_DAYS))
    assert ends(found.typical_error) == pytest.approx((error, *interval), rel=1e-6)
    error_in_logs = in_logs.std(ddof=1) / np.sqrt(2)
    assert found.typical_error_pct.value == pytest.approx(100 * np.expm1(error_in_logs), rel=1e-6)
    assert found.trend_pct.value == pytest.approx(100 * np.expm1(in_logs.mean()), rel=1e-6)
    ratio = (athletes - error**2) / (athletes + error**2)
    assert found.icc_3_1.value == pytest.approx(ratio, rel=1e-6)
    assert found.pairs is not None
    assert found.pairs.difference.value == pytest.approx(change.mean())
    reach = float(t.ppf(0.975, 4))
    wide = agreement(first, second, holds=reach)
    half = (wide.upper.value - wide.lower.value) / 2
    assert half == pytest.approx(reach * change.std(ddof=1), rel=1e-6)


def test_bland_and_altman_s_limits_of_agreement() -> None:
    wright, mini = (np.array(row.split(","), dtype=float) for row in (WRIGHT, MINI))
    found = agreement(mini, wright, confidence=0.95)
    assert (found.pairs, round(found.difference.value, 1), round(found.sd, 1)) == (17, -2.1, 38.8)
    assert ends(found.difference)[1:] == pytest.approx((-22.048838, 17.813544), abs=1e-5)
    assert found.lower.value == pytest.approx(-78.097302, abs=2e-3)
    assert found.upper.value == pytest.approx(73.862007, abs=2e-3)
    two = agreement(mini, wright, confidence=0.95, holds=2.0)
    # Published from rounded inputs: -79.7 (-114.3 to -45.1) and 75.5 (40.9 to 110.1).
    assert ends(two.lower) == pytest.approx((-79.7, -114.3, -45.1), abs=0.2)
    assert ends(two.upper) == pytest.approx((75.5, 40.9, 110.1), abs=0.2)


@pytest.mark.parametrize(
    ("values", "groups", "f_statistic", "between", "within", "digits"),
    [
        (SIRSTV, 5, 1.18046237440255, 1.27865654e-02, 1.0831828e-02, 1e-9),
        (ATM_WT_AG, 2, 15.9467335677930, 3.638341875e-09, 2.28155932971014e-10, 1e-6),
    ],
)
def test_certified_analyses_of_variance(
    values: str, groups: int, f_statistic: float, between: float, within: float, digits: float
) -> None:
    value = np.array(values.split(), dtype=float)
    if groups == 2:
        value = 107.8681 + value * 1e-7
    instrument = np.repeat(np.arange(groups), len(value) // groups)
    parts = components(instrument, None, value)
    assert parts.f_athletes == pytest.approx(f_statistic, rel=digits)
    assert parts.mean_square_athletes == pytest.approx(between, rel=digits)
    assert parts.mean_square_error == pytest.approx(within, rel=digits)
    split = [value[instrument == group] for group in range(groups)]
    assert parts.f_athletes == pytest.approx(f_oneway(*split).statistic, rel=1e-6)


def test_the_bias_of_a_best_matches_the_tables() -> None:
    """Expected largest of n normal values, standard tables."""
    published = {1: 0.0, 2: 0.56419, 3: 0.84628, 5: 1.16296, 10: 1.53875, 30: 2.04276}
    assert {n: round(best_of_bias(n), 5) for n in published} == published


# Different numbers of sessions


COUNTS = (1, 2, 2, 3, 3, 4, 4, 5, 6, 7, 8)
UNEVEN = Squad(COUNTS, 3.0, 0.5, 1.0)


def test_adjusted_sums_of_squares_match_two_regressions() -> None:
    """Least squares on indicator columns, with and without each factor (numpy)."""
    rows = sessions_of(UNEVEN, 3)
    athletes = pd.get_dummies(rows["athlete"]).to_numpy(float)
    trials = pd.get_dummies(rows["trial"]).to_numpy(float)

    def left(*columns: np.ndarray) -> float:
        design = np.column_stack(columns)
        fitted = design @ np.linalg.lstsq(design, rows["value"].to_numpy(), rcond=None)[0]
        return float(((rows["value"] - fitted) ** 2).sum())

    both, parts = left(athletes, trials), components(rows["athlete"], rows["trial"], rows["value"])
    assert parts.df_error == len(rows) - len(COUNTS) - 8 + 1
    assert parts.mean_square_error * parts.df_error == pytest.approx(both)
    assert parts.mean_square_athletes * parts.df_athletes == pytest.approx(left(trials) - both)
    assert parts.mean_square_trials * parts.df_trials == pytest.approx(left(athletes) - both)


def test_order_and_names_of_rows_do_not_matter() -> None:
    rows = sessions_of(UNEVEN, 4)
    mixed = rows.sample(frac=1, random_state=1).assign(
        athlete=lambda r: "A" + r["athlete"].map(str)
    )
    first, second = compared(rows), compared(mixed)
    assert first.icc_2_1.low == pytest.approx(second.icc_2_1.low)
    assert first.trend_pct.high == pytest.approx(second.trend_pct.high)
    assert first.pairs is not None and second.pairs is not None
    assert first.pairs.lower.value == pytest.approx(second.pairs.lower.value)


def test_intervals_hold_the_truth_nine_times_in_ten() -> None:
    """Uneven numbers of sessions, trials that move everybody; 200 seeds."""
    seeds = 200
    held = coverage(Squad(COUNTS, 2.0, 0.4, 1.0), seeds)
    low, high = binom.ppf([0.0005, 0.9995], seeds, 0.9)
    assert {name: share for name, share in held.items() if not low <= share * seeds <= high} == {}


def test_athletes_who_do_not_differ_have_no_smallest_worthwhile_change() -> None:
    rows = crossed(np.array([[50.0, 52.0], [52.0, 50.0], [51.0, 51.0]]))
    found = compared(rows)
    assert found.smallest_worthwhile.value == found.icc_3_1.value == found.icc_2_1.value == 0.0
    assert found.smallest_worthwhile.high >= 0.0


def test_trials_of_few_athletes_are_not_shown() -> None:
    shown = [each.trial for each in compared(sessions_of(UNEVEN, 5)).trials]
    assert shown == [1, 2, 3, 4, 5, 6]


def test_no_session_is_in_two_pairs() -> None:
    rows = sessions_of(Squad((1, 2, 3, 5), 3.0, 0.0, 1.0), 6)
    first, second = paired(rows, "value")
    assert len(first) == 0 + 1 + 1 + 2
    assert len({*first, *second}) == 2 * len(first)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (np.array([[50.0, 51.0, 52.0]]), "two athletes with two sessions each"),
        (np.array([[50.0], [51.0], [52.0]]), "two athletes with two sessions each"),
        (np.array([[50.0, 50.0], [51.0, 51.0]]), "do not differ at all"),
    ],
)
def test_too_little_to_compare_gets_a_sentence(table: np.ndarray, words: str) -> None:
    with pytest.raises(ModelError, match=words):
        compared(crossed(table))


def test_no_sessions_at_all_are_too_few() -> None:
    with pytest.raises(ModelError, match="two athletes with two sessions each"):
        compared(crossed(np.empty((0, 0))))


def test_one_pair_has_no_limits() -> None:
    with pytest.raises(ValueError, match="At least two pairs"):
        agreement([50.0], [51.0])


# What efforts and sessions show


def test_a_detectable_change_is_detected_four_times_in_five() -> None:
    """Simulate a z test at 5 % of the difference between means over sessions and efforts."""
    day, effort, efforts, sessions = Bounded(2.0, 2.0, 2.0), Bounded(3.0, 3.0, 3.0), 3, 4
    change = detectable_change(day, effort, efforts, sessions).value
    random = np.random.default_rng(2)
    days = random.normal(0, 2.0, (20_000, 2, sessions))
    means = days + random.normal(0, 3.0, (20_000, 2, sessions, efforts)).mean(axis=3)
    means = means.mean(axis=2)
    error = np.sqrt(2 * (4.0 + 9.0 / efforts) / sessions)
    seen = np.abs(change + means[:, 1] - means[:, 0]) > norm.ppf(0.975) * error
    assert seen.mean() == pytest.approx(0.8, abs=0.01)


def test_sessions_needed_bring_the_detectable_change_down_to_what_is_wanted() -> None:
    day, effort, wanted = Bounded(2.0, 1.6, 2.4), Bounded(3.0, 2.8, 3.2), Bounded(1.5, 1.5, 1.5)
    needed = sessions_needed(detectable_change(day, effort, 3), wanted)
    assert needed is not None
    assert detectable_change(day, effort, 3, int(needed.value)).value <= 1.5
    assert detectable_change(day, effort, 3, int(needed.value) - 1).value > 1.5
    assert needed.low < needed.value < needed.high
    open_ended = sessions_needed(detectable_change(day, effort, 3), Bounded(1.5, 0.0, 2.0))
    assert open_ended is not None and open_ended.high == np.inf
    assert sessions_needed(detectable_change(day, effort, 3), Bounded(0.0, 0.0, 1.0)) is None


def test_the_noise_of_days_is_the_typical_error_without_that_of_efforts() -> None:
    typical, effort = Bounded(2.5, 2.2, 2.9), Bounded(3.0, 2.8, 3.2)
    found = day_noise(typical, effort, 4)
    assert found.value == pytest.approx(2.0)
    assert found.low < 2.0 < found.high
    assert detectable_change(found, effort, 4).value == pytest.approx(
        detectable_change(typical, Bounded(0.0, 0.0, 0.0), 1).value
    )
    assert ends(day_noise(typical, Bounded(6.0, 5.9, 6.1), 4))[:2] == (0.0, 0.0)


def test_the_interval_of_a_detectable_change_holds_it() -> None:
    """Both noises are estimated with chi-square errors; 400 draws."""
    random, held = np.random.default_rng(3), 0
    truth = detectable_change(Bounded(2, 2, 2), Bounded(3, 3, 3), 3).value
    for _ in range(400):
        sizes = []
        for size, df in ((2.0, 60), (3.0, 300)):
            value = size * np.sqrt(random.chisquare(df) / df)
            wide = 1.645 * value / np.sqrt(2 * df)
            sizes.append(Bounded(value, value - wide, value + wide))
        found = detectable_change(*sizes, 3)
        held += found.low <= truth <= found.high
    low, high = binom.ppf([0.0005, 0.9995], 400, 0.9)
    assert low <= held <= high


def test_percent_of_logarithms() -> None:
    assert ends(percent_of(Bounded(0.0, np.log(0.9), np.log(1.1)))) == pytest.approx((0, -10, 10))


# Which sessions are compared


def routine(sessions: dict[str, list[tuple[float, list[float]]]]) -> pd.DataFrame:
    """Make efforts from sessions: by athlete, the volume and the values of each session."""
    return pd.DataFrame(
        [
            {"athlete": code, "session": f"{code}{number}", "volume": volume, "value": value}
            for code, listed in sessions.items()
            for number, (volume, values) in enumerate(listed)
            for value in values
        ],
        columns=["athlete", "session", "volume", "value"],
    )


def test_sessions_at_about_the_athlete_s_usual_volume_are_numbered() -> None:
    efforts = routine(
        {
            "A1": [(20, [40.0, 41.0]), (40, [42.0, 43.0]), (24, [40.5, 41.5]), (17, [40.0, 42.0])],
            "A2": [(3, [30.0, 31.0]), (5, [30.0, 32.0]), (6, [30.0, 30.0])],
        }
    )
    found = usual_sessions(efforts)
    trials = dict(zip(found.sessions["session"], found.sessions["trial"], strict=True))
    assert {s: n for s, n in trials.items() if not pd.isna(n)} == {
        **{"A10": 1, "A12": 2, "A13": 3},
        **{"A20": 1, "A21": 2, "A22": 3},
    }
    assert found.usual_efforts == 2
    assert found.sessions["best"].iloc[0] == pytest.approx(41.0)
    assert found.sessions["mean"].iloc[0] == pytest.approx(40.5)


@pytest.mark.parametrize("better", [1.0, -1.0])
def test_bests_are_adjusted_to_the_usual_number_of_efforts(better: float) -> None:
    """In a simulation the same level with 2, 3 or 8 efforts gives the same mean best."""
    random = np.random.default_rng(7)
    sessions = [
        (15.0, (50 * np.exp(random.normal(0, 0.03, efforts))).tolist())
        for efforts in (2, 3, 3, 8)
        for _ in range(1500)
    ]
    found = usual_sessions(routine({"A1": sessions}), better > 0)
    assert (found.usual_efforts, round(found.effort_log_sd, 3)) == (3, 0.03)
    means = np.log(found.sessions["best"]).groupby(np.repeat([2, 3, 3, 8], 1500)).mean()
    assert means.to_numpy() == pytest.approx(means[3], abs=0.003)
    expected = better * best_of_bias(3) * 0.03
    assert means[3] - np.log(50) == pytest.approx(expected, abs=0.003)
    lead = found.best_above_mean_pct()
    assert lead is not None and lead.low < lead.value < lead.high
    assert lead.value == pytest.approx(100 * np.expm1(0.03 * best_of_bias(3)), rel=0.02)


def test_no_routine_sessions_are_no_error() -> None:
    found = usual_sessions(routine({}))
    assert (len(found.sessions), found.usual_efforts, found.best_above_mean_pct()) == (0, 0, None)


@pytest.mark.parametrize("table", [WEIR, TWO_DAYS], ids=["Weir", "two days"])
def test_balanced_components_match_the_restricted_likelihood_of_statsmodels(
    table: np.ndarray,
) -> None:
    """On balanced data, analysis of variance agrees with statsmodels MixedLM."""
    rows = crossed(table)
    fitted = MixedLM.from_formula("value ~ C(trial)", groups="athlete", data=rows).fit(reml=True)
    found = components(rows["athlete"], rows["trial"], rows["value"])
    assert found.mean_square_error == pytest.approx(fitted.scale, rel=1e-4)
    trials = table.shape[1]
    between = (found.mean_square_athletes - found.mean_square_error) / trials
    assert between == pytest.approx(float(fitted.cov_re.iloc[0, 0]), rel=1e-3)
