"""What can go wrong in a fit."""

from __future__ import annotations

__all__ = ["ModelError"]


class ModelError(ValueError):
    """The rows cannot be fitted; the message says what is wrong and what to do."""
