"""A running test: where each athlete stands, whose turn it is, and what a typed number means.

The state is always worked out from the store, so it is the same on every device and right after
every correction.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from dashboard.core.numbers import Row
from dashboard.rules.typed_efforts import NUMBER, TIME_UNITS
from db.efforts.live_efforts import BY_THE_RULE, Entry, add_effort, last_entry
from db.efforts.live_tests import efforts_in, parts_in
from db.efforts.new_rounds import Method
from db.errors import BadInput
from db.file.store import Store
from db.imports.units import scale, units_like
from db.roster.measures import Measure, get_measure
from modeling.testing.fade import FadeState, fade_state
from modeling.testing.readings import flight_height_m, speed

DIGITS = 3


@dataclass(frozen=True)
class Standing:
    """Where one athlete's test stands.

    Attributes
    ----------
    test : Row
        The test, by the columns of `db.efforts.live_tests.open_tests`.
    efforts : DataFrame
        Its efforts in order, as `db.efforts.live_tests.efforts_in` gives them.
    state : FadeState
        What the stop rule says about the efforts that are not spoiled.
    """

    test: Row
    efforts: pd.DataFrame
    state: FadeState

    @property
    def session_id(self) -> int:
        """Number of the session."""
        return int(self.test["session_id"])

    @property
    def made(self) -> int:
        """Efforts made, spoiled ones too."""
        return len(self.efforts)

    @property
    def next_effort(self) -> int:
        """Number of the effort that comes next."""
        return 1 + (int(self.efforts["effort"].max()) if self.made else 0)

    @property
    def usable(self) -> list[float]:
        """Values that are not spoiled, in order."""
        return list(self.efforts.loc[self.efforts["excluded"].isna(), "value"])

    @property
    def done(self) -> list[tuple[float, float]]:
        """Volume and value of the efforts that are not spoiled, in order."""
        rows = self.efforts[self.efforts["excluded"].isna()]
        return list(zip(rows["volume"], rows["value"], strict=True))

    @property
    def is_open(self) -> bool:
        """Whether the test was not ended."""
        return bool(pd.isna(self.test["ended_at"]))

    @property
    def can_open_again(self) -> bool:
        """Whether it is open, or ended by the stop rule: then taking back a value opens it."""
        return self.is_open or self.test["ended_because"] == BY_THE_RULE

    @property
    def at_most(self) -> bool:
        """Whether the test has reached its most efforts, counting those done before it."""
        most, before = self.test["most_efforts"], float(self.test["first_volume"])
        return not pd.isna(most) and self.made + before >= most

    @property
    def is_over(self) -> bool:
        """Whether the stop rule of a fade test says stop, or the most efforts are reached."""
        return (self.test["kind"] == "fade" and self.state.over) or self.at_most

    @property
    def takes_turns(self) -> bool:
        """Whether another effort is expected."""
        return self.is_open and not self.is_over

    @property
    def method(self) -> Method:
        """How its values are measured."""
        distance = self.test["distance_m"]
        return Method(
            self.test["method"], self.test["device"], None if pd.isna(distance) else float(distance)
        )


@dataclass(frozen=True)
class LiveTest:
    """Tests that were begun together.

    Attributes
    ----------
    measure : Measure
        What is tested.
    standings : tuple of Standing
        In the order of turns.
    entry : Entry or None
        The effort entered last, whoever's turn it is now; None before the first.
    """

    measure: Measure
    standings: tuple[Standing, ...]
    entry: Entry | None

    @property
    def stopped(self) -> list[Standing]:
        """Open tests in which the stop rule says stop."""
        return [one for one in self.standings if one.is_open and one.is_over]

    def standing(self, session_id: int) -> Standing:
        """Return where the test of a session stands."""
        return next(one for one in self.standings if one.session_id == session_id)


def read_live_test(store: Store, live_test_id: int) -> LiveTest | None:
    """Return where every athlete stands; None if there is no such live test in sight."""
    tests, efforts = parts_in(store, live_test_id), efforts_in(store, live_test_id)
    if tests.empty:
        return None
    measure = get_measure(store, str(tests["measure"].iloc[0]))
    found = tuple(
        _standing(test, efforts[efforts["session_id"] == test["session_id"]], measure)
        for test in tests.to_dict("records")
    )
    return LiveTest(measure, found, last_entry(store, live_test_id))


def _standing(test: Row, efforts: pd.DataFrame, measure: Measure) -> Standing:
    usable = list(efforts.loc[efforts["excluded"].isna(), "value"])
    state = fade_state(
        usable,
        share=float(test["stop_share"]),
        in_a_row=int(test["stop_in_a_row"]),
        higher_is_better=measure.better == "higher",
    )
    return Standing(test, efforts, state)


def next_turn(everybody: Iterable[Standing]) -> Standing | None:
    """Return whose turn it is: among those who go on, the one with the fewest efforts.

    Ties go by place in the order of turns.
    """
    waiting = [one for one in everybody if one.takes_turns]
    return min(waiting, key=lambda one: (one.made, one.test["place"]), default=None)


def accept(
    store: Store, standing: Standing, effort: int, text: str, measure: Measure, person: str
) -> float:
    """Store what was typed as an effort and return its value in the unit of the measure.

    Raises
    ------
    BadInput
        If it is not a number, not allowed, or the stop rule says stop.
    """
    if standing.is_over and effort >= standing.next_effort:
        raise BadInput(
            f"{what_ended(standing)}, so no further effort is taken. Correct or take back one "
            "that was typed wrongly, or end the test."
        )
    value = read_value(text, standing.method, measure)
    volume = volume_before(standing, effort, measure)
    add_effort(store, standing.session_id, effort, value, volume, person)
    return value


def what_ended(standing: Standing) -> str:
    """Return what ended a test."""
    return "The stop rule says stop" if standing.state.over else "The most in one test is reached"


def volume_before(standing: Standing, effort: int, measure: Measure) -> float:
    """Return the volume done before an effort: each that was made adds one, spoiled or not.

    If volume is measured in time, it is what was entered at the start.
    """
    first = float(standing.test["first_volume"])
    return first if measure.volume_unit in TIME_UNITS else first + effort - 1


def read_value(text: str, method: Method, measure: Measure) -> float:
    """Return the value that a typed number stands for, in the unit of the measure.

    Raises
    ------
    BadInput
        If it is not a number above 0.
    """
    if not NUMBER.fullmatch(text.strip()) or not float(text.replace(",", ".")):
        raise BadInput(f"'{text}' is not a number above 0. Type one such as {example(method)}.")
    number = float(text.strip().replace(",", "."))
    if method.method == "flight time":
        return round(flight_height_m(number) * scale("m", measure.unit)[0], DIGITS)
    if method.method == "distance and time" and method.distance_m is not None:
        metres_a_second = speed(method.distance_m, number)
        return round(metres_a_second * scale("m/s", measure.unit)[0], DIGITS)
    return number


def example(method: Method) -> str:
    """Return an example of a number as it is typed for a method."""
    return "0.52" if method.method == "flight time" else "4.2"


def methods_for(measure: Measure) -> list[str]:
    """Return the methods by which values of a measure can be typed."""
    others = {
        "flight time": measure.unit in units_like("m") and measure.better == "higher",
        "distance and time": measure.unit in units_like("m/s"),
    }
    return ["value", *(name for name, fits in others.items() if fits)]
