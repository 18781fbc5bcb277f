"""How a file is read: each column's meaning, what is asked, and the mapping that reads it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from db.imports.mappings import ColumnMapping
from db.layouts.laid_out import LeftOut
from db.roster.measures import Measure

__all__ = ["ASKED", "LIKELY", "SURE", "Choice", "ColumnReading", "Known", "Question", "Reading"]

SURE, LIKELY, ASKED, REMEMBERED = "sure", "likely", "asked", "remembered"
"""How sure a column's meaning is: written in the file; the only one that fits; asked of a person,
answered or not; the same as last time."""


@dataclass(frozen=True)
class Known:
    """What is known before a file is read.

    Attributes
    ----------
    athletes : mapping of str to str
        Names by code, of the athletes that the person who imports may see.
    measures : tuple of Measure
        The measures there are.
    usual : mapping of str to (float, float)
        The range in which values of a measure usually are, from its stored efforts if there
        are enough.
    nicknames : mapping of str to str
        Codes by what files call athletes, as confirmed before.
    today : date
        The last day on which an effort can have been made.
    may_add : bool
        Whether athletes may be added.
    """

    athletes: Mapping[str, str]
    measures: tuple[Measure, ...]
    usual: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    nicknames: Mapping[str, str] = field(default_factory=dict)
    today: date = date.max
    may_add: bool = True


@dataclass(frozen=True)
class Choice:
    """A possible answer: its value, and how a page shows it."""

    value: str
    label: str


@dataclass(frozen=True)
class Question:
    """What the file does not show.

    Attributes
    ----------
    key : str
        What `--answer` calls it, such as `dates` or `unit:jump`.
    text : str
        The question.
    choices : tuple of Choice
        The possible answers; empty if a time, a number or a day is asked for.
    form : str
        `choice`, `time`, `number` or `day`.
    answer : str
        What was answered; empty while the question is open.
    """

    key: str
    text: str
    choices: tuple[Choice, ...] = ()
    form: str = "choice"
    answer: str = ""


@dataclass(frozen=True)
class ColumnReading:
    """What a column of the file is.

    Attributes
    ----------
    column : str
        Its name in the file.
    meaning : str
        Our column, `value`, or empty where it is not read.
    unit, into : str
        The unit of its numbers, and the one they are stored in; empty if there is none.
    measure : str
        The measure's code, where the column holds values of one.
    sure : str
        `sure`, `likely`, `asked` or `remembered`; empty where it is not read.
    sentence : str
        All of this as a sentence.
    """

    column: str
    meaning: str
    unit: str
    into: str
    measure: str
    sure: str
    sentence: str


@dataclass(frozen=True)
class Reading:
    """How to read a file.

    Attributes
    ----------
    columns : tuple of ColumnReading
        Its columns, in their order.
    questions : tuple of Question
        What was asked, answered or not.
    mapping : ColumnMapping or None
        What reads the file; None while a question is open.
    new_athletes : mapping of str to (str, str)
        Code and name of athletes to add, by what the file calls them.
    left_out : tuple of LeftOut
        Lines that are not rows.
    name : str
        The name of the reading of an earlier file with this header; empty if there is none.
    remembered : bool
        Whether the file is read like that one.
    """

    columns: tuple[ColumnReading, ...]
    questions: tuple[Question, ...]
    mapping: ColumnMapping | None
    new_athletes: Mapping[str, tuple[str, str]]
    left_out: tuple[LeftOut, ...]
    name: str = ""
    remembered: bool = False

    @property
    def open_questions(self) -> tuple[Question, ...]:
        """The questions that nobody has answered."""
        return tuple(each for each in self.questions if not each.answer)
