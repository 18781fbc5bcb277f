"""How dates, units and decimal marks are written: the only way that fits, or a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from db.imports.units import units_like
from db.layouts.written_dates import date_in, forms_that_fit
from db.readings.measure_names import can_be, units_that_fit
from db.readings.readings import Choice, Known, Question
from db.roster.measures import Measure

__all__ = ["FoundUnit", "date_form", "mark_of", "unit_of_values"]


@dataclass(frozen=True)
class FoundUnit:
    """A unit, whether it is written, and whether it is still asked for."""

    unit: str
    written: bool
    open: bool = False


def unit_of_values(
    name: str,
    title: str,
    written: str,
    measure: Measure,
    values: Sequence[float],
    known: Known,
    answers: Mapping[str, str],
    questions: list[Question],
) -> FoundUnit:
    """Find the unit of values of a measure.

    Parameters
    ----------
    name, title : str
        The name in the key of the question, and how the file writes it.
    written : str
        The unit that the file writes; empty if it writes none.
    measure : Measure
        What was measured.
    values : sequence of float
        The numbers.
    known, answers : Known, mapping of str to str
        What is stored, and what was answered.
    questions : list of Question
        Gets a question if the values cannot be in the unit that is written. If none is written,
        gets one unless there are no values or only the measure's own unit fits.
    """
    answer = answers.get(f"unit:{name}", "")
    if written and (not values or can_be(values, written, measure)) and not answer:
        return FoundUnit(written, True)
    fitting = units_that_fit(values, measure, known)
    # Take only the measure's own unit unasked: a broad jump can pass for a jump in millimetres.
    if not written and not answer and (fitting == (measure.unit,) or not values):
        return FoundUnit(measure.unit, False)
    if not written and fitting:
        fitting = tuple(dict.fromkeys((*fitting, measure.unit)))
    else:
        fitting = tuple(
            dict.fromkeys((*([written] * bool(written)), measure.unit, *units_like(measure.unit)))
        )
    said = answer if answer in fitting else ""
    choices = tuple(Choice(unit, unit) for unit in fitting)
    text = f"In which unit is {title}?"
    questions.append(Question(f"unit:{name}", text, choices, "choice", said))
    return FoundUnit(said, True, not said)


def mark_of(
    in_doubt: Sequence[tuple[float, float]],
    comma: bool,
    measure: Measure,
    written: str,
    known: Known,
    answers: Mapping[str, str],
    questions: list[Question],
) -> tuple[str, tuple[float, ...]]:
    """Settle numbers with two meanings by the usual range of the measure, or ask.

    Parameters
    ----------
    in_doubt : sequence of (float, float)
        Each number read with a decimal mark, and with a thousands separator.
    comma : bool
        Whether the mark is a comma.
    measure, written : Measure, str
        What was measured, and in which unit if the file writes it.
    known, answers : Known, mapping of str to str
        What is stored, and what was answered.
    questions : list of Question
        Gets a question if both readings fit, or neither.

    Returns
    -------
    tuple of str and tuple of float
        The name of the decimal mark, empty while it is asked, and the numbers.
    """
    decimals = tuple(decimal for decimal, _ in in_doubt)
    thousands = tuple(thousand for _, thousand in in_doubt)
    units = (written,) if written else ()
    as_decimal, as_thousands = ("comma", "point") if comma else ("point", "comma")
    fits = [bool(units_that_fit(each, measure, known, units)) for each in (decimals, thousands)]
    said = answers.get("decimal_mark", "")
    said = said if said in ("point", "comma") else ""
    if fits[0] != fits[1] and not said:
        return (as_decimal, decimals) if fits[0] else (as_thousands, thousands)
    if not any(each.key == "decimal_mark" for each in questions):
        choices = (Choice("point", "Point: 1,200 is 1200"), Choice("comma", "Comma: 1,200 is 1.2"))
        questions.append(
            Question("decimal_mark", "Which is the decimal mark?", choices, "choice", said)
        )
    return said, () if not said else decimals if said == as_decimal else thousands


def date_form(
    texts: Sequence[str],
    known: Known,
    answers: Mapping[str, str],
    questions: list[Question],
    day_first: bool = False,
) -> str:
    """Return the form of some dates, or ask if two forms fit or none does.

    Parameters
    ----------
    texts : sequence of str
        The distinct dates.
    known : Known
        What is known, with the last possible day.
    answers : mapping of str to str
        What a person answered to `dates`.
    questions : list of Question
        Gets the question.
    day_first : bool
        Whether the file is in a language in which the day comes first.
    """
    if not texts:
        return ""
    fitting = forms_that_fit(texts, known.today)
    if len(fitting) == 1:
        return fitting[0]
    if day_first and "day first" in fitting:
        return "day first"
    offered = fitting or ("day first", "month first", "year first")
    example = next((text for text in texts if not text.isdigit()), texts[0])
    said = answers.get("dates", "")
    choices = tuple(
        Choice(form, f"{form}: {example} is {date_in(example, form)[:10]}") for form in offered
    )
    said = said if said in offered else ""
    questions.append(Question("dates", "How are the dates written?", choices, "choice", said))
    return said
