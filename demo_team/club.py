from __future__ import annotations

from dataclasses import dataclass

from modeling.curve.account import Account as WarmUpAccount
from modeling.curve.account import Circumstances

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
    effort : str
        What is done: a jump or a throw.
    """

    standard_volume: float
    effort: str


MEASURES = {
    "jump_height": MeasureFacts(standard_volume=15.0, effort="jump"),
    "throw_speed": MeasureFacts(standard_volume=12.0, effort="throw"),
}

WORTHWHILE_PCT = {"jump_height": 1.5, "throw_speed": 1.0}
"""The smallest worthwhile changes of the two built-in measures."""

TRUE_ACCOUNT = WarmUpAccount(
    general_per_minute=0.2, half_life_minutes=18.0, stretch_per_degree=0.012
)
"""The true effects of a minute of general warm-up, of rest and of the cold hall."""

USUAL = Circumstances(general_minutes=10.0, rest_minutes=2.0, ambient_c=17.0, hour=17.5)
"""Roughly what most of the club's sessions are like; the standard is meant for these."""
