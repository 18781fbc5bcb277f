"""Plain sentences for a day's plan, for typing sessions in and for importing files."""

from __future__ import annotations

import pandas as pd

from dashboard import dates, words
from dashboard.numbers import Row, counted, estimated_volume, listed, volume, whole
from dashboard.stop_rules import rule_words
from db.efforts.live_tests import StopRule
from db.efforts.rows import SessionEntry
from db.fits.results import KeptFit
from db.imports.storing import ImportCheck, ImportReport
from db.roster.athletes import AthletesSaved
from db.roster.measures import Measure

FILE_COLUMNS = {
    "efforts": (
        "One row per effort: `athlete`, `started_at`, `measure`, `effort`, `value`, and"
        " `volume_before` unless `kind` is `fade`. Every row is either stored or set aside with"
        " its reason; the same file twice stores nothing twice."
    ),
    "athletes": (
        "One row per athlete: `athlete` (code), `name`, `position`, `born`, `active` and"
        " `squad` (several with `;` between, `-` for none). A known code is updated, an empty"
        " cell changes nothing."
    ),
}


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
    if pd.isna(row["length"]):
        return f"No curve yet: nothing is advised. The standard is {volume(standard, unit)}."
    return (
        f"{words.length_sentence(row, standard, unit)} {words.good_range_sentence(row, unit)}"
        f" Best volume {estimated_volume(row)}, call: {row['call']}."
    )


def import_preview(name: str, check: ImportCheck) -> str:
    """Return what storing a file would do: the counts add up to the rows read."""
    told = [
        f"{name}: {counted(check.rows_read, 'row')} read. {whole(len(check.new))} to store,"
        f" {whole(check.known)} known already, {whole(len(check.set_aside))} to set aside."
    ]
    if check.new_athletes:
        told.append(f"New athletes: {listed(check.new_athletes)}.")
    if check.ignored_columns:
        told.append(f"Columns that are not read: {listed(check.ignored_columns)}.")
    return " ".join(told)


def import_done(report: ImportReport) -> str:
    """Return what storing a file has done."""
    return (
        f"{report.file}: {counted(report.rows_read, 'row')} read. {whole(report.stored)} stored,"
        f" {whole(report.known)} known already, {whole(report.set_aside)} set aside, in"
        f" {counted(report.sessions, 'session')}."
    )


def athletes_stored(saved: AthletesSaved) -> str:
    """Return what storing athletes has done."""
    return (
        f"{counted(saved.added, 'athlete')} added, {saved.updated} updated,"
        f" {saved.unchanged} unchanged."
    )


def how_to_enter(measure: Measure, kind: str, rule: StopRule) -> str:
    """Return how a session of a measure is typed in."""
    if kind == "fade":
        return (
            f"Maximal efforts, one after another, in {measure.unit}: {rule_words(rule, measure)},"
            " at any sign of pain, or when the athlete says so."
        )
    return (
        f"Efforts in {measure.unit} after a warm-up. Say how many {measure.volume_unit} were done"
        " before the first one."
    )


def session_stored(entry: SessionEntry, name: str, measure: Measure) -> str:
    """Return what was stored of a session that was typed in."""
    return (
        f"Stored for {name}: {counted(len(entry.efforts), 'effort')} of {measure.name.lower()},"
        f" {dates.moment(entry.started_at, 'long')}."
    )
