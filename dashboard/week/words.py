"""What a week tells, section by section: sentences, and where each can be acted on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import pandas as pd

from dashboard.athlete import change_words
from dashboard.core import dates
from dashboard.core.numbers import (
    Row,
    between,
    chance,
    counted,
    estimated_volume,
    figures,
    listed,
    number,
    percent,
    percent_with_interval,
    volume,
)
from dashboard.data import finding_words
from dashboard.game.tables import DONE_WORDS
from dashboard.results import outcome_words
from dashboard.results.plan_outcomes import outcomes
from dashboard.screen import notices, units
from dashboard.tests import next_test_words
from dashboard.trust import how_sure_words, reliability_words
from dashboard.trust.reliability_words import estimates_of
from dashboard.week.report import FitMoment, Week, WeekReport

SHOWN = 8
NOISE_SHARE = 0.1
"""What noise alone leaves outside an interval of 90 %."""

HOW_TO_READ_LEVELS = (
    "level: what would have been shown at the peak on the days of the week, by the newest curves ·"
    " dot: change, to the right is better; line: its 90\u00a0% interval, from the noise of days and"
    " of efforts · the farthest from noise first"
)


@dataclass(frozen=True)
class Link:
    """A page by its script, what the link says, and what the page opens with."""

    script: str
    label: str
    query: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Item:
    """One thing to look at, and where."""

    text: str
    link: Link


@dataclass(frozen=True)
class Section:
    """A part of the week: what it says, its items, and pages that hold more."""

    title: str
    says: tuple[str, ...]
    items: tuple[Item, ...] = ()
    opens: tuple[Link, ...] = ()


def sections(report: WeekReport) -> tuple[Section, ...]:
    """Return the whole week, in the order in which it is read."""
    return (
        _curves(report),
        _levels(report),
        _plans(report),
        _tests(report),
        _trust(report),
        _data(report),
    )


def week_label(week: Week) -> str:
    """Return a week in words: `16 Nov to 22 Nov 2026`."""
    first, last = week.first, week.last
    begins = dates.day_of_year(first) if first.year == last.year else dates.day(first)
    return f"{begins} to {dates.day(last)}"


def headline(report: WeekReport) -> str:
    """Return the week in one line."""
    to_decide = sum(report.findings.values())
    parts = []
    if len(report.calls):
        parts.append(f"{counted(len(_called_anew(report.calls)), 'call')} changed")
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
    """Return what the newest curves stand on, and what is newer."""
    fit = report.fit
    told = (
        f"Curves of {dates.day(fit.fitted_at.date())}, from {counted(fit.sessions, 'session')} and"
        f" {counted(fit.efforts, 'effort')}."
    )
    return f"{told} {notices.newer_sentence(report.newer)}" if report.newer else told


def levels_table(levels: pd.DataFrame, unit: str) -> pd.DataFrame:
    """Return all levels of both weeks as people read them; above 0 % is better."""
    each, scale = levels.to_dict("records"), units.shown(unit)
    return pd.DataFrame(
        {
            "athlete": levels["name"],
            "change, %": levels["change_pct"].round(1),
            "90\u00a0%": [
                between(row["change_pct_low"], row["change_pct_high"], 1) for row in each
            ],
            f"then, {scale.unit}": scale.of(levels["level_before"]).round(2),
            f"now, {scale.unit}": scale.of(levels["level_after"]).round(2),
            "sessions then": levels["sessions_before"],
            "sessions now": levels["sessions_after"],
        }
    )


def levels_rows(levels: pd.DataFrame) -> pd.DataFrame:
    """Return the changes farthest from noise as rows of a figure: `name, value, low, high`."""
    columns = {"change_pct": "value", "change_pct_low": "low", "change_pct_high": "high"}
    return levels.head(SHOWN).rename(columns=columns)[["name", *columns.values()]]


def levels_in_words(levels: pd.DataFrame) -> str:
    """Return the text equivalent of the picture of the levels."""
    told = [
        f"{row['name']} {percent_with_interval(row['value'], row['low'], row['high'])}"
        for row in levels_rows(levels).to_dict("records")
    ]
    return f"Change of level with its 90\u00a0% interval, above 0 is better. {'; '.join(told)}."


def sessions_table(sessions: pd.DataFrame) -> pd.DataFrame:
    """Return who did what in the week, those with most efforts first."""
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


def _curves(report: WeekReport) -> Section:
    says = [_fits_sentence(report)]
    items: list[Item] = []
    if len(report.calls):
        anew, moved = _called_anew(report.calls), _moved(report.calls)
        says.append(
            f"{len(anew)} of {counted(len(report.calls), 'call')} changed."
            f" Without a new call, {counted(len(moved), 'best volume')} left the 90\u00a0% interval"
            " of the earlier curves."
        )
        if len(moved) > SHOWN:
            says.append(f"The {SHOWN} that moved farthest stand here.")
        for row in [*anew.to_dict("records"), *moved.head(SHOWN).to_dict("records")]:
            items.append(_of_athlete(report, row, _call_sentence(row, report.measure.volume_unit)))
    changed = report.changes.to_dict("records")
    if not changed:
        says.append(
            "No best volume seems to have changed from one of these weeks to the other, by all"
            f" sessions up to {dates.day(report.fit.fitted_at.date())} (none with a chance of"
            f" {percent(100 * change_words.LEAST_CHANCE, 0)} or more)."
        )
    for row in changed:
        told = change_words.change_sentence(row, report.measure.volume_unit)
        items.append(_of_athlete(report, row, told))
    squad = Link("squad", "Squad", _measure(report))
    return Section("What changed: calls and best volumes", tuple(says), tuple(items), (squad,))


def _fits_sentence(report: WeekReport) -> str:
    earlier, later = report.moments
    first = dates.day(report.fit.fitted_at.date())
    if later is None:
        return (
            "No curves had been worked out by the end of either week (the newest are of"
            f" {first}), so how calls changed between them cannot be told."
        )
    if earlier is None:
        return (
            f"The first curves by the end of these weeks are of {_moment(later)}: the earlier week"
            " has none to compare with."
        )
    if earlier == later:
        return (
            f"Both weeks have the same curves, those of {_moment(later)}: none were worked out"
            " between them, so no call can have changed."
        )
    return f"Curves of {_moment(earlier)} against those of {_moment(later)}."


def _called_anew(calls: pd.DataFrame) -> pd.DataFrame:
    return calls[calls["call_before"] != calls["call_after"]]


def _moved(calls: pd.DataFrame) -> pd.DataFrame:
    """Return those with the same call whose best volume left its earlier interval, the most first.

    Both curves stand on much the same data, so there is no interval of the difference.
    """
    inside = calls["best_volume_after"].between(
        calls["best_volume_low_before"], calls["best_volume_high_before"]
    )
    rows = calls[(calls["call_before"] == calls["call_after"]) & ~inside]
    logs = [np.log1p(rows[f"best_volume_{end}"]) for end in ("before", "after")]
    far = pd.Series(logs[1] - logs[0], index=rows.index).abs()
    return rows.loc[far.sort_values(ascending=False, kind="stable").index]


def _call_sentence(row: Row, unit: str) -> str:
    before, after = row["call_before"], row["call_after"]
    call = f"still {after}"
    volumes = [
        estimated_volume(
            {f"v{part}": row[f"best_volume{part}_{end}"] for part in ("", "_low", "_high")}, "v"
        )
        for end in ("before", "after")
    ]
    if before != after:
        of = after if after != "not known" else before
        then, now = (chance(row[f"chance_{of}_{end}"]) for end in ("before", "after"))
        call = f"**{before}, now {after}**; chance of {of} {then}, now {now}"
    return (
        f"{call}; best volume {volumes[0]}, now {volumes[1]} {unit}, from"
        f" {counted(row['sessions_before'], 'session')}, now {row['sessions_after']}"
    )


def _levels(report: WeekReport) -> Section:
    levels, title = report.levels, f"Levels against {week_label(report.against)}"
    opens = (Link("athlete", "An athlete's season", _measure(report)),)
    if levels.empty:
        none = "No athlete has sessions in the curves of both weeks."
        return Section(title, (none,), opens=opens)
    told, many = levels[levels["told"]], len(levels)
    says = (
        f"{counted(many, 'athlete')} with sessions in both weeks. For {len(told)} the 90\u00a0%"
        f" interval of the change leaves out 0; noise alone would do that for about"
        f" {number(NOISE_SHARE * many)}."
    )
    items = [
        _of_athlete(report, row, _level_sentence(row, report.measure.unit))
        for row in told.to_dict("records")
    ]
    return Section(title, (says,), tuple(items), opens)


def _level_sentence(row: Row, unit: str) -> str:
    better = row["change_pct"] > 0
    nearest, farthest = sorted(abs(row[f"change_pct_{end}"]) for end in ("low", "high"))
    size = percent_with_interval(abs(row["change_pct"]), nearest, farthest)
    scale = units.shown(unit)
    then, now = (figures(scale.of(row[f"level_{end}"]), 3) for end in ("before", "after"))
    return (
        f"{size} {'better' if better else 'worse'}: {then}, now {now}\u00a0{scale.unit}, from"
        f" {counted(row['sessions_before'], 'session')} then and {row['sessions_after']} now"
    )


def _plans(report: WeekReport) -> Section:
    plans, title = report.plans, "Plans of the week"
    opens = tuple(
        Link(script, label, _measure(report))
        for script, label in (
            ("before_session", "Before the session"),
            ("did_it_work", "Did it work"),
        )
    )
    if plans.empty:
        none = "No length was kept for a day of this week."
        return Section(title, (none,), opens=opens)
    counts = plans["done"].value_counts()
    told = ", ".join(f"{int(counts.get(word, 0))} {word}" for word in DONE_WORDS)
    says = (
        f"{counted(len(plans), 'plan')} for {counted(plans['day'].nunique(), 'day')}: {told}.",
        *_brought_sentences(plans),
    )
    items = [
        *(_unrecorded(report, day, plans[plans["day"] == day]) for day in plans["day"].unique()),
        *(_otherwise(report, row) for row in plans.to_dict("records")),
    ]
    return Section(title, says, tuple(item for item in items if item), opens)


def _brought_sentences(plans: pd.DataFrame) -> list[str]:
    """Say what the plans led to: start values against the level of their day."""
    if plans["against_level_pct"].isna().all():
        return ["Nothing can be said of what they brought: no start value was measured."]
    return outcome_words.outcome_sentences(outcomes(plans))


def _unrecorded(report: WeekReport, day: date, plans: pd.DataFrame) -> Item | None:
    """Return what is still to be recorded of a day, unless it is all there."""
    missing = int((plans["done"] == "not recorded").sum())
    if not missing:
        return None
    text = f"{missing} of {counted(len(plans), 'plan')} not recorded"
    return Item(text, _to_day(report, day, dates.day(day)))


def _otherwise(report: WeekReport, row: Row) -> Item | None:
    """Return a plan that was changed or skipped."""
    if row["done"] not in ("changed", "skipped"):
        return None
    did = f", did {number(row['done_volume'])}" if row["done"] == "changed" else ""
    chosen = volume(row["chosen_volume"], report.measure.volume_unit)
    around = f" ({row['game_day']})" if row["game_day"] else ""
    text = f"{row['done']} on {dates.day_of_year(row['day'])}{around}: {chosen} set{did}"
    return Item(text, _to_day(report, row["day"], row["name"]))


def _tests(report: WeekReport) -> Section:
    rows, unit = report.tests, report.measure.volume_unit
    title = "Tests due, most worth first"
    opens = (
        Link("tests_to_do", "Tests to do", _measure(report)),
        Link("run_test", "Run a test", _measure(report)),
    )
    if rows.empty:
        none = (
            "No test is expected to bring anything by better advice, or these curves were worked"
            " out before tests were weighed."
        )
        return Section(title, (none,), opens=opens)
    shown = rows.head(SHOWN)
    says = (
        f"{next_test_words.headline(rows, len(shown))}. {next_test_words.worth_sentence(shown)}",
    )
    items = [
        _of_athlete(
            report,
            row,
            f"{next_test_words.test_name(row, unit)}, worth {percent(row['worth_pct'], 2)};"
            f" {next_test_words.until_firm_call(row)}; known from {next_test_words.known(row)}",
        )
        for row in shown.to_dict("records")
    ]
    return Section(title, says, tuple(items), opens)


def _trust(report: WeekReport) -> Section:
    sure = Link("how_sure", "How sure", _measure(report))
    repeats = Link("reliability", "Reliability", _measure(report))
    items = [Item(warning, sure) for warning in report.fit.warnings.splitlines()]
    if report.check is None:
        items.append(Item("These curves were kept without a check of the model", sure))
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
        # Why quotes what stood there, a note perhaps, and the week is printed and handed round.
        text = (
            f"{counted(int(row['rows']), 'row')} of {row['file']} set aside on"
            f" {dates.day_of_year(row['day'])}"
        )
        items.append(Item(text, Link("import_efforts", "Import")))
    return Section("Data of the week, and what to check", tuple(says), tuple(items))


def _of_athlete(report: WeekReport, row: Row, text: str) -> Item:
    query = {"athlete": row["athlete"], **_measure(report)}
    return Item(text, Link("athlete", row["name"], query))


def _to_day(report: WeekReport, day: date, label: str) -> Link:
    return Link("before_session", label, {"plan_day": f"{day:%Y-%m-%d}", **_measure(report)})


def _measure(report: WeekReport) -> dict[str, str]:
    return {"measure": report.measure.code}


def _moment(moment: FitMoment) -> str:
    return dates.day(moment.fitted_at.date())
