"""Plain sentences for results: no number without its interval or its count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from dashboard.palette import CALLS
from db.athletes import AthletesSaved
from db.efforts import SessionEntry
from db.imports import ImportCheck, ImportReport
from db.measures import Measure
from db.results import KeptFit

Row = Mapping[str, Any]
"""One athlete's result, by the column names of `db.results.responses`."""

CAUTION = "Pain, dizziness or loss of landing control: stop, whatever the screen says."
CAUTIONS = (
    CAUTION,
    "Maximal efforts are for cleared, uninjured, supervised athletes who know the movement.",
    "Not during illness, after a head knock or inside a return-to-play plan without medical"
    " sign-off.",
    "Minors, heat and pregnancy: follow your medical staff and local rules.",
    "The tool supports a decision; it gives no medical advice.",
)
FADE_TEST = (
    "a fade test: maximal efforts, one after another, until three in a row are below 90\u00a0%"
    " of the best so far"
)


def number(value: float) -> str:
    """Return a set volume as people write it: `15`, `7.5`."""
    return f"{value:.1f}".removesuffix(".0")


def percent(value: float, digits: int = 1) -> str:
    """Return a percentage with a space that never breaks and a true minus sign."""
    return f"{_rounded(value, digits)}\u00a0%"


def _rounded(value: float, digits: int) -> str:
    """Return a rounded value with a true minus sign and no minus before zero."""
    return f"{value:z.{digits}f}".replace("-", "\u2212")


def counted(count: int, noun: str) -> str:
    """Return a count with its noun: `1 session`, `5 sessions`, `1,240 efforts`."""
    singular = noun.removesuffix("s")
    return f"{count:,} {singular if count == 1 else singular + 's'}"


def volume(value: float, unit: str) -> str:
    """Return a set volume with its unit: `15 efforts`."""
    return f"{number(value)} {unit.removesuffix('s') if number(value) == '1' else unit}"


def between(low: float, high: float, digits: int = 0) -> str:
    """Return the ends of an interval: `61 to 100`."""
    return f"{_rounded(low, digits)} to {_rounded(high, digits)}"


def estimated_volume(row: Row, name: str = "best_volume") -> str:
    """Return an estimated volume with its 90 % interval: `81 (61 to 100)`."""
    digits = 0 if row[name] >= 3 else 1
    return f"{row[name]:.{digits}f} ({between(row[f'{name}_low'], row[f'{name}_high'], digits)})"


def estimate_ends(row: Row, name: str = "best_volume") -> str:
    """Return the 90 % interval of an estimated volume, `61 and 100`."""
    return estimated_volume(row, name).partition("(")[2].rstrip(")").replace(" to ", " and ")


def estimated_percent(row: Row, name: str) -> str:
    """Return an estimated percentage with its 90 % interval: `2.7 % (1.5 to 4.1)`."""
    return f"{percent(row[name])} ({between(row[f'{name}_low'], row[f'{name}_high'], 1)})"


def chance(share: float) -> str:
    """Return a chance (0 to 1) in whole per cent, never rounded to certainty."""
    if share < 0.01:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if share > 0.99 else percent(100 * share, 0)


def evidence(row: Row) -> str:
    """Return what stands behind a result: `5 sessions, 145 efforts`."""
    return f"{counted(int(row['sessions']), 'session')}, {counted(int(row['efforts']), 'effort')}"


def headline(row: Row, standard: float, to_athlete: bool = False) -> str:
    """Return the message of one athlete's curve in one line."""
    you, your = ("you are", "your") if to_athlete else ("", "the")
    at = number(standard)
    if not row["sessions"]:
        return "Not tested yet: this is what the squad as a whole suggests"
    sentences = {
        "long": f"Warm up longer: {you} still getting better at {at}",
        "short": f"Stop sooner: {you} past {your} best by {at}",
        "either": f"Keep the standard {at}: another length would make no difference worth having",
        "not known": f"Not known yet: {evidence(row)} do not tell shorter from longer",
    }
    return " ".join(sentences[row["call"]].split())


def best_sentence(row: Row, unit: str) -> str:
    """Return where the curve peaks, with its interval and what stands behind it."""
    return (
        f"Best after {estimated_volume(row)} {unit}; 90\u00a0% interval in brackets,"
        f" from {evidence(row)}."
    )


def advised_sentence(row: Row, unit: str) -> str:
    """Return the advised volume beside the interval that it comes from."""
    return (
        f"Advised for one best effort: {volume(row['advised_volume'], unit)}"
        f" (best volume {between(row['best_volume_low'], row['best_volume_high'])})."
    )


def loss_sentence(row: Row, standard: float) -> str:
    """Return what the standard volume costs against the peak."""
    return (
        f"At the standard {number(standard)},"
        f" {estimated_percent(row, 'loss_at_standard_pct')} of the peak is given away."
    )


def gain_sentence(row: Row) -> str:
    """Return how much the warm-up is worth from cold to peak."""
    return f"From cold to peak: {estimated_percent(row, 'gain_pct')}."


def hold_sentence(row: Row, unit: str) -> str:
    """Return how long the peak holds."""
    return (
        f"After the peak, performance is down 10\u00a0% after another"
        f" {estimated_volume(row, 'hold_volume')} {unit}."
    )


def chances_sentence(row: Row, standard: float) -> str:
    """Return how sure the call is, as the chances of the three answers."""
    return (
        f"How sure: {chance(row['chance_long'])} that longer than {number(standard)} is better,"
        f" {chance(row['chance_short'])} that shorter is better,"
        f" {chance(row['chance_either'])} that it makes no difference worth having."
    )


def own_length_sentence(row: Row, unit: str) -> str:
    """Return how far an athlete's own length can be trusted."""
    return (
        f"Your best lies somewhere between {estimate_ends(row)} {unit}"
        f" (90\u00a0% sure), from {evidence(row)}."
    )


def own_sentences(row: Row, standard: float, unit: str) -> list[str]:
    """Return what an athlete's own curve means, in plain words for the athlete."""
    told = [
        f"With the standard {number(standard)} you give away"
        f" {estimated_percent(row, 'loss_at_standard_pct')} of your best.",
        f"Warming up is worth {estimated_percent(row, 'gain_pct')} to you, from cold to your best.",
        f"After your best you are down 10\u00a0% after another"
        f" {estimated_volume(row, 'hold_volume')} {unit}.",
        chances_sentence(row, standard),
        reach_sentence(row, unit),
    ]
    if not row["sessions"]:
        told = [
            f"The squad as a whole is best after {estimated_volume(row)} {unit}; nothing of"
            " yours has been measured, so it may be quite different for you.",
            f"To find your own length, ask your coach for {FADE_TEST}.",
        ]
    return [sentence for sentence in told if sentence]


def history_sentence(fits: Sequence[Row], unit: str) -> str:
    """Return how an athlete's best volume moved from the oldest fit to the newest."""
    steps = [f"{row['fitted_at']:%d %b %Y}: {estimated_volume(row)}, {row['call']}" for row in fits]
    return f"Best volume in {unit} with its 90\u00a0% interval, and the call. {'; '.join(steps)}."


def reach_sentence(row: Row, unit: str) -> str:
    """Return a caution when the peak lies outside what was tried, else nothing."""
    return {
        "below": f"The peak lies below the fewest {unit} tried: measure after fewer.",
        "beyond": f"The peak lies beyond the most {unit} tried: a longer test would show it.",
    }.get(row["reach"], "")


def squad_headline(responses: pd.DataFrame) -> str:
    """Return the finding of the squad picture in one line."""
    calls = responses["call"].value_counts()
    known = int(calls.drop("not known", errors="ignore").sum())
    away = int(calls.reindex(["short", "long"]).fillna(0).sum())
    if not known:
        return f"Not known yet for any of {counted(len(responses), 'athlete')}"
    if not away:
        return f"The standard warm-up suits all {known} of {len(responses)} who are known"
    verb = "is" if away == 1 else "are"
    return f"{away} of {len(responses)} {verb} better off away from the standard warm-up"


def how_to_read_squad(measure_name: str, fit: KeptFit) -> str:
    """Return the line under the squad picture's title."""
    return (
        f"{measure_name}, {counted(fit.sessions, 'session')},"
        f" {counted(fit.efforts, 'effort')} · dot: most likely best volume;"
        " thick line: half, thin line: 90\u00a0% of what is plausible · hollow: not known yet"
    )


def how_to_read_curve(row: Row) -> str:
    """Return the line under the title of one athlete's curve."""
    return f"{evidence(row)} · points: every effort, each day at its own level · band: 90\u00a0%"


def squad_in_words(responses: pd.DataFrame, standard: float, unit: str) -> str:
    """Return the text equivalent of the squad picture."""
    groups = (_group(responses, call) for call in CALLS)
    return f"Best warm-up volume in {unit}, standard {number(standard)}. " + " ".join(
        group for group in groups if group
    )


def _group(responses: pd.DataFrame, call: str) -> str:
    rows = responses[responses["call"] == call].to_dict("records")
    named = ", ".join(f"{row['name']} {estimated_volume(row)}" for row in rows)
    return f"{call.capitalize()}: {named}." if rows else ""


def curve_in_words(row: Row, standard: float, unit: str) -> str:
    """Return the text equivalent of one athlete's curve."""
    parts = (
        best_sentence(row, unit),
        gain_sentence(row),
        loss_sentence(row, standard),
        hold_sentence(row, unit),
        reach_sentence(row, unit),
    )
    return " ".join(part for part in parts if part)


def worth_sentence(fit: KeptFit, unit: str) -> str:
    """Return what individual lengths are worth for the squad, and whether that matters."""
    worth = {name: getattr(fit, name) for name in _WORTH}
    enough = percent(fit.worthwhile_pct)
    if fit.worth_of_individual_pct_low > fit.worthwhile_pct:
        verdict = f"more than the smallest change worth having, {enough}, so use them."
    elif fit.worth_of_individual_pct_high < fit.worthwhile_pct:
        verdict = f"less than the smallest change worth having, {enough}, so one length will do."
    else:
        verdict = f"so it is not known yet whether that is above {enough}, the least worth having."
    return (
        f"Individual lengths are worth {estimated_percent(worth, 'worth_of_individual_pct')}"
        f" more than the best single length ({volume(round(fit.best_single_volume), unit)}),"
        f" over {counted(fit.athletes, 'athlete')}: {verdict}"
    )


_WORTH = tuple(f"worth_of_individual_pct{end}" for end in ("", "_low", "_high"))


def differ_sentence(fit: KeptFit) -> str:
    """Return the evidence that athletes peak at different volumes at all."""
    return (
        "The chance that athletes really peak at different volumes:"
        f" {chance(fit.chance_athletes_differ)}, from {counted(fit.sessions, 'session')}."
    )


def newer_sentence(newer: int) -> str:
    """Return the notice that stored efforts are newer than the curves."""
    verb = "is" if newer == 1 else "are"
    return f"{counted(newer, 'effort')} {verb} newer than these curves."


def next_data(row: Row) -> str:
    """Return what to collect next for one athlete of `dashboard.reads.evidence_gaps`."""
    if not row["sessions"]:
        return "Start with a fade test."
    if not row["fade_tests"]:
        return "One fade test would show where the fall begins."
    if row["reach"] == "beyond":
        return "A longer fade test: still improving at the most that was tried."
    if row["reach"] == "below":
        return "A few efforts after a very short warm-up: past the best at the least tried."
    return "Routine sessions on both sides of the standard: one shorter, one longer."


def listed(names: Sequence[str]) -> str:
    """Return names as a sentence lists them: `A, B and C`."""
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def goal(efforts_to_follow: int) -> str:
    """Return what a warm-up is for: one best effort, or the average over those to follow."""
    if efforts_to_follow == 1:
        return "one best effort"
    return f"the best average over the {efforts_to_follow} efforts to follow"


def plan_caption(rows: pd.DataFrame, fit: KeptFit, unit: str, efforts_to_follow: int) -> str:
    """Return the line over the plan of a day: what is advised for what, and on what evidence."""
    kept = int(rows["chosen_volume"].notna().sum())
    return (
        f"In {unit}. Advised for {goal(efforts_to_follow)}, from"
        f" {counted(fit.sessions, 'session')} and {counted(fit.efforts, 'effort')}."
        f" Set: {kept} of {len(rows)}."
    )


def choice_sentence(row: Row, standard: float, unit: str) -> str:
    """Return advice and standard side by side for the coach who decides."""
    if pd.isna(row["advised_volume"]):
        return f"No curve yet: nothing is advised. The standard is {volume(standard, unit)}."
    return (
        f"Advised: {volume(row['advised_volume'], unit)}; best volume {estimated_volume(row)},"
        f" call: {row['call']}. The standard is {volume(standard, unit)}."
    )


def first_known(*values: float) -> float:
    """Return the first of several volumes that is not missing."""
    return next(float(value) for value in values if not pd.isna(value))


FILE_COLUMNS = {
    "efforts": (
        "One row per effort: `athlete`, `started_at`, `measure`, `effort`, `value`, and"
        " `volume_before` unless `kind` is `fade`. Every row is either stored or set aside with"
        " its reason; the same file twice stores nothing twice."
    ),
    "athletes": (
        "One row per athlete: `athlete` (code), `name`, `position`, `born`, `active`. A known"
        " code is updated, an empty cell changes nothing."
    ),
}


def import_preview(name: str, check: ImportCheck) -> str:
    """Return what storing a file would do: the counts add up to the rows read."""
    told = [
        f"{name}: {counted(check.rows_read, 'row')} read. {len(check.new):,} to store,"
        f" {check.known:,} known already, {len(check.set_aside):,} to set aside."
    ]
    if check.new_athletes:
        told.append(f"New athletes: {listed(check.new_athletes)}.")
    if check.ignored_columns:
        told.append(f"Columns that are not read: {listed(check.ignored_columns)}.")
    return " ".join(told)


def import_done(report: ImportReport) -> str:
    """Return what storing a file has done."""
    return (
        f"{report.file}: {counted(report.rows_read, 'row')} read. {report.stored:,} stored,"
        f" {report.known:,} known already, {report.set_aside:,} set aside, in"
        f" {counted(report.sessions, 'session')}."
    )


def athletes_stored(saved: AthletesSaved) -> str:
    """Return what storing athletes has done."""
    return (
        f"{counted(saved.added, 'athlete')} added, {saved.updated} updated,"
        f" {saved.unchanged} unchanged."
    )


def how_to_enter(measure: Measure, kind: str) -> str:
    """Return how a session of a measure is typed in."""
    if kind == "fade":
        return (
            f"Maximal efforts, one after another, in {measure.unit}: stop when three in a row are"
            " below 90\u00a0% of the best so far, at any sign of pain, or when the athlete says so."
        )
    return (
        f"Efforts in {measure.unit} after a warm-up. Say how many {measure.volume_unit} were done"
        " before the first one."
    )


def session_stored(entry: SessionEntry, name: str, measure: Measure) -> str:
    """Return what was stored of a session that was typed in."""
    return (
        f"Stored for {name}: {counted(len(entry.efforts), 'effort')} of {measure.name.lower()},"
        f" {entry.started_at:%d %B %Y at %H:%M}."
    )
