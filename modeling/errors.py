"""What can go wrong in a fit."""

from __future__ import annotations

__all__ = ["AthleteError", "ModelError", "SquadGuessWarning"]


class ModelError(ValueError):
    """The rows cannot be fitted; the message says what is wrong and what to do."""


class SquadGuessWarning(UserWarning):
    """A prediction goes beyond what an athlete has tried; the message says from which volume on."""


class AthleteError(ModelError):
    """One athlete's efforts cannot be fitted; everybody else's can.

    Parameters
    ----------
    athlete : object
        As in the rows.
    """

    def __init__(self, athlete: object) -> None:
        super().__init__(
            f"{athlete} is left out and shown as the squad: the efforts of {athlete} cannot be"
            " fitted. Look for wrong values or units among them, correct or exclude these, and"
            " work the curves out again."
        )
        self.athlete = athlete
