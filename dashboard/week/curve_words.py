"""What changed in a week: calls, best volumes and levels."""

from __future__ import annotations

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
    number,
    percent,
    percent_with_interval,
)
from dashboard.screen import units
from dashboard.week.fit_moments import FitMoment
from dashboard.week.report import WeekReport
from dashboard.week.sections import Item, Link, Section, measure_query, of_athlete, week_label

SHOWN = 8

NOISE_SHARE = 0.1
"""Share of changes whose 90 % interval excludes 0 by noise alone."""

HOW_TO_READ_LEVELS = (
    "level: what would have been shown at the peak on the days of the week, by the newest curves ·"
    " dot: change, to the right is better; line: its 90\u00a0% interval, from the noise of days and"
    " of efforts · the farthest from noise first"
)


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


def curves_section(report: WeekReport) -> Section:
    """Return what the later week's curves say that the earlier week's did not."""
    says = [_fits_sentence(report)]
    items: list[Item] = []
    if len(report.calls):
        anew, moved = called_anew(report.calls), _moved(report.calls)
        says.append(
            f"{len(anew)} of {counted(len(report.calls), 'call')} changed."
            f" Without a new call, {counted(len(moved), 'best volume')} left the 90\u00a0% interval"
            " of the earlier curves."
        )
        if len(moved) > SHOWN:
            says.append(f"The {SHOWN} that moved farthest stand here.")
        for row in [*anew.to_dict("records"), *moved.head(SHOWN).to_dict("records")]:
            items.append(of_athlete(report, row, _call_sentence(row, report.measure.volume_unit)))
    changed = report.changes.to_dict("records")
    if not changed:
        says.append(
            "No best volume seems to have changed from one of these weeks to the other, by all"
            f" sessions up to {dates.day(report.fit.fitted_at.date())} (none with a chance of"
            f" {percent(100 * change_words.LEAST_CHANCE, 0)} or more)."
        )
    for row in changed:
        told = change_words.change_sentence(row, report.measure.volume_unit)
        items.append(of_athlete(report, row, told))
    squad = Link("squad", "Squad", measure_query(report))
    return Section("What changed: calls and best volumes", tuple(says), tuple(items), (squad,))


def _fits_sentence(report: WeekReport) -> str:
    earlier, later = report.moments
    first = dates.day(report.fit.fitted_at.date())
    if later is None:
        return (
            f"No comparison: there were no curves by the end of either week; the newest are of"
            f" {first}."
        )
    if earlier is None:
        return f"No comparison: the earlier week has no curves; the first are of {_moment(later)}."
    if earlier == later:
        return f"No comparison: both weeks have the same curves, those of {_moment(later)}."
    return compared(earlier, later)


def compared(earlier: FitMoment, later: FitMoment) -> str:
    """Return in a sentence which curves are compared."""
    then, now = _moment(earlier), _moment(later)
    if earlier.data_basis is None:
        return f"Curves of {then} against those of {now}."
    known = {"stored": "what was stored by", "held": "the sessions up to"}[earlier.data_basis]
    return f"All data of {now} against {known} {then}."


def called_anew(calls: pd.DataFrame) -> pd.DataFrame:
    """Return the athletes whose call changed."""
    return calls[calls["call_before"] != calls["call_after"]]


def _moved(calls: pd.DataFrame) -> pd.DataFrame:
    """Return those with the same call whose best volume left its earlier interval, farthest first.

    Both curves rest on much the same data, so the difference has no interval.
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


def levels_section(report: WeekReport) -> Section:
    """Return whose level moved from one week to the other."""
    levels, title = report.levels, f"Levels against {week_label(report.against)}"
    opens = (Link("athlete", "An athlete's season", measure_query(report)),)
    if levels.empty:
        none = "No athlete has sessions in the curves of both weeks."
        return Section(title, (none,), opens=opens)
    told, many = levels[levels["told"]], len(levels)
    by_chance = f"By chance alone about {number(NOISE_SHARE * many)} would seem to."
    changed = f"{len(told)} clearly changed" if len(told) else "Nobody clearly changed"
    says = f"{counted(many, 'athlete')} with sessions in both weeks. {changed}. {by_chance}"
    items = [
        of_athlete(report, row, _level_sentence(row, report.measure.unit))
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


def _moment(moment: FitMoment) -> str:
    return dates.day(moment.fitted_at.date())
