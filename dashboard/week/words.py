"""The week section by section: sentences, and where to act on them."""

from __future__ import annotations

import pandas as pd

from dashboard.core import dates
from dashboard.core.numbers import counted, listed, percent
from dashboard.data import finding_words
from dashboard.screen import notices
from dashboard.tests import next_test_words
from dashboard.trust import how_sure_words, reliability_words
from dashboard.trust.reliability_numbers import estimates_of
from dashboard.week.curve_words import SHOWN, called_anew, curves_section, levels_section
from dashboard.week.plan_words import plans_section
from dashboard.week.report import WeekReport
from dashboard.week.sections import Item, Link, Section, measure_query, of_athlete


def sections(report: WeekReport) -> tuple[Section, ...]:
    """Return the whole week, in reading order."""
    return (
        curves_section(report),
        levels_section(report),
        plans_section(report),
        _tests(report),
        _trust(report),
        _data(report),
    )


def headline(report: WeekReport) -> str:
    """Return the week in one line."""
    to_decide = sum(report.findings.values())
    parts = []
    if len(report.calls):
        parts.append(f"{counted(len(called_anew(report.calls)), 'call')} changed")
    if len(report.levels):
        parts.append(
            f"{int(report.levels['told'].sum())} of {counted(len(report.levels), 'level')} moved"
        )
    if len(report.plans):
        parts.append(
            f"{int((report.plans['done'] == 'as planned').sum())} of"
            f" {counted(len(report.plans), 'plan')} done as planned"
        )
    parts.append(f"{counted(int(report.sessions['sessions'].sum()), 'session')} came in")
    parts.append(f"{counted(to_decide, 'finding')} to decide")
    return ", ".join(parts)


def evidence_sentence(report: WeekReport) -> str:
    """Return what the newest curves rest on, and what is newer."""
    fit = report.fit
    told = (
        f"Curves of {dates.day(fit.fitted_at.date())}, from {counted(fit.sessions, 'session')} and"
        f" {counted(fit.efforts, 'effort')}."
    )
    return f"{told} {notices.newer_sentence(report.newer)}" if report.newer else told


def sessions_table(sessions: pd.DataFrame) -> pd.DataFrame:
    """Return who did what in the week, most efforts first."""
    rows = sessions[sessions["sessions"] > 0].sort_values("efforts", ascending=False, kind="stable")
    return pd.DataFrame(
        {
            "athlete": rows["name"],
            "sessions": rows["sessions"],
            "fade tests": rows["fade_tests"],
            "efforts": rows["efforts"],
            "last": rows["last_session"],
            "game day": rows["game_day"],
        }
    )


def _tests(report: WeekReport) -> Section:
    rows, unit = report.tests, report.measure.volume_unit
    title = "Tests due, most worth first"
    opens = (
        Link("tests_to_do", "Tests to do", measure_query(report)),
        Link("run_test", "Run a test", measure_query(report)),
    )
    if rows.empty:
        none = "No test is worth doing, or the newest curves do not say yet what to test next."
        return Section(title, (none,), opens=opens)
    shown = rows.head(SHOWN)
    told = next_test_words.headline(rows, report.fit.worthwhile_pct)
    says = (f"{told}. {next_test_words.worth_sentence(shown)}",)
    items = [
        of_athlete(
            report,
            row,
            f"{next_test_words.test_name(row, unit)}, worth {percent(row['worth_pct'], 2)};"
            f" {next_test_words.until_firm_call(row)}; known from {next_test_words.known(row)}",
        )
        for row in shown.to_dict("records")
    ]
    return Section(title, says, tuple(items), opens)


def _trust(report: WeekReport) -> Section:
    sure = Link("how_sure", "How sure", measure_query(report))
    repeats = Link("reliability", "Reliability", measure_query(report))
    items = [Item(warning, sure) for warning in report.fit.warnings.splitlines()]
    if report.check is None:
        items.append(Item("These curves were saved without a check of the model", sure))
    else:
        verdict = how_sure_words.verdict(report.check, report.fit)
        items.insert(0, Item(verdict, sure))
    kept = report.reliability
    if kept.estimates.empty:
        items.append(Item(reliability_words.too_little(kept), repeats))
    else:
        found = estimates_of(kept, "mean", report.measure.unit)
        told = [
            reliability_words.headline(found, report.measure),
            *reliability_words.warnings(found, report.measure),
        ]
        items += [Item(each, repeats) for each in told]
    return Section("How far to trust it", (evidence_sentence(report),), tuple(items))


def _data(report: WeekReport) -> Section:
    rows = report.sessions
    absent = rows.loc[rows["sessions"] == 0, "name"].tolist()
    came = (
        f"{counted(int(rows['sessions'].sum()), 'session')} with"
        f" {counted(int(rows['efforts'].sum()), 'effort')} of"
        f" {counted(len(rows) - len(absent), 'athlete')} in this week"
    )
    says = [f"{came}; none of {listed(absent)}." if absent else f"{came}: everybody."]
    says += [report.games] if report.games else []
    items = [
        Item(
            f"{measure.name}: {counted(count, 'finding')} to decide",
            Link("data_checks", "Data checks", {"measure": measure.code}),
        )
        for measure, count in report.findings.items()
        if count
    ]
    if not items:
        says.append(f"Nothing is left to decide. Looked for: {finding_words.LOOKED_FOR}.")
    for row in report.set_aside.to_dict("records"):
        # No reason: it may quote a note, and the week is printed and handed round.
        text = (
            f"{counted(int(row['rows']), 'row')} of {row['file']} set aside on"
            f" {dates.day_of_year(row['day'])}"
        )
        items.append(Item(text, Link("import_efforts", "Import")))
    return Section("Data of the week, and what to check", tuple(says), tuple(items))
