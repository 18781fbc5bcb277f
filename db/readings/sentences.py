"""Say in a sentence how each column of a file is read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from db.imports.mappings import CLOCK, UNIT, ColumnMapping
from db.layouts.laid_out import LaidOut
from db.readings.column_facts import ColumnFacts
from db.readings.column_roles import Roles
from db.readings.readings import ASKED, LIKELY, SURE, ColumnReading, Known, Question
from db.readings.value_columns import FoundValue, Values

__all__ = ["MEANINGS", "column_readings", "mapping_sentences", "unit_name"]

MEANINGS = {
    "athlete": "the athlete",
    "started_at": "the day",
    CLOCK: "the time of day",
    "measure": "what was measured",
    UNIT: "the unit of the value",
    "effort": "the number of the effort",
    "volume_before": "the volume done before the effort",
    "kind": "the kind of session",
    "context": "what the session was part of",
    "general_minutes": "the minutes of general warm-up",
    "rest_minutes": "the minutes of rest before",
    "effort_rest_seconds": "the seconds between efforts",
    "ambient_c": "the temperature",
    "days_since_game": "the days since the last game",
    "load_kg": "the load",
    "planned_volume": "the volume planned",
    "freshness": "how fresh the athlete felt",
    "joints": "how the joints felt",
    "mobility": "the mobility",
    "pain": "whether there was pain",
    "note": "a note",
    "excluded": "why an effort is not used",
}
_UNIT_NAMES = {"in": "inches", "ft": "feet", "m": "metres", "s": "seconds", "N": "newtons"}


def unit_name(unit: str) -> str:
    """Return a unit as sentences write it."""
    return _UNIT_NAMES.get(unit, unit)


def column_readings(
    laid: LaidOut,
    facts: Mapping[str, ColumnFacts],
    roles: Roles,
    values: Values,
    form: str,
    known: Known,
    questions: Sequence[Question],
) -> tuple[ColumnReading, ...]:
    """Say how each column is read and how sure that is, in the file's order."""
    ours = {column: name for name, column in roles.columns.items()}
    ours |= dict.fromkeys(roles.joined, "athlete")
    found = {each.column: each for each in values.found}
    asked = {each.key.split(":", 1)[-1] for each in questions if ":" in each.key}
    said: list[ColumnReading] = []
    for column in facts:
        title = laid.titles.get(column, column)
        if column in found:
            said.append(_of_values(found[column], title, known, column in asked))
        elif column in ours:
            said.append(_of_role(column, title, ours[column], form, roles, questions))
        elif column in asked:
            sentence = f"`{title}` is asked about below."
            said.append(ColumnReading(title, "", "", "", "", ASKED, sentence))
        else:
            said.append(ColumnReading(title, "", "", "", "", "", f"`{title}` is not read."))
    return tuple(said)


def mapping_sentences(mapping: ColumnMapping) -> list[str]:
    """Say how a mapping reads each column, without a file."""
    said = [
        f"`{source.column}` is {MEANINGS.get(name, 'the value')}"
        + (f" in {unit_name(source.unit)}" if source.unit else "")
        for name, source in mapping.sources.items()
        if source.column
    ]
    said += [
        f"`{each.column}` has values"
        + (f" of {each.says['measure']}" if "measure" in each.says else "")
        + (f" in {unit_name(each.says['unit'])}" if "unit" in each.says else "")
        + (f", effort {each.says['effort']}" if "effort" in each.says else "")
        for each in mapping.value_columns
    ]
    said += [
        f"{name.replace('_', ' ')} is {source.fixed} on every row"
        for name, source in mapping.sources.items()
        if source.fixed
    ]
    if mapping.counted:
        said.append("efforts are counted in the order of the rows")
    if mapping.clock:
        said.append(f"days without a time are at {mapping.clock}")
    return [f"{sentence[:1].upper()}{sentence[1:]}." for sentence in said]


def _of_values(found: FoundValue, title: str, known: Known, asked: bool) -> ColumnReading:
    measure = {each.code: each for each in known.measures}.get(found.measure)
    name = (measure.name[:1].lower() + measure.name[1:]) if measure else "the value"
    into = measure.unit if measure else ""
    unit = found.unit or into
    units = f" in {unit_name(unit)}" if unit else ""
    change = f" → {into}" if into and unit != into else ""
    more = ""
    if "effort" in found.says:
        more = f", effort {found.says['effort']}"
    elif "started_at" in found.says:
        more = f", of {found.says['started_at']}"
    elif "athlete" in found.says:
        more = f", of {known.athletes.get(found.says['athlete'], found.says['athlete'])}"
    sure = ASKED if asked else SURE if found.sure else LIKELY
    hint = " It is the only reading that fits." if sure == LIKELY else ""
    return ColumnReading(
        title,
        "value",
        unit,
        into,
        found.measure,
        sure,
        f"`{title}` is {name}{units}{change}{more}.{hint}",
    )


def _of_role(
    column: str, title: str, role: str, form: str, roles: Roles, questions: Sequence[Question]
) -> ColumnReading:
    what, sure = MEANINGS.get(role, role), SURE
    if role == "started_at":
        asked = any(each.key in ("dates", "date_column") for each in questions)
        sure = ASKED if asked else SURE
        what += {
            "day first": ", written day first",
            "month first": ", written month first",
            "spreadsheet days": ", counted as a spreadsheet does",
            "seconds since 1970": " and time, in seconds since 1970",
        }.get(form, "")
    if column in roles.joined:
        what = "the athlete's name, with " + " and ".join(
            f"`{each}`" for each in roles.joined if each != column
        )
    if column in roles.said:
        sure = ASKED
    return ColumnReading(title, role, "", "", "", sure, f"`{title}` is {what}.")
