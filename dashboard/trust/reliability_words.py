"""Sentences of the page `Reliability`: what a measure can show and what it cannot."""

from __future__ import annotations

import pandas as pd

from dashboard.core.numbers import counted, percent, volume
from dashboard.fits.reliability_frames import MeasureReliability
from dashboard.trust.reliability_charts import Estimates
from dashboard.trust.reliability_numbers import estimates_of, in_unit, percents, sessions_needed
from db.roster.measures import Measure

BASIS_LABELS = {"mean": "Mean of a session", "best": "Best of a session"}
OTHER = {"mean": "best", "best": "mean"}
SHOWN_EFFORTS = 3

HOW_TO_READ_SIGNAL = (
    "dot: noise that hides a change · diamond: the change to see · line: its 90\u00a0% interval ·"
    " a diamond to the left of the dots takes many sessions"
)
HOW_TO_READ_PAIRS = (
    "dot: two sessions of an athlete in a row (first and second, third and fourth ...), second less"
    " first · line: mean difference; dashed: limits that hold 19 of 20 differences; bands: their"
    " 90\u00a0% intervals"
)
HOW_TO_READ_TRIALS = (
    "dot: mean difference from the same athletes' first compared sessions; line: its 90\u00a0%"
    " interval · sessions that fewer than three athletes had are not drawn"
)
HOW_TO_READ_NEEDS = (
    "So many sessions before the change, and as many after it. To show a change means that it"
    " passes a test at 5\u00a0% with a chance of 80\u00a0%. From the noise of {noise}."
    " In brackets 90\u00a0% intervals."
)
NOISE_BY_MODEL = "days and efforts that the model finds"
NOISE_OF_SESSIONS = "these sessions; once the curves are worked out, their noise of days is used"
LIMITS = (
    "**Real changes count as noise here.** Sessions lie days and weeks apart, so better form,"
    " a hard week or an illness is in the typical error. The model's noise of days leaves slow"
    " changes out and is often smaller.",
    "**A slip counts in full.** One effort far off moves the mean and the best of its session."
    " If it was a slip, exclude it first.",
    "**Athletes are taken as equally noisy.** Somebody who varies more needs more sessions than"
    " it says here.",
    "**A high correlation is no proof of a good test.** Where athletes differ a lot it is high"
    " with the same noise. Look at the typical error.",
    "**The spread between athletes is this squad's.** A fifth of it is a rule of thumb for team"
    " sports (Hopkins 2004); the team's own setting stands beside it.",
)


def headline(found: Estimates, measure: Measure) -> str:
    """Return in one line the change that noise hides."""
    change = in_unit(found["minimal_detectable"], found, measure)
    return f"A change of less than {change} between two sessions may be noise"


def counts_sentence(kept: MeasureReliability, measure: Measure, limited: bool) -> str:
    """Return what was compared and what was not; `limited` if not all athletes are in sight."""
    told = (
        f"Compared: {counted(kept.sessions, 'routine session')} of"
        f" {counted(kept.athletes, 'athlete')}, each at about the athlete's usual volume"
        f" (within a quarter of it, or {volume(2, measure.volume_unit)}), mostly"
        f" {counted(kept.usual_efforts, 'effort')} a session."
    )
    if kept.other_sessions:
        left = counted(kept.other_sessions, "routine session")
        told += f" Left out for another volume: {left}."
    if limited:
        told += " The numbers are of all athletes, the counts and dots of yours."
    return told


def how_to_read_needs(kept: MeasureReliability) -> str:
    """Return what the numbers of sessions mean, and which noise they rest on."""
    return HOW_TO_READ_NEEDS.format(noise=NOISE_BY_MODEL if kept.by_model else NOISE_OF_SESSIONS)


def too_little(kept: MeasureReliability) -> str:
    """Return what is missing for a comparison, and what to do."""
    trials = kept.compared.dropna(subset="trial").groupby("athlete").size()
    twice = int((trials > 1).sum())
    who = {0: "Nobody has", 1: "One athlete has"}.get(twice, f"{twice} athletes have")
    return (
        f"{who} two routine sessions that can be compared. At least two athletes need two sessions"
        " each, at about the same volume and not all alike. Ten athletes with three sessions make"
        " it useful. Enter a few efforts at the usual volume on ordinary days."
    )


def can_and_cannot(found: Estimates, kept: MeasureReliability, measure: Measure) -> list[str]:
    """Return what two sessions show, how many it takes, and what happens from one to the next."""
    return [
        _athletes_sentence(found),
        _smallest_sentence(found, measure),
        _setting_sentence(found, measure),
        *_need_sentences(kept, measure),
        _trend_sentence(found),
        _basis_sentence(kept, measure),
    ]


def warnings(found: Estimates, measure: Measure) -> list[str]:
    """Return what makes a change hard to read: noise, or a steady drift."""
    shown = found["minimal_detectable_pct"][2] <= measure.worthwhile_pct
    told = []
    if not shown:
        verdict = _shown(found["minimal_detectable_pct"], (measure.worthwhile_pct,) * 3)
        told = [f"The smallest change worth having is {percent(measure.worthwhile_pct)}. {verdict}"]
    _, low, high = found["trend_pct"]
    return [*told, _trend_sentence(found)] if low > 0 or high < 0 else told


def _athletes_sentence(found: Estimates) -> str:
    icc = tuple(100 * each for each in found["icc_3_1"])
    return (
        f"**Who is better than whom:** {percents(icc, 0)} of the variance of single sessions is"
        " difference between athletes (ICC(3,1)), the rest is noise."
    )


def _smallest_sentence(found: Estimates, measure: Measure) -> str:
    smallest, change = found["smallest_worthwhile"], found["minimal_detectable"]
    if smallest[0] <= 0:
        return (
            "**The smallest worthwhile change** is not known yet: athletes differ no more than"
            " their own sessions do. Use the team's own setting."
        )
    return (
        f"**The smallest worthwhile change**, a fifth of the spread between athletes, is"
        f" {in_unit(smallest, found, measure)}. {_shown(change, smallest)}"
    )


def _setting_sentence(found: Estimates, measure: Measure) -> str:
    setting = measure.worthwhile_pct
    verdict = _shown(found["minimal_detectable_pct"], (setting,) * 3)
    return f"**The team's own setting** is {percent(setting)}. {verdict}"


def _shown(change: tuple[float, float, float], wanted: tuple[float, float, float]) -> str:
    """Return whether two sessions show a wanted change, given what noise hides."""
    if change[2] <= wanted[1]:
        return "Large enough to see in two sessions."
    if change[1] > wanted[2]:
        return "Too small to see in two sessions."
    return "Not known yet whether two sessions can show it."


def _need_sentences(kept: MeasureReliability, measure: Measure) -> list[str]:
    shown = SHOWN_EFFORTS if len(kept.needs) > 1 else 1
    rows = kept.needs[kept.needs["efforts"] == shown].to_dict("records")
    return [
        f"**{counted(shown, 'effort')} over {sessions_needed(row, 'setting')} before a change,"
        f" and as many after it,** would show {percent(measure.worthwhile_pct)}"
        + (
            f"; over {sessions_needed(row, 'smallest')}, the smallest worthwhile change."
            if not pd.isna(row["smallest_sessions"])
            else "."
        )
        for row in rows
    ]


def _trend_sentence(found: Estimates) -> str:
    change = found["trend_pct"]
    told = f"**From one session to the next** the values changed by {percents(change, 2)}"
    if change[1] > 0 or change[2] < 0:
        return f"{told}: the athletes learn, or their form changes. Let them get used to the test."
    return f"{told}: no steady change is seen."


def _basis_sentence(kept: MeasureReliability, measure: Measure) -> str:
    if kept.usual_efforts < 2:
        return ""
    mean, best = (estimates_of(kept, basis, measure.unit) for basis in ("mean", "best"))
    errors = {"mean": mean["typical_error_pct"], "best": best["typical_error_pct"]}
    better = min(errors, key=lambda basis: errors[basis][0])
    clear = errors[better][2] < errors[OTHER[better]][1]
    told = (
        f"**Mean or best?** The {better} of a session repeats"
        f" {'better' if clear else 'a little better, not clearly so'}: typical error"
        f" {percents(errors[better])}, of the {OTHER[better]} {percents(errors[OTHER[better]])}."
    )
    if "best_above_mean_pct" in best:
        told += (
            f" By noise alone the best of {counted(kept.usual_efforts, 'effort')} lies"
            f" {percents(best['best_above_mean_pct'])} from their mean, and farther with more"
            " efforts. Bests of more or fewer efforts are corrected for that."
        )
    return told


def signal_in_words(rows: pd.DataFrame) -> str:
    """Return the text equivalent of the picture of noise against signal."""
    parts = [
        f"{name}: "
        + "; ".join(
            f"{row['name']} {percents((row['size'], row['size_low'], row['size_high']))}"
            for row in part.to_dict("records")
        )
        for name, part in rows.groupby("measure_name", sort=False)
    ]
    return f"Sizes with their 90\u00a0% intervals. {'. '.join(parts)}."


def pairs_in_words(pairs: pd.DataFrame, found: Estimates, measure: Measure) -> str:
    """Return the text equivalent of the picture of differences against means."""
    outside = int(
        (~pairs["difference"].between(found["lower_limit"][0], found["upper_limit"][0])).sum()
    )
    mean, low, high = (
        in_unit(found[key], found, measure)
        for key in ("change_in_mean", "lower_limit", "upper_limit")
    )
    return (
        f"{counted(len(pairs), 'pair')} of sessions; mean difference {mean}; limits of agreement"
        f" {low} and {high}; {outside} outside the limits."
    )


def trials_in_words(trials: pd.DataFrame) -> str:
    """Return the text equivalent of the picture of the trials."""
    parts = [
        f"session {row['trial']}"
        f" {percents((row['change_pct'], row['change_pct_low'], row['change_pct_high']))}"
        f" ({counted(int(row['athletes']), 'athlete')})"
        for row in trials.to_dict("records")
        if row["trial"] > 1
    ]
    return f"Difference from the first session: {'; '.join(parts)}."
