"""Sentences of the page `How sure`: what the model's own checks say, and what it assumes."""

from __future__ import annotations

from math import sqrt

import pandas as pd

from dashboard.core.numbers import Row, between, counted, number, percent, whole
from db.fits.fit_checks import FitCheck
from db.fits.results import CurveModel, KeptFit
from modeling.estimate import SDS_TO_END

SHARE = 0.9
"""Share of what was measured that lies in the intervals if the model is right."""
FEWEST_SESSIONS = 20
SEEN = 0.05
"""Misfit in % from which it is shown; less counts as none."""

HOW_TO_READ_BANDS = (
    "dot: mean of the efforts in a band of volume, a diamond if outside · bar: where it should be"
    " nine times in ten · line: what the curves say (nobody's own: the last bands hold only those"
    " who last that long)"
)
HOW_TO_READ_PLACES = (
    "each session was predicted from the athlete's other sessions; dots count in which tenth of"
    " the prediction it fell · band: where nine dots in ten should be · both ends high: too sure;"
    " middle high: not sure enough; right end high: better than predicted"
)
FAMILIES = {
    "one smooth curve": "**Of two kinds of curve the smooth one is used**: rise and fall belong"
    " together, and who rises steeply falls slowly. This squad's efforts do not clearly ask for"
    " more.",
    "a shape on either side": "**Of two kinds of curve the freer one is used**: rise and fall each"
    " have a shape of their own. This squad's efforts ask for it, or are of fewer than eight"
    " athletes, too few to rule it out.",
}
"""By the name of the family that a fit chose (`modeling.curve.families.FAMILIES`)."""
ASSUMPTIONS = (
    "**One rise, one peak, one fall.** Each side may be sharp, gentle, flat or missing; two peaks"
    " cannot be shown.",
    "**A day moves the whole curve.** A good day, or better form over some weeks, lifts every"
    " effort by the same share. It may bend the curve a little as well.",
    "**A squad is alike to a degree**, and the data say to what degree. An athlete with few"
    " sessions leans on the others, one with many stands alone, one with none is the squad.",
    "**The noise is the same for everybody and at every volume.** An effort far off, such as a"
    " slipped take-off, counts for little.",
    "**All effects are in\u00a0%**, so a strong and a weak athlete can be compared.",
    "**The sizes of the noise and of the squad's spread are taken as known** once they are worked"
    " out. With fewer than ten athletes the intervals are therefore somewhat too narrow.",
)
LIMITS = (
    "**A better level or a later peak?** If all of an athlete's sessions have the same volume, a"
    " rise in performance and a curve of another shape look alike. Only different volumes tell them"
    " apart.",
    "**Volume or time?** Within a test, more efforts and more minutes pass together. What patience,"
    " pacing or cooling down do counts as volume.",
    "**Chosen, not drawn.** If the longer warm-ups were given on the better days, the curve takes"
    " the days for the warm-up. Alternating two lengths in random order is the only proof.",
    "**Beyond what was tried** nothing has been seen: there the answer is the squad's.",
    "**Who differs.** That athletes differ in level is easy to see; that they peak at different"
    " volumes often is not. Few firm calls on few data are right.",
    "**Pain, illness and fatigue** are not in it.",
)


def others_sentences(clubs: int) -> list[str]:
    """Say that fits start from what other clubs have learned; empty if they do not."""
    if not clubs:
        return []
    return [
        f"It begins with what {counted(clubs, 'other club')} learned of their squads: what is usual"
        " there is believed of this one until its own efforts say otherwise."
    ]


def curve_sentences(curves: CurveModel) -> list[str]:
    """Return which curves are used, how far athletes may be off them, and what follows."""
    of_session = (
        f"A single session may be off by another {percent(curves.session_misfit_pct)}, learned"
        " from this squad."
        if curves.session_misfit_pct >= SEEN
        else "Single sessions are not seen to be off by more."
    )
    return [
        FAMILIES[curves.family],
        "**Nobody is quite a curve.** An athlete may be off every curve of the model by about"
        f" {percent(curves.misfit_pct)}: a tenth of what a typical athlete gains, and set"
        f" beforehand, since efforts hardly tell it. {of_session}"
        " So the intervals are wider and fewer calls are firm. 90\u00a0% intervals of best volumes"
        " held for 90 athletes in 100 on the simulated squads that this was tried on (82 without"
        " it), but only for 73 on kinds of squads that were kept back until the end (62): take them"
        " as too narrow rather than too wide.",
    ]


def verdict(check: FitCheck, fit: KeptFit) -> str:
    """Return in one line whether the model describes the data."""
    if check.sessions < FEWEST_SESSIONS:
        return "Too few sessions yet to tell whether the model describes this squad"
    outside = _outside(check.bands)
    many = len(check.bands) - len(outside) < _likely(len(check.bands))[0]
    matters = _miss(outside) >= fit.worthwhile_pct
    low, high = _likely(check.sessions)
    if matters and (many or _clearly_outside(check.bands, fit.worthwhile_pct)):
        return "The model misses part of what was measured: read the curves with care"
    if check.sessions_inside < low:
        return "The model is surer than it should be: take its intervals as too narrow"
    if many:
        return "The model describes this squad closely enough: its misses are too small to matter"
    if check.sessions_inside > high:
        return "The model describes this squad, and could be surer than it is"
    return "The model describes what was measured in this squad"


def check_sentence(check: FitCheck) -> str:
    """Return both counts that the verdict rests on."""
    inside = len(check.bands) - len(_outside(check.bands))
    bands = counted(len(check.bands), "band")
    told = f"In {inside} of {bands} of volume the observed mean lies in its 90\u00a0% interval"
    if check.sessions:
        told += (
            f", and {_share(check.sessions_inside, check.sessions, 'session')} lie in the 90\u00a0%"
            " interval predicted from the athlete's other sessions"
        )
    return f"{told}. Nine in ten would be right."


def efforts_sentence(check: FitCheck, fit: KeptFit) -> str:
    """Return how many efforts lie in their predicted interval, and what was not predicted."""
    if not check.efforts:
        return "No athlete has two sessions yet, so no session can be predicted from another."
    told = (
        f"Of single efforts, {whole(check.efforts_inside)} of {whole(check.efforts)}"
        f" ({percent(100.0 * check.efforts_inside / check.efforts, 0)}) lie in the 90\u00a0%"
        " interval predicted for them."
    )
    if left := fit.sessions - check.sessions:
        told += (
            f" {counted(left, 'session')} could not be predicted: an athlete's only one, or one"
            " that holds nearly all that is known."
        )
    return told


def outside_sentences(check: FitCheck, fit: KeptFit, unit: str) -> list[str]:
    """Return each band outside its interval, and whether that matters."""
    outside = _outside(check.bands)
    if outside.empty:
        return []
    told = [
        f"Outside after {_range(row)} {unit}: {percent(row['observed_pct'], 2)} observed,"
        f" {percent(row['expected_pct'], 2)} expected"
        f" ({between(row['low_pct'], row['high_pct'], 2)}), {counted(row['efforts'], 'effort')}."
        for row in outside.to_dict("records")
    ]
    than = "less" if _miss(outside) < fit.worthwhile_pct else "more"
    return [
        *told,
        f"The largest miss, {percent(_miss(outside))}, is {than} than the smallest change worth"
        f" having, {percent(fit.worthwhile_pct)}.",
    ]


def bands_in_words(bands: pd.DataFrame, unit: str) -> str:
    """Return the text equivalent of the picture of observed against expected."""
    told = [
        f"{_range(row)}: {percent(row['observed_pct'])} ({percent(row['expected_pct'])},"
        f" {between(row['low_pct'], row['high_pct'], 1)})"
        for row in bands.to_dict("records")
    ]
    return (
        f"Mean difference from each athlete's own peak of the day by {unit} done before,"
        f" observed (expected, 90\u00a0% interval). {'; '.join(told)}."
    )


def places_in_words(places: pd.DataFrame) -> str:
    """Return the text equivalent of the picture of places."""
    counts = ", ".join(f"{count}" for count in places["sessions"])
    first = places.iloc[0]
    return (
        f"Sessions by tenth of their prediction, from the lowest to the highest: {counts}."
        f" Expected in each: {first['fewest']} to {first['most']}."
    )


def _outside(bands: pd.DataFrame) -> pd.DataFrame:
    inside = bands["observed_pct"].between(bands["low_pct"], bands["high_pct"])
    return bands[~inside]


def _clearly_outside(bands: pd.DataFrame, worthwhile_pct: float) -> bool:
    """Tell whether a band misses by enough to matter and by twice what chance explains."""
    miss = (bands["observed_pct"] - bands["expected_pct"]).abs()
    return bool(((miss > bands["high_pct"] - bands["low_pct"]) & (miss >= worthwhile_pct)).any())


def _miss(outside: pd.DataFrame) -> float:
    """Return the largest difference between observed and expected, in %."""
    return float((outside["observed_pct"] - outside["expected_pct"]).abs().max())


def _likely(count: int) -> tuple[float, float]:
    """Return the 90 % range of how many of `count` intervals hold, if each does 9 times in 10."""
    spread = SDS_TO_END * sqrt(count * SHARE * (1.0 - SHARE)) + 0.5
    return count * SHARE - spread, count * SHARE + spread


def _share(part: int, of: int, noun: str) -> str:
    return f"{whole(part)} of {counted(of, noun)} ({percent(100.0 * part / of, 0)})"


def _range(row: Row) -> str:
    low, high = number(row["lowest_volume"]), number(row["highest_volume"])
    return low if low == high else f"{low} to {high}"
