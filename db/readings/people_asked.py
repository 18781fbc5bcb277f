"""Who the names in a file mean, and what to ask about names that match nobody."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from db.readings.athlete_names import AthleteNames, names_by_code
from db.readings.readings import Choice, Known, Question
from db.roster.new_codes import new_code, usual_order

__all__ = ["ADD", "SET_ASIDE", "People", "people_of"]

ADD, SET_ASIDE = "add", "set aside"
_MOST_ASKED_ONE_BY_ONE = 8


@dataclass(frozen=True)
class People:
    """Codes by what the file writes, and by the same the code and name of athletes to add."""

    codes: Mapping[str, str]
    new_athletes: Mapping[str, tuple[str, str]]


def people_of(
    texts: Iterable[str],
    known: Known,
    names: AthleteNames,
    answers: Mapping[str, str],
    questions: list[Question],
) -> People:
    """Find the athletes of a file, and ask about names without a sure match.

    A name gets its own question (`athlete:NAME`) if it is like an athlete's, was answered
    already, or few names are unknown and there are athletes. The answer is a code, `add` or
    `set aside`. All other names share one question (`athletes`): `add` or `set aside`.
    """
    matched = names.matched(texts)
    codes = dict(matched.codes)
    unknown = {}
    for text, alike in matched.unknown.items():
        said = answers.get(f"athlete:{text}", "")
        if said in known.athletes:
            codes[text] = said
        unknown[text] = (alike, said if said in (*known.athletes, ADD, SET_ASIDE) else "")
    alone = {
        text
        for text, (alike, said) in unknown.items()
        if alike or said or len(unknown) <= _MOST_ASKED_ONE_BY_ONE and known.athletes
    }
    together = [text for text in unknown if text not in alone]
    for text in unknown:
        if text in alone:
            alike, said = unknown[text]
            questions.append(_asked_of(text, alike, said, known))
    added = [text for text in alone if unknown[text][1] == ADD]
    if together:
        said = answers.get("athletes", "")
        said = said if said in _ways(known) else ""
        questions.append(_asked_together(together, said, known))
        added += together if said == ADD else []
    return _with_new(codes, [text for text in unknown if text in set(added)], known)


def _with_new(codes: dict[str, str], added: Sequence[str], known: Known) -> People:
    new: dict[str, tuple[str, str]] = {}
    taken = set(known.athletes)
    for text in added:
        code = new_code(text, taken)
        taken.add(code)
        new[text] = (code, usual_order(text))
        if code != text:
            codes[text] = code
    return People(codes, new)


def _ways(known: Known) -> tuple[str, ...]:
    return (ADD, SET_ASIDE) if known.may_add else (SET_ASIDE,)


def _choices(known: Known, what: str) -> tuple[Choice, ...]:
    labels = {ADD: f"A new athlete: add {what}", SET_ASIDE: f"Nobody: set {what} aside"}
    return tuple(Choice(way, labels[way]) for way in _ways(known))


def _asked_of(text: str, alike: Sequence[str], said: str, known: Known) -> Question:
    others = [code for code in names_by_code(known.athletes) if code not in alike]
    people = tuple(Choice(code, known.athletes[code]) for code in (*alike, *others))
    return Question(
        f"athlete:{text}", f"Who is {text}?", (*people, *_choices(known, "it")), "choice", said
    )


def _asked_together(texts: Sequence[str], said: str, known: Known) -> Question:
    shown = "; ".join(texts[:5]) + (" and others" if len(texts) > 5 else "")
    return Question(
        "athletes",
        f"We don't know {len(texts)} of the names yet: {shown}. Who are they?",
        tuple(
            Choice(
                way, {ADD: "New athletes: add them", SET_ASIDE: "Nobody: set their rows aside"}[way]
            )
            for way in _ways(known)
        ),
        "choice",
        said,
    )
