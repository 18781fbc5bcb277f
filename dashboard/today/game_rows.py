"""The rows of a game: who begins when, with how much, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isnan

import pandas as pd

from dashboard.core.numbers import Row as Numbers
from dashboard.core.numbers import counted, number, volume
from dashboard.game import words
from dashboard.game.lines import Line, WaveLines
from dashboard.today import row_words
from dashboard.today.drafts import OWN, Draft
from dashboard.today.rows import Group, Row

MARKS = {1: "long", 0: "standard", -1: "short"}


@dataclass(frozen=True)
class Known:
    """What is known about everybody who may be in the list.

    Attributes
    ----------
    names : mapping of str to str
        By code, in the order of the list.
    facts : mapping of str to row
        Rows of `dashboard.fits.lengths.responses`, by code; none for athletes newer than the fit.
    lost : mapping of str to (float, float, float)
        What is lost at a length set by hand, by code.
    more : mapping of str to list of str
        What else to show after a tap on the name.
    standard, worthwhile_pct, unit : float, float, str
        The standard is NaN if nobody has set one.
    """

    names: Mapping[str, str]
    facts: Mapping[str, Numbers]
    lost: Mapping[str, tuple[float, float, float]]
    more: Mapping[str, Sequence[str]]
    standard: float
    worthwhile_pct: float
    unit: str

    def length(self, code: str) -> float:
        """Return an athlete's length on a usual day; the standard if it is not known yet."""
        length = self.facts.get(code, {}).get("length")
        return self.standard if length is None or pd.isna(length) else float(length)


@dataclass(frozen=True)
class Doing:
    """What an athlete does: how much, what was advised, when, and whether they are away."""

    code: str
    length: float
    advised: float | None
    begins_at: datetime | None = None
    line: Line | None = None
    away: bool = False


def doings(waves: Sequence[WaveLines]) -> list[Doing]:
    """Return what everybody in some waves does."""
    return [
        Doing(
            line.player.plan.athlete,
            line.volume,
            line.player.plan.advised_volume,
            line.begins_at,
            line,
        )
        for wave in waves
        for line in wave.lines
    ]


def game_groups(waves: Sequence[WaveLines], draft: Draft, known: Known) -> tuple[Group, ...]:
    """Return the groups of a game: those of each start in order, then who is away."""
    starts = sorted({wave.start_number for wave in waves})
    found: list[Group] = []
    for start in starts:
        mine = [wave for wave in waves if wave.start_number == start]
        before = f"{words.clock(mine[0].starts_at)}: " if len(starts) > 1 else ""
        if draft.waves_before(start) is None:
            found += three_groups(doings(mine), draft, known, before)
        else:
            found += [_wave_group(wave, len(mine), draft, known, before) for wave in mine]
    return (*found, *away_group(draft, known))


def three_groups(
    everybody: Iterable[Doing], draft: Draft, known: Known, before: str = ""
) -> list[Group]:
    """Return groups for more than, exactly and less than the standard, leaving out empty ones."""
    sides: dict[int, list[Doing]] = {1: [], 0: [], -1: []}
    for one in everybody:
        sides[(one.length > known.standard) - (one.length < known.standard)].append(one)
    found = []
    for side, ones in sides.items():
        if not ones:
            continue
        many = len(ones)
        if side == 0:
            found.append(_standard_group(ones, many, draft, known, before))
            continue
        way = "Longer" if side > 0 else "Shorter"
        times = [one.begins_at for one in ones if one.begins_at is not None]
        found.append(
            Group(
                mark=MARKS[side],
                title=f"{before}{way} than {_in_unit(known)} ({many})",
                told=("first start" if side > 0 else "last start") if times else "",
                at=words.clock((min if side > 0 else max)(times)) if times else "",
                rows=tuple(
                    _row(one, draft, known, at=_clock(one.begins_at) if times else None)
                    for one in sorted(ones, key=lambda one: _by_clock(one, known))
                ),
            )
        )
    return found


def _standard_group(
    ones: Sequence[Doing], many: int, draft: Draft, known: Known, before: str
) -> Group:
    times = Counter(one.begins_at for one in ones if one.begins_at is not None)
    usual = max(times, key=lambda moment: times[moment]) if times else None
    together = "all start" if len(times) == 1 else "most start"
    unknown = all(_hollow(one, known) for one in ones)
    return Group(
        mark="unknown" if unknown else "standard",
        title=f"{before}{_standard(known)} ({many})",
        told=f"{row_words.standard_told(known.worthwhile_pct, unknown)}"
        + (f"; {together}" if usual else ""),
        at=_clock(usual),
        compact=True,
        rows=tuple(
            _row(one, draft, known, usual=usual)
            for one in sorted(ones, key=lambda one: (_hollow(one, known), _by_clock(one, known)))
        ),
    )


def _wave_group(wave: WaveLines, waves: int, draft: Draft, known: Known, before: str) -> Group:
    side = (wave.volume > known.standard) - (wave.volume < known.standard)
    which = f"Wave {wave.wave}" if waves > 1 else "Everybody"
    return Group(
        mark=MARKS[side],
        title=f"{before}{which}: {volume(wave.volume, known.unit)} ({len(wave.lines)})",
        told="start",
        at=words.clock(wave.begins_at),
        compact=True,
        rows=tuple(
            _row(one, draft, known, usual=wave.begins_at)
            for one in sorted(doings([wave]), key=lambda one: _by_clock(one, known))
        ),
    )


def away_group(draft: Draft, known: Known) -> tuple[Group, ...]:
    """Return the group of those who are away; nothing if everybody is here."""
    away = [code for code in known.names if code in draft.away]
    if not away:
        return ()
    ones = [Doing(code, known.length(code), None, away=True) for code in away]
    group = Group(
        mark="unknown",
        title=f"Away ({len(ones)})",
        rows=tuple(_row(one, draft, known) for one in ones),
        compact=True,
    )
    return (group,)


def _row(
    one: Doing,
    draft: Draft,
    known: Known,
    at: str | None = None,
    usual: datetime | None = None,
) -> Row:
    name, facts = known.names[one.code], known.facts.get(one.code, {})
    reason = None if one.away else draft.reason(one.code)
    said = row_words.why(facts, one.length, one.advised, known.standard, draft.choice == OWN)
    told = "" if reason is None else row_words.set_by_hand(one, known.lost.get(one.code))
    if one.away:
        said = row_words.Why("", "away", hollow=False)
    elif usual is not None and one.begins_at not in (None, usual):
        said = said.beginning(f"from {_clock(one.begins_at)}")
    if one.line is not None:
        said = said.ending(row_words.top_up(one.line.player.top_up))
        said = said.ending("substitute" if one.line.player.role == "bench" else "")
    return Row(
        code=one.code,
        name=name,
        ticked=not one.away,
        tick_label=f"{name} is here",
        number=None if one.away else _typed(one.length),
        number_label=f"{name}, {known.unit}",
        own=reason is not None,
        at=at,
        hollow=said.hollow,
        lost=said.lost,
        why=said.text,
        told=told,
        reason=reason,
        reason_hint=row_words.reason_hint(one.length, facts),
        reset="" if reason is None else row_words.reset(one.advised),
        more=(*row_words.more(facts, known.standard, known.unit), *known.more.get(one.code, ())),
    )


def _hollow(one: Doing, known: Known) -> bool:
    return known.facts.get(one.code, {}).get("call", "not known") == "not known"


def _by_clock(one: Doing, known: Known) -> tuple[float, str]:
    """Sort by who begins first or, without times, by who does most."""
    begins = -one.length if one.begins_at is None else one.begins_at.timestamp()
    return begins, known.names[one.code].casefold()


def _clock(moment: datetime | None) -> str:
    return "" if moment is None else words.clock(moment)


def _typed(length: float) -> str:
    return "" if isnan(length) else number(length)


def _standard(known: Known) -> str:
    return "Not known yet" if isnan(known.standard) else f"The standard {_in_unit(known)}"


def _in_unit(known: Known) -> str:
    return volume(known.standard, known.unit)


def status(waves: Sequence[WaveLines], draft: Draft, saved: bool, same: bool) -> str:
    """Return how many are here, and whether that is saved."""
    here = counted(sum(len(wave.lines) for wave in waves), "athlete")
    away = f", {len(draft.away)} away" if draft.away else ""
    if same:
        return f"{here} here{away}. Saved."
    changed = "Changed since it was saved." if saved else "Not saved yet."
    return f"{here} here{away}. {changed}"
