"""Columns of values side by side: numbered, or one for each day or athlete."""

from __future__ import annotations

import re
from collections.abc import Mapping

from db.layouts.header_words import speaks_day_first
from db.layouts.laid_out import LaidOut
from db.layouts.written_dates import date_in, looks_like_date
from db.readings.athlete_names import AthleteNames
from db.readings.column_facts import ColumnFacts
from db.readings.column_roles import Roles
from db.readings.readings import Known, Question
from db.readings.writing_asked import date_form

__all__ = ["across", "numbered_columns", "over_the_athletes"]

_NUMBERED = re.compile(r"(.*?)[\s_#.-]*(\d{1,3})")


def numbered_columns(facts: Mapping[str, ColumnFacts]) -> dict[str, tuple[str, int]]:
    """Return columns numbered from 1, with the text before the number and the number.

    Such as `Jump 1`, `Jump 2`, or only `1`, `2`, also `Jump 1 (cm)`; one column alone does not
    count.
    """
    groups: dict[str, dict[int, str]] = {}
    for column, each in facts.items():
        bare = " ".join(each.header.text.replace(f"({each.header.other_unit})", " ").split())
        bare = re.sub(r"[\[(][^\])]*[\])]\s*$", "", bare).strip()
        found = _NUMBERED.fullmatch(bare)
        if found and (each.is_numbers or not each.texts) and not each.from_above:
            group = re.sub(r"[\[(][^\])]*[\])]", "", found[1]).strip().lower()
            groups.setdefault(group, {})[int(found[2])] = column
    numbered: dict[str, tuple[str, int]] = {}
    for base, columns in groups.items():
        if len(columns) > 1 and set(columns) == set(range(1, len(columns) + 1)):
            numbered |= {column: (base, number) for number, column in columns.items()}
    return numbered


def across(
    left: Mapping[str, ColumnFacts],
    laid: LaidOut,
    roles: Roles,
    known: Known,
    names: AthleteNames,
    answers: Mapping[str, str],
    questions: list[Question],
) -> dict[str, dict[str, str]]:
    """Return columns whose headers are days, or athletes, with what they say.

    Parameters
    ----------
    left : mapping of str to ColumnFacts
        The columns of numbers that have no role.
    laid, roles, known, names, answers : LaidOut, Roles, Known, AthleteNames, mapping
        The file, its other columns, and what is known and was answered.
    questions : list of Question
        Gets a question if it is not clear how the days are written.
    """
    if "started_at" not in roles.columns:
        days = {
            column: laid.titles[column] for column in left if looks_like_date(laid.titles[column])
        }
        if len(days) > 1:
            day_first = any(map(speaks_day_first, laid.titles.values()))
            form = date_form(list(days.values()), known, answers, questions, day_first)
            return {
                column: {"started_at": date_in(day, form or "year first")}
                for column, day in days.items()
            }
    if "athlete" not in roles.columns:
        people = {column: names.code_of(laid.titles[column]) for column in left}
        if sum(map(bool, people.values())) > 1:
            return {column: {"athlete": code} for column, code in people.items() if code}
    return {}


def over_the_athletes(roles: Roles, facts: Mapping[str, ColumnFacts]) -> tuple[str, str]:
    """Return what the header above the athletes says, often the measure, and the unit in it."""
    column = roles.columns.get("athlete", "")
    if not column:
        return "", ""
    return " ".join(facts[column].header.words), facts[column].header.unit
