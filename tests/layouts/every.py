"""All sixty files, with those held out last."""

from __future__ import annotations

from tests.layouts.held_out import HELD_OUT
from tests.layouts.sheets import SHEETS
from tests.layouts.texts import TEXTS

BUILT_WITH = TEXTS + SHEETS
"""The files that the reading was built with."""
EVERY = BUILT_WITH + HELD_OUT
