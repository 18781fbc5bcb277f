"""What can go wrong in a fit."""

from __future__ import annotations

__all__ = ["AthleteError", "ModelError", "SquadGuessWarning"]


class ModelError(ValueError):
    """Rows, parameters or questions make no sense; the message says what is wrong and what to do.

    Notes
    -----
    Units: none.
    Missing values: the message names those that are refused, up to the first five rows.
    Errors: it is an error itself, and a `ValueError`.
    Source: none.
    """


class SquadGuessWarning(UserWarning):
    """A prediction is outside what an athlete has tried; the message says from which volume on.

    Notes
    -----
    Units: volumes in the measure's volume unit, as done in the squad's usual circumstances.
    Missing values: none.
    Errors: it is a warning; `warnings.simplefilter` silences it or makes it an error.
    Source: none.
    """


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

    def __reduce__(self) -> tuple[type[AthleteError], tuple[object]]:
        """Pickle by athlete, so that the error survives the way back from another process."""
        return type(self), (self.athlete,)
