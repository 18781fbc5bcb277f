"""Kinds of measures to start from: each says what it is, its unit and what is better.

Limits and the smallest worthwhile change are the usual ones (common practice, no source).
"""

from __future__ import annotations

import re

from db.roster.measures import Measure
from db.roster.plain_letters import plain

KINDS = {
    "A jump, by its height: cm, higher is better": Measure(
        "", "Jump height, other", "cm", "higher", lowest=5.0, highest=120.0
    ),
    "A jump, by its distance: cm, farther is better": Measure(
        "", "Standing long jump", "cm", "higher", lowest=50.0, highest=400.0
    ),
    "A throw, by its speed: m/s, faster is better": Measure(
        "", "Throw speed, other", "m/s", "higher", "throws", lowest=3.0, highest=60.0
    ),
    "A throw, by its distance: m, farther is better": Measure(
        "", "Medicine ball throw", "m", "higher", "throws", lowest=1.0, highest=100.0
    ),
    "A run, by its time: s, less is better": Measure(
        "", "20 m sprint", "s", "lower", "sprints", lowest=0.5, highest=60.0
    ),
    "A lift, by the speed of the bar: m/s, faster is better": Measure(
        "", "Bar speed, other", "m/s", "higher", worthwhile_pct=4.0, lowest=0.05, highest=6.0
    ),
    "Something else": Measure("", "", "", "higher"),
}
LONGEST_CODE = 40


def measure_code(name: str) -> str:
    """Return a code for files made from a name: `long_jump_standing`."""
    return re.sub(r"[^a-z0-9]+", "_", plain(name)).strip("_")[:LONGEST_CODE].strip("_")
