"""Our terms and those of the field, with plain definitions, and which of them a text uses."""

from __future__ import annotations

import re
from functools import cache

__all__ = ["TERMS", "explained", "meaning"]

TERMS = {
    "measure": "What is tested, such as jump height in cm. It has a unit, a direction that is"
    " better, a unit of volume, and the smallest change worth having.",
    "effort": "One attempt with a value, such as one jump.",
    "volume": "What was done before an effort, in efforts or minutes as the measure has it."
    " On pages it is as usually done here: with the usual general part, rest, air and hour.",
    "session": "One athlete, one measure, one start time: a fade test, or a routine session.",
    "routine session": "The few efforts measured after an ordinary warm-up.",
    "fade test": "Maximal efforts, one after another, until three in a row are well below the"
    " best so far, as the stop rule of the measure says.",
    "curve": "Performance against volume, in % of the athlete's own peak: it rises with warming up,"
    " peaks, and falls with fatigue.",
    "peak": "The highest point of the curve.",
    "best volume": "The volume at which the curve peaks.",
    "gain": "What warming up brings, from cold to the peak, in %.",
    "hold": "How much more volume after the peak takes performance down by 10\u00a0%.",
    "loss": "What is lost with a length, against the athlete's own best, in %.",
    "length": "How much an athlete does: the standard, unless the call is short or long; then"
    " what the curve asks for, within the limits.",
    "good range": "Lengths with a chance of at least 80\u00a0% that no more is lost than the"
    " smallest change worth having.",
    "standard": "The volume that the team does today.",
    "call": "Which way an athlete is better off than with the standard. Short: stop sooner. Long:"
    " warm up longer. Either: it makes no difference worth having. Not known: the data do not"
    " tell yet.",
    "firm call": "A call of short, long or either, for which the chance is high enough.",
    "interval": "Where the true number lies with a chance of 90\u00a0%, given the data.",
    "chance": "How likely something is, given the data. It is never told as a certainty.",
    "level": "How well an athlete performs on a day at the peak, apart from the warm-up.",
    "noise": "How much efforts and days differ for no known reason.",
    "smallest change worth having": "A difference below it is treated as none.",
    "typical error": "How far apart two sessions of one athlete lie when nothing has changed, as a"
    " standard deviation of one session.",
    "general part": "The moving warm-up before the first specific effort, in minutes.",
    "rest": "Minutes between the last effort of the warm-up and the effort that counts.",
    "re-warm-up": "What is done again after a wait, so that the warm-up is not lost.",
    "wave": "Athletes who warm up together, because not all can at once.",
    "goal": "What the warm-up is for: one best effort, the best average over many, or muscle"
    " growth, whose sets it must not cost.",
    "build-up set": "A lighter set on the way to the first that counts as work.",
    "working set": "A set that counts as work by what it is for: for strength from 70\u00a0% of the"
    " one-repetition maximum and near the day's load, for power at 30 to 60\u00a0%, for muscle"
    " growth near failure.",
    "one-repetition maximum": "The load that can be lifted once and not twice.",
    "bar speed": "Speed of the bar on its way up, in m/s: the mean of the whole way, of its"
    " propulsive part, or the peak.",
    "load-velocity line": "How an athlete's bar slows down as the load grows; it gives the maximum"
    " without lifting it.",
    "dynamic stretching": "Moving through the range of motion, without holding.",
    "static stretching": "Holding a stretch; 60 seconds and more per muscle cost power.",
    "set aside": "A row of a file that was not saved, with its reason; nothing is lost.",
    "trial": "Two lengths in random order over an athlete's coming sessions, to see whether they"
    " differ.",
    "what a test is worth": "How much better later advice would be on average, if the test were"
    " made.",
}

_FORMS = {
    "best volume": ("best after", "best 90 %"),
    "gain": ("cold to peak",),
    "loss": ("lost", "given away", "gives away", "give away"),
    "general part": ("general warm-up",),
    "smallest change worth having": ("smallest worthwhile change",),
    "standard": ("standard volume",),
}
"""Other wordings for a term."""


def meaning(term: str) -> str:
    """Return what a term means, for the help beside a label or in the head of a column."""
    return f"**{term.capitalize()}**: {TERMS[term]}"


@cache
def explained(text: str) -> str | None:
    """Return the terms that a text uses with their meanings, in its order; None without any."""
    used = dict.fromkeys(_term_of(found[0]) for found in _pattern().finditer(text))
    return "\n\n".join(map(meaning, used)) or None


@cache
def _wordings() -> dict[str, str]:
    return {form: term for term in TERMS for form in (term, *_FORMS.get(term, ()))}


@cache
def _pattern() -> re.Pattern[str]:
    # Longer wordings first, so that a fade test is not taken for a test of something else.
    forms = sorted(_wordings(), key=len, reverse=True)
    return re.compile(rf"\b({'|'.join(map(re.escape, forms))})s?\b", re.IGNORECASE)


def _term_of(found: str) -> str:
    wording = found.lower()
    return _wordings().get(wording) or _wordings()[wording.removesuffix("s")]
