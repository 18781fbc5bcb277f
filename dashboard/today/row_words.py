"""Why a length is what it is, in one line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isnan, nan
from typing import TYPE_CHECKING, cast

import pandas as pd

from dashboard.core.numbers import Row, between, counted, number, percent, volume
from dashboard.curve import words
from dashboard.fits.curve_rows import CurveRow
from dashboard.game import words as game_words
from dashboard.game.lines import WaveLines
from dashboard.screen import units
from db.plans.games import Game, Interval

if TYPE_CHECKING:
    from dashboard.today.game_rows import Doing

NOT_KNOWN = "not known yet"


@dataclass(frozen=True)
class Why:
    """What is lost, in large letters, the rest of the line, and whether it is not known yet."""

    lost: str
    text: str
    hollow: bool

    def beginning(self, text: str) -> Why:
        """Return the line with something before it."""
        return replace(self, lost="", text="; ".join(_parts(text, f"{self.lost} {self.text}")))

    def ending(self, text: str) -> Why:
        """Return the line with something after it."""
        return replace(self, text="; ".join(_parts(self.text, text)))


def _parts(*texts: str) -> list[str]:
    return [text.strip() for text in texts if text.strip()]


def why(
    facts: Row, length: float, advised: float | None, standard: float, own_lengths: bool
) -> Why:
    """Return why an athlete does a length, from a row of `dashboard.fits.lengths.responses`.

    Parameters
    ----------
    facts
        The row; empty for an athlete newer than the fit.
    length, advised, standard
        What is done, what is advised on the day, and the standard.
    own_lengths
        Whether everybody does their own length; if so, say when the usual one differs.
    """
    if not facts or pd.isna(facts.get("length")):
        return Why("", NOT_KNOWN, hollow=True)
    unknown = facts["call"] == "not known"
    if length == standard:
        if unknown:
            return Why("", NOT_KNOWN, hollow=True)
        return Why(percent(facts["loss_at_standard_pct"]), "lost", hollow=False)
    parts = [f"lost at {number(standard)}", good_range(facts), _evidence(facts), _limit(facts)]
    usual = float(facts["length"])
    if own_lengths and advised is not None and advised != usual:
        parts.append(f"{number(usual)} on a usual day")
    told = "; ".join(_parts(*parts))
    return Why(percent(facts["loss_at_standard_pct"]), told, hollow=unknown)


def top_up(efforts: float) -> str:
    """Return in few words what is done again just before the start; empty if nothing."""
    return f"then {number(efforts)} more" if efforts else ""


def good_range(facts: Row) -> str:
    """Return the good range in few words; empty if it is not known yet."""
    if pd.isna(facts["good_from"]):
        return ""
    return f"good range {between(facts['good_from'], facts['good_to'])}"


def _evidence(facts: Row) -> str:
    return counted(int(facts["sessions"]), "session")


def _limit(facts: Row) -> str:
    """Return in few words what keeps a length from being longer; empty if nothing does."""
    if facts["limited_by"] is None or pd.isna(facts["limited_by"]):
        return ""
    best = number(round(facts["wanted_volume"]))
    if facts["limited_by"] == "club":
        return f"{best} would be better, most allowed {number(facts['most_allowed'])}"
    return f"{best} would be better, step by step"


def more(facts: Row, standard: float, unit: str) -> tuple[str, ...]:
    """Return what a tap on the name shows, every number with its interval."""
    if not facts or pd.isna(facts.get("length")):
        usual = "" if isnan(standard) else f": the standard {volume(standard, unit)}"
        return (f"Nothing is known of this athlete yet{usual}.",)
    row = cast(CurveRow, facts)
    told = (
        words.loss_sentence(row, standard),
        words.length_sentence(row, standard, unit),
        words.good_range_sentence(row, unit),
        words.best_sentence(row, unit),
    )
    return tuple(each for each in told if each)


def set_by_hand(one: Doing, lost: Interval | None) -> str:
    """Return what was advised before somebody set another length, and what is lost at that."""
    loses = "" if lost is None else f"; {percent(lost[0])} lost at {number(one.length)}"
    advised = "" if one.advised is None else f"Advised {number(one.advised)}"
    return f"{advised}{loses}." if advised or loses else ""


def reset(advised: float | None) -> str:
    """Return the label of the button that undoes a length set by hand."""
    return "Undo" if advised is None else f"Back to {number(advised)}"


def reason_hint(length: float, facts: Row) -> str:
    """Return whether the reason may stay blank: one is needed above the most allowed."""
    most = facts.get("most_allowed", nan)
    return f"needed above {number(most)}" if length > most else "may stay blank"


def standard_told(worthwhile_pct: float, unknown: bool) -> str:
    """Return what those who do the standard have in common."""
    return NOT_KNOWN if unknown else f"no more than {percent(worthwhile_pct)} lost, or {NOT_KNOWN}"


def game_headline(game: Game, waves: Sequence[WaveLines]) -> str:
    """Return a game in one line: when, where, how warm, the general part, when all are ready."""
    where = f"{'hall' if game.place == 'hall' else 'outdoors'} {units.temperature(game.ambient_c)}"
    parts = [
        f"{game.start_word} **{game_words.start_times(game.starts)}**",
        where,
        f"general part {number(game.general_minutes)}\u00a0min",
    ]
    if waves:
        parts.append(f"ready {game_words.clock(max(wave.ready_at for wave in waves))}")
    return " · ".join(parts)
