"""Files in which every row says what was measured: which measure, and in which unit."""

from __future__ import annotations

from collections.abc import Mapping

from db.imports.mappings import UNIT
from db.layouts.header_words import parted
from db.layouts.laid_out import LaidOut
from db.readings.column_facts import ColumnFacts
from db.readings.column_roles import Roles
from db.readings.measure_names import name_of_measure
from db.readings.readings import Known, Question
from db.readings.value_columns import Values
from db.readings.writing_asked import unit_of_values
from db.tables.cells import NEEDED, NUMBER

__all__ = ["measure_codes", "units_by_measure"]


def measure_codes(column: ColumnFacts, known: Known) -> dict[str, str]:
    """Return the code by what the cells of a column write, for texts that surely name a measure."""
    codes = {}
    for text in column.texts:
        part = parted(text)
        found = name_of_measure(" ".join(part.words) or text, part.unit, known)
        if text not in {measure.code for measure in known.measures}:
            if len(found.codes) == 1 and found.named:
                codes[text] = found.codes[0]
    return codes


def units_by_measure(
    laid: LaidOut,
    facts: Mapping[str, ColumnFacts],
    roles: Roles,
    values: Values,
    known: Known,
    answers: Mapping[str, str],
    questions: list[Question],
) -> dict[str, str]:
    """Return the unit of the values by what the column of measures writes.

    Returns
    -------
    dict of str to str
        Empty if the unit has a column or stands above the values, or the file is one of ours.
    """
    column = roles.columns["measure"]
    ours = set(NEEDED) <= facts.keys()
    if ours or UNIT in roles.columns or any(each.unit for each in values.found):
        return {}
    measures = {measure.code: measure for measure in known.measures}
    codes = measure_codes(facts[column], known)
    cells = laid.table.frame[column].str.strip()
    units = {}
    for text in facts[column].texts:
        measure = measures.get(codes.get(text, text))
        if measure is None:
            continue
        rows = (cells == text).to_numpy()
        numbers = [
            float(number)
            for each in values.found
            for written in laid.table.frame[each.column][rows].str.strip().unique()
            if NUMBER.fullmatch(number := facts[each.column].numbers.get(written, ""))
        ]
        found = unit_of_values(
            text.lower(), text, parted(text).unit, measure, numbers, known, answers, questions
        )
        units[text] = found.unit
    return units
