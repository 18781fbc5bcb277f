"""After a game or session: the same rows ask what was done, and each is saved straight away."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from math import isnan, nan
from zoneinfo import ZoneInfo

import streamlit as st

from dashboard.core import dates
from dashboard.core.numbers import Row as Plan
from dashboard.core.numbers import counted, figures, measured, number, volume
from dashboard.curve.mistyped import before_session, doubt, in_words, volume_doubts
from dashboard.screen import elements
from dashboard.screen.access import require
from dashboard.screen.reads import ask, own_store
from dashboard.today import rows
from dashboard.today.rows import Chip, Group, Message, Row, RowList
from db.efforts.effort_changes import check_value
from db.errors import StoreError
from db.people.accounts import Person
from db.plans.kept_games import KeptGame
from db.plans.lengths import plans
from db.plans.outcome_records import OutcomeRecord, outcome_records, to_take_back
from db.plans.outcomes import WHY, Outcome, record_outcomes, recorded, start_values
from db.roster.measures import Measure

BEFORE, AFTER = "Before", "After"
SIDES = {"Longer than": "long", "The standard": "standard", "Shorter than": "short"}


@dataclass(frozen=True)
class Done:
    """What was done of the plan that is saved for a day.

    Attributes
    ----------
    person, measure, day, second_game : Person, Measure, date, bool
        Who is looking, and at what.
    plans : mapping of str to row
        Rows of `db.plans.lengths.plans`, by athlete.
    outcomes : mapping of str to Outcome
        What is saved, by athlete.
    records : tuple of OutcomeRecord
        When that was saved, and by whom.
    values : mapping of str to float
        The first value measured on the day, by athlete.
    """

    person: Person
    measure: Measure
    day: date
    second_game: bool
    plans: Mapping[str, Plan]
    outcomes: Mapping[str, Outcome]
    records: tuple[OutcomeRecord, ...]
    values: Mapping[str, float]

    @property
    def key(self) -> str:
        """Key that tells the lists of different days and games apart."""
        game = "second" if self.second_game else "first"
        return f"after_{self.measure.code}_{self.day}_{game}_{self.person.person}"

    def planned(self, code: str) -> float:
        """Return what was set for an athlete."""
        return float(self.plans[code]["chosen_volume"])

    def filled_in(self, code: str) -> Outcome:
        """Return what is saved for an athlete, filled in with what was planned and measured."""
        known = self.outcomes[code]
        if known.done_volume is None:
            known = replace(known, done_volume=self.planned(code))
        if known.outcome is None:
            known = replace(known, outcome=self.values.get(code))
        return known

    def saved(self, code: str) -> str:
        """Say when an athlete's row was saved; empty if it wasn't."""
        if self.outcomes[code].done_volume is None:
            return ""
        times = [each.saved_at for each in self.records if each.athlete == code]
        if not times:
            return ""
        at = times[-1].astimezone(ZoneInfo(st.context.timezone or "UTC"))
        return f"saved {at:%H:%M}" if at.date() == self.day else f"saved {dates.moment(at)}"

    @property
    def open(self) -> list[str]:
        """Codes of the athletes for whom nothing is saved yet."""
        return [code for code, each in self.outcomes.items() if each.done_volume is None]


def now() -> datetime:
    """Return the current time as the store has times: local, without a zone."""
    return datetime.now()


def choose_side(day: date, kept: KeptGame | None, saved: bool, key: str) -> str:
    """Ask whether the session is yet to come or over; once it has started, over is the default."""
    if not saved or day > date.today():
        return BEFORE
    begun = kept is not None and now() >= kept.game.starts[0]
    usual = AFTER if begun or day < date.today() else BEFORE
    chosen = st.segmented_control(
        "Before or after",
        (BEFORE, AFTER),
        default=usual,
        required=True,
        key=f"today_side_{key}",
        label_visibility="collapsed",
    )
    return chosen or usual


def show_after(person: Person, measure: Measure, day: date, second_game: bool) -> str:
    """Show what was done of a day's plan, to be ticked or changed; return its headline."""
    set_for = ask(plans, day, measure.code, second_game)
    values = ask(start_values, day, measure.code, second_game)
    done = Done(
        person,
        measure,
        day,
        second_game,
        {str(row["athlete"]): row for row in set_for.to_dict("records")},
        ask(recorded, day, measure.code, second_game),
        ask(outcome_records, day, measure.code, second_game),
        dict(zip(values["athlete"], values["value"].astype(float), strict=True)),
    )
    _show_actions(done)
    rows.show_rows(RowList(done.key, _groups(done), after=True), _listener(done))
    return counted(len(done.plans), "athlete")


def _show_actions(done: Done) -> None:
    """Show the buttons that save all remaining rows and undo the last change."""
    left = len(done.open)
    undo = to_take_back(done.records, done.person.person)
    changed = sum(
        each.done_volume not in (None, done.planned(code)) for code, each in done.outcomes.items()
    )
    told = f"{len(done.plans) - left} of {len(done.plans)} saved, {changed} changed."
    with st.bottom, st.container(horizontal=True, vertical_alignment="center", key="today_actions"):
        # Callbacks, because they run before the page: an overtaken run would lose the press.
        if left:
            st.button(
                "All as planned",
                type="primary",
                key="all_as_planned",
                on_click=_all_as_planned,
                args=[done],
            )
        if undo:
            st.button("Undo last", key="undo_last", on_click=_undo_last, args=[done])
        rest = f" \u201cAll as planned\u201d saves the other {left} as planned." if left else ""
        elements.quiet(told + rest)


def _all_as_planned(done: Done) -> None:
    person, now = require("director", "coach").person, _now(done)
    left = [code for code in now.open if code in now.plans]
    if left:
        open_rows = [replace(now.filled_in(code), assumed=True) for code in left]
        record_outcomes(own_store(), open_rows, person)


def _undo_last(done: Done) -> None:
    person = require("director", "coach").person
    records = outcome_records(own_store(), done.day, done.measure.code, done.second_game)
    if undo := to_take_back(records, person):
        record_outcomes(own_store(), undo[-1], person)


def _now(done: Done) -> Done:
    """Return what is saved now: it may have changed since the page was drawn."""
    newest = recorded(own_store(), done.day, done.measure.code, done.second_game)
    return replace(done, outcomes=newest)


def _listener(done: Done) -> Callable[[Message], None]:
    measure = done.measure

    def hear(message: Message) -> None:
        now = _now(done)
        if message.row not in now.outcomes or message.row not in now.plans:
            return
        said = rows.settled(done.key, message)
        if said is None:
            return
        try:
            outcome = _changed(now, said)
            doubted = "" if outcome is None or said is not message else _doubted(now, said, outcome)
            if doubted:
                unit = measure.unit if said.what == "value" else measure.volume_unit
                sure = f"Yes, {measured(rows.typed_number(said.value) or 0.0, unit)}"
                rows.put_doubt(done.key, said, f"{doubted} Not saved yet.", sure)
            elif outcome is not None:
                record_outcomes(own_store(), [outcome], done.person.person)
        except StoreError as error:
            rows.refuse(message.row, error.message)

    return hear


def _doubted(done: Done, message: Message, outcome: Outcome) -> str:
    """Say what looks mistyped before it is saved; refuse a value that the measure can't have."""
    code, measure, done_volume = message.row, done.measure, outcome.done_volume or 0.0
    if message.what == "number":
        found = volume_doubts(own_store(), measure, [code], done_volume, done.planned(code))
        return " ".join(found)
    if message.what != "value" or outcome.outcome is None:
        return ""
    check_value(measure, outcome.outcome)
    known = before_session(own_store(), measure, code)
    far = doubt(known, measure, (), done_volume, outcome.outcome)
    return f"{in_words(far, measure)}." if far else ""


def _changed(done: Done, message: Message) -> Outcome | None:
    """Return what to save for an athlete after a message; None if there is nothing to save."""
    code, value = message.row, message.value
    filled = replace(done.filled_in(code), assumed=False)
    if message.what == "tick" and isinstance(value, bool):
        return filled if value else Outcome(filled.plan_id, None)
    if message.what == "why" and value in ("", *WHY):
        return replace(filled, why=str(value))
    if message.what not in ("number", "value"):
        return None
    typed = rows.typed_number(value)
    if typed is None and (message.what == "number" or str(value).strip()):
        rows.refuse(code, "Type a number, such as 12; 0 is skipped. Nothing was changed.")
        return None
    if message.what == "value":
        return replace(filled, outcome=typed)
    same = typed == done.planned(code)
    return replace(filled, done_volume=typed, why="" if same else filled.why)


def _groups(done: Done) -> tuple[Group, ...]:
    """Return the rows in the groups they were planned in, the longest first."""
    sides: dict[str, list[str]] = {side: [] for side in SIDES}
    standard = nan
    for code, plan in done.plans.items():
        standard = float(plan["standard_volume"])
        apart = 0.0 if isnan(standard) else done.planned(code) - standard
        side = "The standard" if not apart else "Longer than" if apart > 0 else "Shorter than"
        sides[side].append(code)
    unit = done.measure.volume_unit
    usual = "" if isnan(standard) else f" {volume(standard, unit)}"
    found: list[Group] = []
    for place, (way, codes) in enumerate(sides.items()):
        codes.sort(key=lambda code: (-done.planned(code), done.plans[code]["name"].casefold()))
        if codes:
            found.append(
                Group(
                    mark=SIDES[way],
                    title=f"{way}{usual} ({len(codes)})",
                    rows=tuple(_row(done, code, compact=place == 1) for code in codes),
                    told=f"did, then start value in {done.measure.unit}" if not found else "",
                    compact=place == 1,
                )
            )
    return tuple(found)


def _row(done: Done, code: str, compact: bool) -> Row:
    """Return an athlete's row; in a compact one, a tap on the name says when it was saved."""
    name, planned, known = str(done.plans[code]["name"]), done.planned(code), done.outcomes[code]
    filled = done.filled_in(code)
    volume_done = planned if filled.done_volume is None else filled.done_volume
    differs = known.done_volume is not None and volume_done != planned
    chips = tuple(Chip(why, why, why == known.why) for why in WHY) if differs else ()
    assumed = " assumed" if known.assumed else ""
    saved = done.saved(code)
    return Row(
        code=code,
        name=name,
        ticked=known.done_volume is not None,
        tick_label=f"{name} is saved",
        number=number(volume_done),
        number_label=f"{name} did, {done.measure.volume_unit}",
        own=differs,
        of=f"of {number(planned)}{assumed}",
        value="" if filled.outcome is None else figures(filled.outcome),
        value_label=f"{name}'s start value, {done.measure.unit}",
        chips=chips,
        doubts=rows.doubts(done.key, code),
        why="" if compact else saved,
        more=(f"{saved.capitalize()}.",) if compact and saved else (),
    )
