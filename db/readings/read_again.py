"""Read a file like the last one with its header."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from db.imports.mappings import ColumnMapping
from db.layouts.laid_out import LaidOut
from db.layouts.tidying import tidied
from db.layouts.written_dates import day_of, looks_like_date
from db.readings.athlete_names import AthleteNames
from db.readings.column_facts import ColumnFacts, columns_of
from db.readings.column_roles import Roles
from db.readings.measure_names import can_be
from db.readings.people_asked import people_of
from db.readings.readings import REMEMBERED, Known, Question, Reading
from db.readings.sentences import column_readings
from db.readings.value_columns import FoundValue, Values

__all__ = ["read_again"]

_MOSTLY = 0.5


def read_again(
    laid: LaidOut, known: Known, answers: Mapping[str, str], name: str, mapping: ColumnMapping
) -> Reading | None:
    """Read a file by a remembered mapping, and ask about new names in it.

    Returns
    -------
    Reading or None
        None if the file has the header but cannot be read like that: it does not say its day, its
        dates are written in another way, or its values are outside the limits.
    """
    frame = tidied(laid.table, mapping.tidying).frame
    start = mapping.sources.get("started_at")
    if start is not None and start.fixed:
        return None
    facts = columns_of(laid)
    if start is not None and start.column:
        texts = facts[start.column].texts
        unread = [text for text in texts if not day_of(text, mapping.time_form)]
        if len(unread) > _MOSTLY * len(texts) or any(map(looks_like_date, unread)):
            return None
    roles, values = _parts(mapping)
    if not all(_can_be(each, facts, known) for each in values.found):
        return None
    questions: list[Question] = []
    new: Mapping[str, tuple[str, str]] = {}
    athlete = mapping.sources.get("athlete")
    if athlete is not None and athlete.column:
        texts = tuple(text for text in frame[athlete.column].str.strip().unique() if text)
        nicknames = {**known.nicknames, **athlete.codes}
        known = replace(known, nicknames=nicknames)
        people = people_of(texts, known, AthleteNames(known), answers, questions)
        mapping, new = mapping.with_athletes({**athlete.codes, **people.codes}), people.new_athletes
    said = column_readings(laid, facts, roles, values, mapping.time_form, known, ())
    columns = tuple(replace(each, sure=REMEMBERED if each.meaning else "") for each in said)
    still_open = any(not each.answer for each in questions)
    return Reading(
        columns,
        tuple(questions),
        None if still_open else mapping,
        new,
        laid.left_out,
        name,
        remembered=True,
    )


def _can_be(found: FoundValue, facts: Mapping[str, ColumnFacts], known: Known) -> bool:
    """Tell whether at least half of a column's values are within the limits of its measure."""
    measure = {each.code: each for each in known.measures}.get(found.measure)
    values = facts[found.column].values
    return measure is None or not values or can_be(values, found.unit or measure.unit, measure)


def _parts(mapping: ColumnMapping) -> tuple[Roles, Values]:
    """Split a mapping into the parts that a guess makes it from."""
    roles = Roles(
        {
            ours: source.column
            for ours, source in mapping.sources.items()
            if source.column and ours != "value"
        },
        mapping.tidying.joined,
    )
    measure = mapping.sources["measure"].fixed if "measure" in mapping.sources else ""
    found = [
        FoundValue(
            each.column,
            each.says.get("measure", measure),
            each.says.get("unit", ""),
            {name: said for name, said in each.says.items() if name not in ("measure", "unit")},
            True,
        )
        for each in mapping.value_columns
    ]
    value = mapping.sources.get("value")
    if value is not None and value.column:
        found.append(FoundValue(value.column, measure, value.unit, {}, True))
    return roles, Values(found)
