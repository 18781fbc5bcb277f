"""What can go wrong in a fit, in two kinds: no answer, and an answer with a caution."""

from __future__ import annotations

__all__ = ["ModelError", "ModelWarning"]


class ModelError(ValueError):
    """The rows cannot be fitted; the message says what is wrong and what to do."""


class ModelWarning(UserWarning):
    """The fit stands, but whoever reads it must see this caution."""
