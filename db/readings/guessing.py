"""Guess how a file is read (who, when, what, in which unit), and ask what it does not show.

`guess_reading` is a pure function. It takes a file from `db.layouts.laid_out.read_laid_out`, what
is known about athletes and measures (`db.readings.kept_readings.known_of`), and answers, and
returns a `Reading`. If two readings fit equally it asks, and never guesses. `db.readings.any_file`
does everything with a store: it guesses or remembers, then gives the rows as an import takes them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from db.errors import BadInput
from db.imports.mappings import OWN_UNITS, UNIT, ColumnMapping, Source
from db.imports.units import units_like
from db.layouts.header_words import speaks_day_first, unit_of
from db.layouts.laid_out import LaidOut
from db.layouts.tidying import Tidying
from db.layouts.written_dates import date_in, day_of, looks_like_date
from db.readings.athlete_names import AthleteNames
from db.readings.column_facts import ColumnFacts, columns_of
from db.readings.column_roles import Roles, roles_of
from db.readings.measures_in_rows import measure_codes, units_by_measure
from db.readings.people_asked import People, people_of
from db.readings.readings import Choice, Known, Question, Reading
from db.readings.sentences import column_readings
from db.readings.sessions_asked import clock_of_days, kind_of_sessions, minutes_of_session
from db.readings.side_by_side import numbered_columns
from db.readings.value_columns import Values, values_of
from db.readings.writing_asked import date_form
from db.tables.cells import SESSION_FACTS

__all__ = ["asked_of_each_file", "guess_reading", "shape_of"]

_NONE_FITS = {
    "athlete": "No column of the file {} says who it was. Add one with the athletes' names or"
    " codes, and import the file again. Nothing was saved.",
    "value": "No column of the file {} has numbers that can be values. Put them into a column of"
    " their own, and import the file again. Nothing was saved.",
}


def guess_reading(laid: LaidOut, known: Known, answers: Mapping[str, str] | None = None) -> Reading:
    """Guess how to read a file, and ask what it does not show.

    Parameters
    ----------
    laid : LaidOut
        The file.
    known : Known
        Athletes, measures, and what is stored about them.
    answers : mapping of str to str, optional
        What a person answered, by the key of the question. `column:NAME` says what a column
        is: one of ours, `value`, or `not read`. `every row:FACT` gives a fact of all sessions.

    Returns
    -------
    Reading
        It has a mapping once no question is open.

    Raises
    ------
    BadInput
        If no column can be the athletes or the values.
    """
    return _Guess(laid, known, answers or {}).reading()


def shape_of(laid: LaidOut) -> tuple[str, ...]:
    """Return the header for comparing it with other files; all days in it count as the same."""
    return tuple(
        "(day)" if looks_like_date(column) else " ".join(column.split()) for column in laid.titles
    )


def asked_of_each_file(key: str) -> bool:
    """Tell whether the answer holds for one file only: who somebody is, or which day it was."""
    return key in ("athletes", "day") or key.startswith("athlete:")


class _Guess:
    def __init__(self, laid: LaidOut, known: Known, answers: Mapping[str, str]) -> None:
        column = answers.get("value_column", "")
        value = {f"column:{column}": "value"} if column in laid.table.frame else {}
        self.laid, self.known, self.answers = laid, known, {**value, **answers}
        self.facts = columns_of(laid)
        self.names = AthleteNames(known)
        self.questions: list[Question] = []

    def reading(self) -> Reading:
        facts, answers = self.facts, self.answers
        wide = numbered_columns(facts)
        roles = roles_of(facts, self.known, self.names, answers, self.laid.table.frame, wide)
        values = values_of(self.laid, facts, roles, self.known, self.names, answers)
        self.questions += [*roles.questions, *values.questions]
        self._needed(roles, values)
        form = self._date_form(roles)
        tidying = self._tidying(roles, values)
        sources = self._sources(roles, values)
        people = self._people(roles, tidying)
        if "athlete" in sources:
            sources["athlete"] = Source(sources["athlete"].column, codes=people.codes)
        kind, volume = kind_of_sessions(self.laid, roles, answers, self.questions)
        if kind:
            sources["kind"] = Source(fixed=kind)
        days = self._starts(roles, values, form)
        clock = clock_of_days(self.laid, roles, days, answers, self.questions)
        minutes = minutes_of_session(self.laid, roles, values, form, answers, self.questions)
        mapping = None
        if not any(not each.answer for each in self.questions):
            mapping = ColumnMapping(
                sources,
                time_form=form or "year first",
                decimal_mark=values.decimal_mark,
                values=tuple(each.as_column() for each in values.found)
                if self._side_by_side(values)
                else (),
                counted="effort" not in sources
                and not any("effort" in each.says for each in values.found),
                first_volume=volume,
                clock=clock,
                session_minutes=minutes,
                tidying=tidying,
                shape=shape_of(self.laid),
                answers={
                    key: said for key, said in self.answers.items() if not asked_of_each_file(key)
                },
            )
        columns = column_readings(self.laid, facts, roles, values, form, self.known, self.questions)
        return Reading(
            columns, tuple(self.questions), mapping, people.new_athletes, self.laid.left_out
        )

    def _needed(self, roles: Roles, values: Values) -> None:
        """Ask which column says who, when and what, if none was found."""
        across = {name for each in values.found for name in each.says}
        taken = roles.taken() | {each.column for each in values.found}
        asked = {each.key for each in self.questions}
        if "athlete" not in {*roles.columns, *across} and "athlete_column" not in asked:
            free = [each for each in self.facts.values() if each.column not in taken]
            if said := self._which_column("athlete", "Which column says who it was?", free):
                roles.columns["athlete"] = said
        if "started_at" not in {*roles.columns, *across} and "date_column" not in asked:
            said = self.answers.get("day", "")
            said = said if day_of(said, "year first") else ""
            self.questions.append(Question("day", "On which day was it?", (), "day", said))
        if "value_column" in self.answers or not (values.found or values.questions):
            numbers = [each for each in self.facts.values() if each.is_numbers]
            self._which_column("value", "Which column has the values?", numbers)

    def _which_column(self, role: str, text: str, fitting: Iterable[ColumnFacts]) -> str:
        """Ask which column has a role, and return the answer; empty while there is none."""
        choices = tuple(Choice(each.column, each.header.text) for each in fitting)
        if not choices:
            raise BadInput(_NONE_FITS[role].format(self.laid.table.name))
        said = self.answers.get(f"{role}_column", "")
        said = said if said in {each.value for each in choices} else ""
        self.questions.append(Question(f"{role}_column", text, choices, "choice", said))
        return said

    def _date_form(self, roles: Roles) -> str:
        column = roles.columns.get("started_at")
        if column is None:
            return ""
        texts = [
            text
            for text in self.facts[column].texts
            if looks_like_date(text) or self.facts[column].is_numbers
        ]
        if len(texts) < len(self.facts[column].texts) / 2:
            texts = list(self.facts[column].texts)
        day_first = any(map(speaks_day_first, self.laid.titles.values()))
        return date_form(texts, self.known, self.answers, self.questions, day_first)

    def _tidying(self, roles: Roles, values: Values) -> Tidying:
        bare = {
            each.column: unit
            for each in values.found
            if (unit := self.facts[each.column].unit_behind)
        }
        return Tidying(roles.joined, self._filled(roles), bare)

    def _filled(self, roles: Roles) -> tuple[str, ...]:
        """Return the columns in which an empty cell means the same as above, or ask."""
        frame = self.laid.table.frame
        gaps: dict[str, bool] = {}
        effort = roles.columns.get("effort")
        for role in ("athlete", "started_at", "measure"):
            column = roles.columns.get(role, "")
            if not column or column in roles.joined:
                continue
            empty = (frame[column].str.strip() == "").to_numpy()
            if empty.any() and not empty[0]:
                gaps[column] = effort is not None and _go_on(frame[effort].tolist(), empty.tolist())
        if not gaps or all(gaps.values()):
            return tuple(gaps)
        titles = ", ".join(self.facts[column].header.text for column in gaps)
        said = self.answers.get("empty", "")
        said = said if said in ("above", "none") else ""
        choices = (Choice("above", "the same as above"), Choice("none", "nothing: set aside"))
        self.questions.append(
            Question("empty", f"What does an empty cell in {titles} mean?", choices, "choice", said)
        )
        return tuple(gaps) if said == "above" else ()

    def _sources(self, roles: Roles, values: Values) -> dict[str, Source]:
        facts = self.facts
        sources = {ours: Source(column) for ours, column in roles.columns.items()}
        if "measure" in sources:
            column = sources["measure"].column
            sources["measure"] = Source(column, codes=measure_codes(facts[column], self.known))
            units = units_by_measure(
                self.laid, facts, roles, values, self.known, self.answers, self.questions
            )
            if units:
                sources[UNIT] = Source(column, codes=units)
        if UNIT in roles.columns:
            texts = facts[sources[UNIT].column].texts
            codes = {text: unit_of(text) for text in texts if unit_of(text) not in ("", text)}
            sources[UNIT] = Source(sources[UNIT].column, codes=codes)
        for ours, own in OWN_UNITS.items():
            unit = facts[roles.columns[ours]].header.unit if ours in roles.columns else ""
            if unit != own and unit in units_like(own):
                sources[ours] = Source(roles.columns[ours], unit=unit)
        for ours in SESSION_FACTS:
            if (said := self.answers.get(f"every row:{ours}", "").strip()) and ours not in sources:
                sources[ours] = Source(fixed=said)
        if day := self.answers.get("day", "") and next(
            (each.answer for each in self.questions if each.key == "day"), ""
        ):
            sources["started_at"] = Source(fixed=day)
        if len(values.found) == 1 and not self._side_by_side(values):
            [only] = values.found
            sources["value"] = Source(only.column, unit=only.unit if UNIT not in sources else "")
            if only.measure:
                sources["measure"] = Source(fixed=only.measure)
        return sources

    def _side_by_side(self, values: Values) -> bool:
        return len(values.found) > 1 or any(each.says for each in values.found)

    def _starts(self, roles: Roles, values: Values, form: str) -> list[str]:
        """Return the starts that the file gives, in ISO 8601 if they can be read."""
        if column := roles.columns.get("started_at"):
            return [date_in(text, form or "year first") for text in self.facts[column].texts]
        starts = [each.says["started_at"] for each in values.found if "started_at" in each.says]
        return starts or [each.answer for each in self.questions if each.key == "day"]

    def _people(self, roles: Roles, tidying: Tidying) -> People:
        column = roles.columns.get("athlete")
        if column is None:
            return People({}, {})
        frame = self.laid.table.frame
        texts = frame[column].str.strip()
        for other in roles.joined[1:]:
            texts = (texts + " " + frame[other].str.strip()).str.strip()
        different = [text for text in texts.unique().tolist() if text]
        return people_of(different, self.known, self.names, self.answers, self.questions)


def _go_on(efforts: list[str], empty: list[bool]) -> bool:
    """Tell whether the numbers of the efforts continue wherever a cell is empty."""
    for before, now, gap in zip(efforts, efforts[1:], empty[1:], strict=False):
        if not (before.strip().isdigit() and now.strip().isdigit()):
            return False
        if gap and int(now) != int(before) + 1:
            return False
    return True
