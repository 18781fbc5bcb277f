"""Which measure a text names, and in which unit its values can be."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from db.imports.units import scale, units_like
from db.layouts.header_words import parted, unit_of
from db.layouts.plain_words import plain, words_of
from db.readings.readings import Known
from db.roster.measures import Measure, kind_of_effort

__all__ = [
    "NamedMeasure",
    "can_be",
    "name_of_measure",
    "names_other_thing",
    "titles_measure",
    "unit_in",
    "units_that_fit",
    "usual_range",
]

_STEMS = {
    "jump": (
        "jump",
        "cmj",
        "sprung",
        "sprunghoh",
        "saut",
        "salto",
        "skok",
        "sprong",
        "hopp",
        "hyppy",
        "vert",
        "leap",
        "pulo",
        "svikthopp",
        "detente",
        "vmh",
        "sj",
    ),
    "throw": (
        "throw",
        "wurf",
        "lancer",
        "lanz",
        "lancio",
        "tiro",
        "kast",
        "heit",
        "rzut",
        "velo",
        "pitch",
        "arremesso",
        "worp",
        "ballspeed",
        "ballgeschw",
    ),
    "sprint": (
        "sprint",
        "dash",
        "lauf",
        "course",
        "corsa",
        "carrera",
        "juoksu",
        "bieg",
        "lopning",
        "10m",
        "corrida",
        "loop",
    ),
    "bar": ("bar", "barbell", "hantel", "barre", "barra", "bilanciere", "sztang", "stang"),
}
_OTHER_THINGS = frozenset(
    "flight mass weight body power force rsi contact depth impulse age distance broad long rank "
    "fat hr heart load peak eccentric concentric asymmetry stiffness reach standing weite gewicht "
    "poids peso masse alter edad eta leistung kraft flugzeit index ratio percent pct w watt "
    "left right single leg links rechts gauche droite izquierda derecha "
    "drop dj rebound".split()
)
_DISTANCE = re.compile(r"(\d+)\s*(?:m|meter|metre|metres|meters|y|yd|yards?)\b", re.IGNORECASE)
# Ranges for club athletes, from the young to the best (common practice, no source).
_USUAL = {
    "jump_height": (12.0, 75.0),
    "throw_speed": (8.0, 48.0),
    "sprint_10m": (1.4, 2.9),
    "bar_speed": (0.1, 2.5),
}
_COMMON_UNITS = ("mm", "cm", "m", "in", "m/s", "km/h", "mph", "s", "ms", "kg", "lb", "N")
# Without `in` and `m`, which mean other things in titles.
_NO_OTHER_WORD = frozenset("mm cm inch inches km/h kmh kph mph m/s ms".split())
_SHARE_INSIDE = 0.9
_ENOUGH_FOR_ONE_SLIP = 5


@dataclass(frozen=True)
class NamedMeasure:
    """The measures that fit a text best, its unit, and whether it really names them."""

    codes: tuple[str, ...]
    unit: str
    named: bool


def name_of_measure(text: str, unit: str, known: Known) -> NamedMeasure:
    """Return the measures that a header, a title or a cell can mean.

    Parameters
    ----------
    text : str
        The text without its unit.
    unit : str
        The unit beside it; measures that cannot be in that unit are left out.
    known : Known
        The measures there are.
    """
    fitting = [each for each in known.measures if not unit or unit in _convertible(each)]
    scores = {each.code: _score(text, each) for each in fitting}
    best = max(scores.values(), default=0.0)
    codes = tuple(code for code, score in scores.items() if score == best and score > 0)
    return NamedMeasure(codes, unit, best >= 1.0)


def names_other_thing(text: str) -> bool:
    """Tell whether a text names something that clubs note but nobody tests, such as an age."""
    return bool(set(words_of(text)) & _OTHER_THINGS)


def titles_measure(titles: Iterable[str], known: Known) -> tuple[NamedMeasure, str]:
    """Return the measure and the unit that the titles of a file name, if they agree."""
    named, units = set(), set()
    for said in titles:
        part = parted(said)
        found = name_of_measure(" ".join(part.words), "", known)
        if found.named and len(found.codes) == 1:
            named.add(found.codes[0])
            units |= {part.unit or unit_in(said)} - {""}
    one = len(named) == 1
    unit = next(iter(units)) if one and len(units) == 1 else ""
    return NamedMeasure(tuple(named) if one else (), "", one), unit


def usual_range(measure: Measure, known: Known) -> tuple[float, float]:
    """Return the range in which athletes usually are, in the measure's unit."""
    if measure.code in known.usual:
        return known.usual[measure.code]
    if measure.code in _USUAL and measure.unit in ("cm", "m/s", "s"):
        return _USUAL[measure.code]
    return measure.lowest or 0.0, measure.highest or float("inf")


def units_that_fit(
    values: Sequence[float], measure: Measure, known: Known, units: Sequence[str] = ()
) -> tuple[str, ...]:
    """Return the units in which nearly all values are in the usual range; empty if there are none.

    Parameters
    ----------
    values : sequence of float
        As the file has them.
    measure : Measure
        What was measured.
    known : Known
        What is stored.
    units : sequence of str
        The units to try; by default the common ones and the measure's own.
    """
    low, high = usual_range(measure, known)
    wanted = units or [
        unit for unit in _convertible(measure) if unit in _COMMON_UNITS or unit == measure.unit
    ]
    return tuple(unit for unit in wanted if _inside(values, unit, measure, low, high))


def can_be(values: Sequence[float], unit: str, measure: Measure) -> bool:
    """Tell whether at least half of the values are within the limits of a measure."""
    low, high = measure.lowest or 0.0, measure.highest or float("inf")
    return _inside(values, unit, measure, low, high, share=0.5)


def _inside(
    values: Sequence[float],
    unit: str,
    measure: Measure,
    low: float,
    high: float,
    share: float = _SHARE_INSIDE,
) -> bool:
    factor, offset = (1.0, 0.0) if unit == measure.unit else scale(unit, measure.unit)
    inside = sum(low <= value * factor + offset <= high for value in values)
    # One slip is a large share of a short file, so one is always allowed from 5 values on.
    slips = len(values) - inside <= 1 and len(values) >= _ENOUGH_FOR_ONE_SLIP
    return bool(values) and (slips or inside >= share * len(values))


def _convertible(measure: Measure) -> list[str]:
    return units_like(measure.unit) or [measure.unit]


def _score(text: str, measure: Measure) -> float:
    """Rate how well a text names a measure: 0 not at all, 1 by what is done, 3 by its name."""
    words = [word for word in words_of(text) if not word.isdigit() or len(word) > 1]
    own = {*words_of(measure.name), *words_of(measure.code)}
    if set(words) & _OTHER_THINGS - own:
        return 0.0
    distances = set(_DISTANCE.findall(text))
    if distances and not distances <= {
        *_DISTANCE.findall(f"{measure.name} {_apart(measure.code)}")
    }:
        return 0.0
    name, code = set(words_of(measure.name)), set(words_of(measure.code))
    if name <= set(words) or code <= set(words) or plain(text) in (plain(measure.code),):
        return 3.0
    if measure.code.startswith("bar") or "bar" in words_of(measure.name):
        kind = "bar"
    else:
        kind = kind_of_effort(measure)
    stemmed = any(
        word.startswith(stem) or stem in word and len(stem) > 3
        for word in words
        for stem in _STEMS.get(kind, ())
    )
    score = 1.0 * stemmed + 1.0 * bool(distances)
    return score + 0.25 * len(name & set(words)) / len(name)


def _apart(code: str) -> str:
    return code.replace("_", " ")


def unit_in(text: str) -> str:
    """Return the one unit that is a word of its own in a text; empty if none or several are."""
    words = [word.casefold() for word in re.split(r"[\s,;:()\[\]]+", text)]
    found = {unit_of(word) for word in words if word in _NO_OTHER_WORD}
    return next(iter(found)) if len(found) == 1 else ""
