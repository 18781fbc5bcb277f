"""Which column says who, when, which effort, and what else about a session."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field

import pandas as pd

from db.imports.mappings import CLOCK, UNIT
from db.layouts.header_words import is_summary, unit_of
from db.layouts.plain_words import words_of
from db.readings.athlete_names import AthleteNames
from db.readings.column_facts import ColumnFacts
from db.readings.measure_names import name_of_measure
from db.readings.readings import Choice, Known, Question
from db.tables.cells import CONTEXTS, FREE_TEXTS, KINDS, PARSERS, SESSION_FACTS

__all__ = ["NOT_READ", "Roles", "roles_of"]

NOT_READ = "not read"
_NOT_THE_DAY = frozenset(
    "born birth dob birthday geburtsdatum geburtstag naissance nacimiento nascita nascimento "
    "exported export created updated printed uploaded modified erstellt".split()
)
_BEST_EFFORT_WORDS = frozenset(
    "rep reps trial attempt effort versuch essai intento prova tentativa proba poging forsok "
    "yritys wiederholung tentative repetition".split()
)
# A warm-up may be in minutes or in efforts.
_UNCLEAR = frozenset(("warm", "up", "warmup"))
_OF_A_SESSION = ("athlete", "started_at", CLOCK, "measure")
_OWN = (*SESSION_FACTS, *FREE_TEXTS, "volume_before")
_OWN_COLUMNS = tuple(name for name in _OWN if name not in ("kind", "context"))


@dataclass
class Roles:
    """Columns by their role; `questions` says what a person must choose.

    Attributes
    ----------
    columns : dict of str to str
        The file's column by our column, or by `clock` or `unit`.
    joined : tuple of str
        Columns of first and last names, which make up the athlete's name.
    questions : list of Question
        What to ask if two columns fit equally, or a role is unclear.
    said : set of str
        Columns whose role a person chose, or is asked for.
    """

    columns: dict[str, str] = field(default_factory=dict)
    joined: tuple[str, ...] = ()
    questions: list[Question] = field(default_factory=list)
    said: set[str] = field(default_factory=set)

    def taken(self) -> set[str]:
        """Return the columns that have a role."""
        return {*self.columns.values(), *self.joined}


def roles_of(
    facts: Mapping[str, ColumnFacts],
    known: Known,
    names: AthleteNames,
    answers: Mapping[str, str],
    frame: pd.DataFrame,
    side_by_side: Collection[str] = (),
) -> Roles:
    """Find the columns that do not hold values.

    Parameters
    ----------
    facts : mapping of str to ColumnFacts
        The file's columns.
    known : Known
        Measures and athletes.
    names : AthleteNames
        The athletes.
    answers : mapping of str to str
        What a person answered: `column:NAME` with one of our columns, `value` or `not read`.
    frame : DataFrame
        The table.
    side_by_side : collection of str
        Columns of values side by side, which have no other role.
    """
    roles = Roles()
    for column in facts:
        if said := answers.get(f"column:{column}"):
            roles.said.add(column)
            if said in (*PARSERS, CLOCK, UNIT) and said != "value":
                roles.columns[said] = column
            if _UNCLEAR >= {*facts[column].header.words}:
                roles.questions.append(_asked_warm_up(facts[column], said))
    free = [each for each in facts.values() if each.column not in {*roles.said, *side_by_side}]
    for each in free:
        if each.column in _OWN_COLUMNS:
            roles.columns.setdefault(each.column, each.column)
    _find_athlete(roles, free, names, answers, frame)
    _find_date(roles, free, answers)
    _find_single(roles, free, CLOCK, lambda each: each.is_clock and not each.is_dates)
    _find_words(roles, free, known)
    _find_effort(roles, free, frame)
    return roles


def _left(roles: Roles, free: Iterable[ColumnFacts]) -> list[ColumnFacts]:
    taken = roles.taken()
    return [each for each in free if each.column not in taken]


def _find_athlete(
    roles: Roles,
    free: list[ColumnFacts],
    names: AthleteNames,
    answers: Mapping[str, str],
    frame: pd.DataFrame,
) -> None:
    if "athlete" in roles.columns:
        return
    left = _left(roles, free)
    parts = [
        next((each for each in left if each.meanings[:1] == (part,)), None)
        for part in ("first name", "last name")
    ]
    texts = [each for each in left if each.texts and not each.is_dates]
    scores = {
        each.column: 4 * names.share_known(each.texts[:500])
        + 1.5 * ("athlete" in each.meanings[:1])
        + 0.5 * (not each.is_numbers)
        + 0.25 * (not {"id", "code"} & set(each.header.words))
        for each in texts
        if names.share_known(each.texts[:500]) >= 0.5
        or "athlete" in each.meanings[:1]
        and not each.from_above
    }
    best = max(scores, key=lambda column: scores[column], default="")
    if all(parts) and scores.get(best, 0) < 4:
        roles.joined = tuple(each.column for each in parts if each)
        roles.columns["athlete"] = roles.joined[0]
    elif best:
        known = [
            each for each in texts if scores.get(each.column, 0) >= 2.0 and each.column != best
        ]
        others = [each for each in known if _disagree(each.column, best, names, frame)]
        if others:
            best = _asked_who(roles, [next(e for e in texts if e.column == best), *others], answers)
        if best:
            roles.columns["athlete"] = best


def _disagree(column: str, other: str, names: AthleteNames, frame: pd.DataFrame) -> bool:
    """Tell whether two columns name different athletes somewhere."""
    if column == other:
        return False
    pairs = frame[[column, other]].drop_duplicates().itertuples(index=False, name=None)
    both = [(names.code_of(one.strip()), names.code_of(two.strip())) for one, two in pairs]
    return any(one and two and one != two for one, two in both)


def _asked_who(roles: Roles, columns: list[ColumnFacts], answers: Mapping[str, str]) -> str:
    said = answers.get("athlete_column", "")
    said = said if said in {each.column for each in columns} else ""
    choices = tuple(Choice(each.column, each.header.text) for each in columns)
    text = "Two columns name different athletes. Which one says who it was?"
    roles.questions.append(Question("athlete_column", text, choices, "choice", said))
    return said


def _find_date(roles: Roles, free: list[ColumnFacts], answers: Mapping[str, str]) -> None:
    if "started_at" in roles.columns:
        return
    fitting = [
        each
        for each in _left(roles, free)
        if not _NOT_THE_DAY & {*each.header.words}
        and (each.is_dates or "date" in each.meanings and each.is_numbers and _can_be_days(each))
    ]
    named = [each for each in fitting if "date" in each.meanings] or fitting
    rows = [each for each in named if not each.from_above] or named
    if len(rows) == 1:
        roles.columns["started_at"] = rows[0].column
    elif rows:
        chosen = answers.get("date_column", "")
        choices = tuple(Choice(each.column, each.header.text) for each in rows)
        roles.questions.append(
            Question(
                "date_column",
                "Which column is the day of the session?",
                choices,
                "choice",
                chosen if chosen in {each.column for each in rows} else "",
            )
        )
        if chosen in {each.column for each in rows}:
            roles.columns["started_at"] = chosen


def _can_be_days(each: ColumnFacts) -> bool:
    """Tell whether numbers can be spreadsheet days, seconds since 1970, or dates like 20250313."""
    return all(
        30_000 <= value <= 60_000 or 19_500_101 <= value <= 20_991_231 or 1e9 <= value < 3e12
        for value in each.values
    )


def _find_single(
    roles: Roles, free: list[ColumnFacts], role: str, fits: Callable[[ColumnFacts], bool]
) -> None:
    if role in roles.columns:
        return
    fitting = [each for each in _left(roles, free) if fits(each)]
    named = [each for each in fitting if role in each.meanings]
    sure = named or [each for each in fitting if any(":" in text for text in each.texts)]
    if sure:
        roles.columns[role] = sure[0].column


def _find_words(roles: Roles, free: list[ColumnFacts], known: Known) -> None:
    """Find columns of a few words: what was measured, in which unit, and the kind of session."""
    for each in _left(roles, free):
        texts = {text.lower() for text in each.texts}
        if not texts or each.is_numbers and not each.from_above:
            continue
        if texts <= set(KINDS):
            roles.columns.setdefault("kind", each.column)
        elif texts <= set(CONTEXTS):
            roles.columns.setdefault("context", each.column)
        elif all(map(unit_of, texts)) and ("unit" in each.meanings or len(texts) <= 8):
            roles.columns.setdefault(UNIT, each.column)
        elif "measure" in each.meanings and any(
            name_of_measure(text, "", known).codes for text in texts
        ):
            roles.columns.setdefault("measure", each.column)
        elif all(name_of_measure(text, "", known).named for text in texts):
            roles.columns.setdefault("measure", each.column)
        elif "note" in each.meanings:
            roles.columns.setdefault("note", each.column)


def _find_effort(roles: Roles, free: list[ColumnFacts], frame: pd.DataFrame) -> None:
    left = [each for each in _left(roles, free) if not each.from_above]
    for each in left:
        if each.meanings[:1] == ("volume_before",) and each.is_numbers:
            if _UNCLEAR >= {*each.header.words}:
                roles.questions.append(_asked_warm_up(each, ""))
                roles.said.add(each.column)
            else:
                roles.columns.setdefault("volume_before", each.column)
        if "ambient_c" in each.meanings and each.is_numbers:
            roles.columns.setdefault("ambient_c", each.column)
    if "effort" in roles.columns:
        return
    counts = [
        each
        for each in _left(roles, left)
        if "effort" in each.meanings
        and each.is_counts
        and 1 in each.values
        and not each.header.unit
        and not is_summary(each.header.text)
    ]
    best = [each for each in counts if _BEST_EFFORT_WORDS & set(words_of(each.header.text))]
    # Other numbers can be row numbers or shirt numbers.
    found = best or [each for each in counts if _from_one(each.column, roles, frame)]
    if found:
        roles.columns["effort"] = found[0].column


def _asked_warm_up(each: ColumnFacts, said: str) -> Question:
    choices = (
        Choice("volume_before", "How many efforts were done before"),
        Choice("general_minutes", "Minutes of general warm-up"),
        Choice(NOT_READ, "Something else: it is not read"),
    )
    said = said if said in {choice.value for choice in choices} else ""
    text = f"What is {each.header.text}?"
    return Question(f"column:{each.column}", text, choices, "choice", said)


def _from_one(column: str, roles: Roles, frame: pd.DataFrame) -> bool:
    """Tell whether a column's numbers start at 1 in each session, and none comes twice."""
    keys = [roles.columns[role] for role in _OF_A_SESSION if role in roles.columns]
    if not keys:
        return False
    rows = frame[keys].replace("", pd.NA).ffill()
    rows["number"] = pd.to_numeric(frame[column], errors="coerce")
    lowest = rows.groupby(keys, dropna=False)["number"].min()
    return bool((lowest == 1).all()) and not rows.duplicated().any()
