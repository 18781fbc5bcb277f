from __future__ import annotations

from dataclasses import dataclass

CLUB_NAME = "Halvensund Handball"


@dataclass(frozen=True)
class Account:
    """A public sample account of the demonstration.

    Attributes
    ----------
    name, display_name : str
        Sign-in name and name as shown.
    role : str
        director, coach or athlete.
    athlete : str or None
        Code of the athlete whose account it is; None for staff.
    password : str
        Known to everybody: the demonstration holds nothing but invented data.
    """

    name: str
    display_name: str
    role: str
    athlete: str | None
    password: str


ACCOUNTS = (
    Account("director", "Ottilie Brandvær", "director", None, "demo-director"),
    Account("coach", "Tadeo Lindqvann", "coach", None, "demo-coach"),
    Account("athlete", "Oriol Demblay", "athlete", "H12", "demo-athlete"),
)


@dataclass(frozen=True)
class MeasureFacts:
    """What the club adds to a built-in measure.

    Attributes
    ----------
    standard_volume : float
        What the team does today, in the measure's volume unit (efforts).
    """

    standard_volume: float


MEASURES = {
    "jump_height": MeasureFacts(standard_volume=15.0),
    "throw_speed": MeasureFacts(standard_volume=12.0),
}
