"""Which columns hold values: of which measure, in which unit, and what their header says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from db.imports.mappings import ValueColumn
from db.imports.units import units_like
from db.layouts.header_words import is_summary
from db.layouts.laid_out import LaidOut
from db.layouts.plain_words import words_of
from db.readings.athlete_names import AthleteNames
from db.readings.column_facts import ColumnFacts
from db.readings.column_roles import NOT_READ, Roles
from db.readings.measure_names import (
    NamedMeasure,
    name_of_measure,
    names_other_thing,
    titles_measure,
    units_that_fit,
)
from db.readings.readings import Choice, Known, Question
from db.readings.side_by_side import across, numbered_columns, over_the_athletes
from db.readings.writing_asked import FoundUnit, mark_of, unit_of_values

__all__ = ["FoundValue", "Values", "values_of"]

_ONLY_A_NUMBER = frozenset("t f r a e n trial try rep attempt effort versuch nr no essai".split())


@dataclass(frozen=True)
class FoundValue:
    """A column of values.

    Attributes
    ----------
    column : str
        The file's column.
    measure : str
        The code of its measure; empty if another column gives it, or it is not known yet.
    unit : str
        The unit of its numbers; empty if it is the measure's own, or another column gives it.
    says : dict of str to str
        What else its header says about all its cells: `effort`, `started_at` or `athlete`.
    sure : bool
        Whether measure and unit are written, and not just the only ones that fit.
    """

    column: str
    measure: str
    unit: str
    says: Mapping[str, str]
    sure: bool

    def as_column(self) -> ValueColumn:
        """Return it as a column of a mapping."""
        said = {"measure": self.measure, "unit": self.unit}
        written = {name: text for name, text in said.items() if text}
        return ValueColumn(self.column, {**written, **self.says})


@dataclass
class Values:
    """The columns of values, the questions about them, and the decimal mark that they show."""

    found: list[FoundValue] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    decimal_mark: str = ""


class _Finder:
    def __init__(
        self,
        laid: LaidOut,
        facts: Mapping[str, ColumnFacts],
        roles: Roles,
        known: Known,
        answers: Mapping[str, str],
    ) -> None:
        self.laid, self.facts, self.roles = laid, facts, roles
        self.known, self.answers = known, answers
        self.measures = {measure.code: measure for measure in known.measures}
        self.values = Values()
        self.offered: dict[str, tuple[str, ...]] = {}
        self.by_rows = {"measure", "unit"} & roles.columns.keys()

    def add(
        self,
        columns: Sequence[str],
        named: str,
        says: Sequence[Mapping[str, str]],
        named_unit: str = "",
        by_title: bool = True,
    ) -> None:
        """Add columns of one measure, with its name and unit, and what each header says."""
        first = self.facts[columns[0]]
        values = [value for column in columns for value in self.facts[column].values]
        measure, titled, sure = "", "", True
        if "measure" not in self.roles.columns:
            measure, sure, titled = self._measure_of(first, named, values, by_title)
            if not measure:
                return
        found = FoundUnit(first.header.unit or first.unit_behind, True)
        if measure and "unit" not in self.roles.columns:
            found = self._unit_of(first, columns, measure, named_unit or titled)
            if found.open:
                return
        if any(self.facts[column].decimal_comma for column in columns):
            self.values.decimal_mark = "comma"
        for column, said in zip(columns, says, strict=True):
            self.values.found.append(
                FoundValue(column, measure, found.unit, said, sure and found.written)
            )

    def ask_of(self, column: str, codes: Sequence[str]) -> None:
        """Ask which of these measures a column holds, and add it once that is answered."""
        said = self.answers.get(f"measure:{column}", "")
        self.offered[column] = tuple(codes)
        if said in codes:
            self.add([column], "", [{}])
        else:
            self._ask_measure(self.facts[column], codes, said if said == NOT_READ else "")

    def _measure_of(
        self, first: ColumnFacts, named: str, values: Sequence[float], by_title: bool
    ) -> tuple[str, bool, str]:
        """Return the measure, whether it is named, and the title's unit if the title names it."""
        key = f"measure:{first.column}"
        unit = first.header.unit or first.unit_behind
        said = self.answers.get(key, "")
        found = name_of_measure(named, unit, self.known)
        summary = is_summary(first.header.text)
        fitting = tuple(code for code in self.measures if self._can_be(code, unit, values))
        # Offer the same choices before and after the answer, so that a page keeps the choice.
        offered = self.offered.get(first.column) or (*found.codes, *fitting)
        if said in self.measures or said == NOT_READ:
            self._ask_measure(first, (*offered, *({said} & self.measures.keys())), said)
            return "" if said == NOT_READ else said, True, ""
        if found.named and len(found.codes) == 1 and not summary:
            return found.codes[0], True, ""
        title, title_unit = (
            titles_measure(self.laid.said, self.known) if by_title and not summary else (found, "")
        )
        if not found.codes and title.codes and self._can_be(title.codes[0], unit, values):
            return title.codes[0], True, title_unit
        if (
            len(found.codes) == 1
            and unit
            and not summary
            and self._can_be(found.codes[0], unit, values)
        ):
            return found.codes[0], False, ""
        if offered:
            self._ask_measure(first, offered, "")
        return "", False, ""

    def _can_be(self, code: str, unit: str, values: Sequence[float]) -> bool:
        measure = self.measures[code]
        if unit and unit not in (measure.unit, *units_like(measure.unit)):
            return False
        return bool(units_that_fit(values, measure, self.known, (unit,) if unit else ()))

    def _ask_measure(self, first: ColumnFacts, codes: Sequence[str], answer: str) -> None:
        choices = (
            *(Choice(code, self.measures[code].name) for code in dict.fromkeys(codes)),
            Choice(NOT_READ, "none of these: it is not read"),
        )
        self.values.questions.append(
            Question(
                f"measure:{first.column}",
                f"What do the values in {first.header.text} measure?",
                choices,
                "choice",
                answer,
            )
        )

    def _unit_of(
        self, first: ColumnFacts, columns: Sequence[str], code: str, titled: str
    ) -> FoundUnit:
        measure, asked = self.measures[code], self.values.questions
        written = first.header.unit or first.unit_behind or titled
        values = [value for column in columns for value in self.facts[column].values]
        doubts = [each for column in columns for each in self.facts[column].in_doubt]
        if doubts and not self.laid.table.writing.stated:
            comma = any("," in text for column in columns for text in self.facts[column].numbers)
            mark, read = mark_of(doubts, comma, measure, written, self.known, self.answers, asked)
            self.values.decimal_mark = mark or self.values.decimal_mark
            values += read
        return unit_of_values(
            first.column,
            first.header.text,
            written,
            measure,
            values,
            self.known,
            self.answers,
            asked,
        )


def values_of(
    laid: LaidOut,
    facts: Mapping[str, ColumnFacts],
    roles: Roles,
    known: Known,
    names: AthleteNames,
    answers: Mapping[str, str],
) -> Values:
    """Find the columns of values, and what to ask about them.

    Parameters
    ----------
    laid, facts, roles : LaidOut, mapping of str to ColumnFacts, Roles
        The file, its columns, and those that do not hold values.
    known, names : Known, AthleteNames
        Measures and athletes.
    answers : mapping of str to str
        What a person answered, by the key of the question.
    """
    finder = _Finder(laid, facts, roles, known, answers)
    taken = roles.taken()
    said = [column for column in facts if answers.get(f"column:{column}") == "value"]
    left = {
        column: each
        for column, each in facts.items()
        if column not in taken and column not in roles.said and each.is_numbers
    }
    beside = across(left, laid, roles, known, names, answers, finder.values.questions)
    if beside:
        named, unit = over_the_athletes(roles, facts)
        finder.add(list(beside), named, list(beside.values()), unit)
        return finder.values
    numbered = {
        column: place
        for column, place in numbered_columns(facts).items()
        if column not in taken and column not in roles.said
    }
    groups: dict[str, list[str]] = {}
    for column, (base, _) in numbered.items():
        groups.setdefault(base, []).append(column)
    for base, columns in groups.items():
        columns.sort(key=lambda column: numbered[column][1])
        named = "" if set(words_of(base)) <= _ONLY_A_NUMBER else base
        finder.add(columns, named, [{"effort": str(numbered[each][1])} for each in columns])
    rest = [column for column in left if column not in numbered]
    _add_single(finder, said, rest, bool(groups))
    return finder.values


def _add_single(finder: _Finder, said: list[str], rest: list[str], grouped: bool) -> None:
    """Add single columns: those that name a measure, or else the likeliest one."""
    for column in said:
        finder.add([column], _name(finder, column), [{}])
    general = [column for column in rest if "value" in finder.facts[column].meanings]
    named = {
        column: found.codes
        for column in rest
        if not is_summary(finder.facts[column].header.text)
        and (found := _named(finder, column)).named
    }
    if "measure" in finder.roles.columns:
        for column in (general or list(named) or rest)[:1]:
            finder.add([column], _name(finder, column), [{}])
        return
    for column, codes in named.items():
        # Two columns of one measure without numbers are two tests, or two legs.
        if grouped or sum(codes == other for other in named.values()) > 1:
            finder.ask_of(column, codes)
        else:
            finder.add([column], _name(finder, column), [{}])
    if not (named or said or grouped):
        likely = [column for column in rest if not names_other_thing(_name(finder, column))]
        for column in general[:1] or likely or rest[:1]:
            # A title tells what a general column such as `value` holds, but not an age column.
            finder.add([column], _name(finder, column), [{}], by_title=bool(general))


def _named(finder: _Finder, column: str) -> NamedMeasure:
    unit = finder.facts[column].header.unit
    return name_of_measure(_name(finder, column), unit, finder.known)


def _name(finder: _Finder, column: str) -> str:
    return " ".join(finder.facts[column].header.words)
