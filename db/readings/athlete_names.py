"""Which athlete a name in a file means: by code, or by name in any order, accents or not."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

from db.layouts.plain_words import words_of
from db.readings.readings import Known

__all__ = ["AthleteNames", "MatchedNames"]

_MOST_ALIKE = 5


@dataclass(frozen=True)
class MatchedNames:
    """Names from a file, matched with the athletes.

    Attributes
    ----------
    codes : dict of str to str
        The athlete's code by what the file writes, where the two differ.
    unknown : dict of str to tuple of str
        Names that match no athlete for sure, with the codes of possible ones, likeliest first.
    """

    codes: dict[str, str]
    unknown: dict[str, tuple[str, ...]]


class AthleteNames:
    """The known athletes, by every name that is sure to mean one of them.

    Parameters
    ----------
    known : Known
        Their names and codes, and what was confirmed before.
    """

    def __init__(self, known: Known) -> None:
        self._names = known.athletes
        self._nicknames = known.nicknames
        self._by_words: dict[tuple[str, ...], set[str]] = {}
        for code, name in known.athletes.items():
            for written in (code, name):
                # The words in any order: `Berg, Anna` is Anna Berg.
                self._by_words.setdefault(_key(written), set()).add(code)

    def code_of(self, written: str) -> str:
        """Return the code of the one athlete that a text means; empty if that is not sure."""
        if written in self._names:
            return written
        found = self._by_words.get(_key(written), set()) if _key(written) else set()
        if len(found) == 1:
            return next(iter(found))
        return self._nicknames.get(written, "") if not found else ""

    def share_known(self, texts: Collection[str]) -> float:
        """Return the share of texts that are sure to mean one athlete."""
        return sum(1 for text in texts if self.code_of(text)) / len(texts) if texts else 0.0

    def matched(self, texts: Iterable[str]) -> MatchedNames:
        """Match the distinct names of a column with the athletes."""
        codes: dict[str, str] = {}
        unknown: dict[str, tuple[str, ...]] = {}
        for text in texts:
            code = self.code_of(text)
            if not code:
                unknown[text] = self._alike(text)
            elif code != text:
                codes[text] = code
        return MatchedNames(codes, unknown)

    def _alike(self, written: str) -> tuple[str, ...]:
        """Return the codes of athletes a text can mean: a nickname, a slip, two with one name."""
        words = words_of(written)
        scores = {
            code: max(
                (_likeness(word, other) for word in words for other in words_of(name)),
                default=0.0,
            )
            for code, name in self._names.items()
        }
        same = self._by_words.get(_key(written), set())
        found = [code for code in scores if scores[code] >= 0.75 or code in same]
        return tuple(sorted(found, key=lambda code: -scores[code])[:_MOST_ALIKE])


def _key(text: str) -> tuple[str, ...]:
    return tuple(sorted(words_of(text.replace("'", "").replace("’", ""))))


def _likeness(word: str, other: str) -> float:
    if len(word) >= 3 and (other.startswith(word) or word.startswith(other)) and len(other) >= 3:
        return 0.9
    return SequenceMatcher(None, word, other).ratio() if min(len(word), len(other)) > 3 else 0.0


def names_by_code(known: Mapping[str, str]) -> list[str]:
    """Return the codes in the order of the names."""
    return sorted(known, key=lambda code: (known[code].casefold(), code))
