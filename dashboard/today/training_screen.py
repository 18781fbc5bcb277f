"""The plan of a day without a game: the same rows without times, and how it is saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import isnan, nan

import pandas as pd
import streamlit as st

from dashboard.core.numbers import Row as Numbers
from dashboard.core.numbers import counted
from dashboard.core.once import one_answer
from dashboard.fits.lengths import lost_at
from dashboard.rules import goals
from dashboard.rules.club_limits import check_choice
from dashboard.screen.reads import ask, own_store
from dashboard.screen.status_form import able_labels
from dashboard.today.drafts import Actions, Check, Draft, draft_of, listener, show_actions
from dashboard.today.game_rows import Doing, Known, away_group, three_groups
from dashboard.today.rows import RowList, show_rows
from dashboard.today.training_plan import plan_rows
from db.errors import StoreError
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.plans.lengths import PlanEntry, away_from, save_training, who_stays
from db.roster.measures import Measure

NOBODY = "Nobody is left for this session. Tick somebody."


@dataclass(frozen=True)
class Training:
    """A day without a game.

    Attributes
    ----------
    measure, fit
        The measure, and its newest fit; None if there is none yet.
    day, goal, to_follow
        When, and what the warm-up is for.
    """

    measure: Measure
    fit: KeptFit | None
    day: date
    goal: str
    to_follow: int

    @property
    def standard(self) -> float | None:
        """What the team does today; None if nobody has set it."""
        return self.measure.standard_volume if self.fit is None else self.fit.standard_volume

    def is_saved(self, entry: PlanEntry, facts: Numbers) -> bool:
        """Tell whether an entry is what is saved for the athlete."""
        return bool(
            entry.chosen_volume == facts["chosen_volume"] and entry.reason == facts["reason"]
        )

    def entry(self, facts: Numbers, length: float, reason: str) -> PlanEntry:
        """Return the entry to save for one athlete."""
        advised = facts.get("length")
        return PlanEntry(
            day=self.day,
            athlete=str(facts["athlete"]),
            measure=self.measure.code,
            goal=self.goal,
            efforts_to_follow=self.to_follow,
            advised_volume=None if advised is None or pd.isna(advised) else float(advised),
            standard_volume=self.standard,
            chosen_volume=length,
            reason=reason,
        )


def show_training(person: Person, training: Training) -> str:
    """Show the rows of a day without a game; return its headline."""
    measure, names = training.measure, able_labels()
    key = f"{measure.code}_{training.day}_training_{training.to_follow}"
    facts = ask(plan_rows, measure.code, training.day, training.to_follow)
    by_code = {row["athlete"]: row for row in facts.to_dict("records") if row["athlete"] in names}
    names = {code: name for code, name in names.items() if code in by_code}
    away_yet = ask(away_from, training.day, measure.code) & frozenset(names)
    draft = draft_of(key, lambda: _saved_draft(by_code, away_yet))
    known = _known(training, by_code, names, draft)
    doing = _doing(draft, known)
    if names and not doing:
        st.info(NOBODY)
    groups = (*three_groups(doing, draft, known), *away_group(draft, known))
    show_rows(
        RowList(f"{key} {person.person}", groups),
        listener(
            key,
            names,
            {one.code: one.advised for one in doing},
            _check(training, by_code),
            lambda: who_stays(own_store(), training.day, measure.code),
        ),
    )
    entries = [
        training.entry(by_code[one.code], one.length, draft.reason(one.code) or "")
        for one in doing
        if not isnan(one.length)
    ]
    changed = [each for each in entries if not training.is_saved(each, by_code[each.athlete])]
    left = _left(training, draft.away - away_yet, known)
    saved = any(not pd.isna(row["chosen_volume"]) for row in by_code.values())
    if entries:
        here = f"{counted(len(entries), 'athlete')} here"
        away = f", {len(draft.away)} away" if draft.away else ""
        told = "Changed since it was saved." if saved else "Not saved yet."
        show_actions(
            Actions(
                measure.code,
                training.day,
                f"{here}{away}. {told if changed or left else 'Saved.'}",
                same=not (changed or left),
                saved=saved,
                game=False,
            ),
            lambda: _save(changed, left, person),
        )
    return f"training · for {goals.goal(training.to_follow)}"


def _left(training: Training, codes: frozenset[str], known: Known) -> list[PlanEntry]:
    """Return what those who are away would do, if it is known."""
    lengths = {code: known.length(code) for code in sorted(codes)}
    return [
        training.entry(known.facts[code], length, "")
        for code, length in lengths.items()
        if not isnan(length)
    ]


def _saved_draft(by_code: Mapping[str, Numbers], away: frozenset[str]) -> Draft:
    """Return what is saved for a day where it differs from the advice."""
    lengths = [
        (code, float(row["chosen_volume"]), row["reason"])
        for code, row in by_code.items()
        if not pd.isna(row["chosen_volume"])
        and (row["chosen_volume"] != row["length"] or row["reason"])
    ]
    return Draft(away=away, by_hand=tuple(sorted(lengths)))


def _known(
    training: Training, by_code: Mapping[str, Numbers], names: Mapping[str, str], draft: Draft
) -> Known:
    by_hand = tuple((code, length) for code, length, _ in draft.by_hand)
    return Known(
        names,
        by_code,
        ask(lost_at, training.measure.code, by_hand, training.to_follow) if by_hand else {},
        {},
        nan if training.standard is None else training.standard,
        training.measure.worthwhile_pct if training.fit is None else training.fit.worthwhile_pct,
        training.measure.volume_unit,
    )


def _doing(draft: Draft, known: Known) -> list[Doing]:
    by_hand = {code: length for code, length, _ in draft.by_hand}
    found = []
    for code in known.names:
        usual = known.length(code)
        length = by_hand.get(code, usual)
        if code not in draft.away:
            found.append(Doing(code, length, usual))
    return found


def _check(training: Training, by_code: Mapping[str, Numbers]) -> Check:
    def check(code: str, length: float) -> str:
        try:
            check_choice(own_store(), training.entry(by_code[code], length, ""), typed=True)
        except StoreError as error:
            return error.message
        return ""

    return check


def _save(here: list[PlanEntry], away: list[PlanEntry], person: Person) -> None:
    store = own_store()
    with store.at_one_state(), one_answer():
        for entry in here:
            check_choice(store, entry)
    save_training(store, here, away, person.person)
