"""What a simulated season would tell, in words and rows, for a page and a terminal."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboard.core.numbers import between, counted, decimal, number, percent, volume
from modeling.day.season_outlook import Foreseen, SeasonOutlook, SeasonPlan

NONE = "none"
QUARTILE = 0.6745
"""Upper quartile of the standard normal distribution."""
TITLE_ROWS = (
    "Athletes with a firm call",
    "Firm calls that are right",
    "Lost at the standard",
    "Lost at own lengths",
    "Lost at the advised volume",
    "Best volume's interval, wide",
)
ROUGH = (
    "Athletes of a squad have four kinds of curve, none of them one of the model's, and best "
    "volumes move by a quarter from session to session, as they may in real squads."
)
TIDY = (
    "Squads have one of five kinds of curve in turn; in one of them length has no effect. Real "
    "squads are less tidy, so expect to know less."
)


def plan_sentence(plan: SeasonPlan) -> str:
    """Return what is planned, and the noise that is assumed."""
    tests, noise = plan.protocol, plan.noise
    return (
        f"{counted(plan.athletes, 'athlete')}, each with {counted(tests.fade_tests, 'fade test')} "
        f"and {counted(tests.routine_sessions, 'routine session')}. Efforts differ by "
        f"{percent(100.0 * noise.effort)}, days by {percent(100.0 * noise.day)}; the smallest "
        f"worthwhile change is {percent(plan.worthwhile_pct)}."
    )


def spread_sentence(plan: SeasonPlan, unit: str) -> str:
    """Return the standard, and where best volumes are assumed to lie."""
    spread = plan.spread
    step = np.exp(QUARTILE * spread.best_log_sd)
    return (
        f"The standard is {volume(plan.protocol.standard, unit)}. Half of the athletes are best "
        f"between {number(round(spread.best / step))} and {number(round(spread.best * step))}, and "
        f"from cold to best they gain about {percent(100.0 * np.expm1(spread.gain), 0)}."
    )


def squads_sentence(plan: SeasonPlan) -> str:
    """Return what the simulated squads are like."""
    return TIDY if plan.tidy else ROUGH


def headline(plan: SeasonPlan, outlook: SeasonOutlook) -> str:
    """Return what own lengths would bring after the tests, against the standard for all."""
    standard, own = outlook.standard_pct.value, outlook.length_pct.value
    firm = outlook.firm_pct.value
    if standard is None or own is None or firm is None:
        return "This plan leaves nothing to tell"
    gain = standard - own
    if gain < plan.worthwhile_pct:
        return (
            f"Own lengths would bring {percent(gain)}: less than the smallest change worth having"
        )
    return f"Own lengths would bring {percent(gain)}, with firm calls for {percent(firm, 0)}"


def meaning_sentences(outlook: SeasonOutlook) -> list[str]:
    """Return what the numbers mean for the person who decides whether to start."""
    sentences = []
    right, standard, own = outlook.right_pct, outlook.standard_pct, outlook.length_pct
    if standard.value is not None and own.value is not None:
        sentences.append(
            f"With the standard for everybody {percent(standard.value)} is lost on average, with "
            f"own lengths after these tests {percent(own.value)}; in nine of ten squads "
            f"{_range(own, 1)}."
        )
    if right.value is None:
        sentences.append("Nobody would get a firm call, so everybody would keep the standard.")
    elif right.value < 99.5:
        wrong = max(round(100.0 - right.value), 1)
        sentences.append(f"Of 100 firm calls about {number(wrong)} would be wrong.")
    return sentences


def outlook_table(outlook: SeasonOutlook, unit: str) -> pd.DataFrame:
    """Return a row for each result: expected value, range in nine of ten squads, and count."""
    cells = [
        (outlook.firm_pct, 0, "\u00a0%", "athletes"),
        (outlook.right_pct, 0, "\u00a0%", "calls"),
        (outlook.standard_pct, 2, "\u00a0%", "athletes"),
        (outlook.length_pct, 2, "\u00a0%", "athletes"),
        (outlook.lost_pct, 2, "\u00a0%", "athletes"),
        (outlook.width, 0, f" {unit}", "athletes"),
    ]
    return pd.DataFrame(
        {
            "What": TITLE_ROWS,
            "Expected": [_value(each, digits, told) for each, digits, told, _ in cells],
            "In 9 of 10 squads": [_range(each, digits) for each, digits, _, _ in cells],
            "Counted": [counted(each.count, noun) for each, _, _, noun in cells],
        }
    )


def runs_table(runs: list[tuple[SeasonPlan, SeasonOutlook]]) -> pd.DataFrame:
    """Return a row for each plan that was simulated, with ranges of nine of ten squads."""
    return pd.DataFrame(
        {
            "Athletes": [number(plan.athletes) for plan, _ in runs],
            "Fade tests": [number(plan.protocol.fade_tests) for plan, _ in runs],
            "Sessions": [number(plan.protocol.routine_sessions) for plan, _ in runs],
            "Efforts, days vary": [
                f"{percent(100.0 * plan.noise.effort)}, {percent(100.0 * plan.noise.day)}"
                for plan, _ in runs
            ],
            "Squads": ["tidy" if plan.tidy else "as real ones" for plan, _ in runs],
            "Firm calls": [_told(outlook.firm_pct, 0) for _, outlook in runs],
            "Of them right": [_told(outlook.right_pct, 0) for _, outlook in runs],
            "Lost at own lengths": [_told(outlook.length_pct, 1) for _, outlook in runs],
        }
    )


def _told(foreseen: Foreseen, digits: int) -> str:
    value = _value(foreseen, digits, "\u00a0%")
    return value if foreseen.value is None else f"{value} ({_range(foreseen, digits)})"


def _value(foreseen: Foreseen, digits: int, unit: str) -> str:
    return NONE if foreseen.value is None else decimal(foreseen.value, digits) + unit


def _range(foreseen: Foreseen, digits: int) -> str:
    if foreseen.low is None or foreseen.high is None:
        return ""
    return between(foreseen.low, foreseen.high, digits)
