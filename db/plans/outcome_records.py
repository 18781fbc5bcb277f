"""Records of what was done: when each was made, and what a person can still take back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from operator import attrgetter

from db.file.store import Store
from db.plans.outcomes import Outcome


@dataclass(frozen=True)
class OutcomeRecord:
    """One record of what was done of a choice.

    Attributes
    ----------
    athlete, person : str
        Whose choice it is about, and who recorded it.
    saved_at : datetime
        With its time zone; the same for everything recorded at once.
    before, after : Outcome
        What was recorded before, and with this record.
    """

    athlete: str
    person: str
    saved_at: datetime
    before: Outcome
    after: Outcome


def outcome_records(
    store: Store, day: date, measure: str, second_game: bool
) -> tuple[OutcomeRecord, ...]:
    """List the records of the choices in force for a day, the newest last."""
    with store.reading() as cursor:
        rows = cursor.execute(
            "SELECT c.athlete, c.person, c.changed_at, plan_id, old_done_volume, old_outcome, "
            "coalesce(lag(m.assumed) OVER w, FALSE), coalesce(lag(m.why) OVER w, ''), "
            "new_done_volume, new_outcome, coalesce(m.assumed, FALSE), coalesce(m.why, '') "
            "FROM plan_outcome_change c JOIN plan_in_force p USING (plan_id) "
            "LEFT JOIN outcome_manner m USING (change_id) "
            "WHERE p.day = ? AND p.measure = ? AND p.second_game = ? "
            "WINDOW w AS (PARTITION BY plan_id ORDER BY change_id) ORDER BY change_id",
            [day, measure, second_game],
        ).fetchall()
    return tuple(
        OutcomeRecord(athlete, person, at, Outcome(plan, *found[:4]), Outcome(plan, *found[4:]))
        for athlete, person, at, plan, *found in rows
    )


def to_take_back(records: Iterable[OutcomeRecord], person: str) -> list[list[Outcome]]:
    """Return what was recorded before each thing that a person recorded, oldest thing first.

    If somebody else has recorded over a thing since, the person can no longer take it back. A
    record that puts back exactly what was there before the person's last thing takes that thing
    back, and does not count as a thing itself.
    """
    own: list[OutcomeRecord] = []
    for record in records:
        if record.person == person:
            own.append(record)
        else:
            own = [each for each in own if each.athlete != record.athlete]
    things: list[list[Outcome]] = []
    for _, together in groupby(own, attrgetter("saved_at")):
        thing = list(together)
        if things and [each.after for each in thing] == things[-1]:
            things.pop()
        else:
            things.append([each.before for each in thing])
    return things
