from __future__ import annotations

import pandas as pd

from demo_team.club import ACCOUNTS, CLUB_NAME, MEASURES, TRUE_ACCOUNT
from demo_team.roster import ROSTER

TEXT = """\
# The demonstration squad

{club} is an invented handball club in an invented place. Every person,
birthday and value here is invented; nobody real is meant. The files are made by
`python -m demo_team.build`, which always makes the same bytes, this page included.

## The season

One season from the start of August to late November 2026, {athletes} athletes, two measures:
jump height ({jump_standard:.0f} efforts are the team's standard warm-up) and throw speed
({throw_standard:.0f} throws; the goalkeepers and some others are not measured). Routine sessions
on training days (Tuesday, Thursday) and before games (Saturday from 5 September) hold 2 to 4
efforts around the standard; from 2 November on every second athlete does their own best volume
instead, 40 at the most. Fade tests run until three efforts in a row are below 90 % of the
best so far or 80 jumps (60 throws) are made, always after a general warm-up, never
within 48 hours before a game; whoever answers that there is pain is not measured that day. The
true curves come from three families with one clear peak, of which the model
contains none exactly. Noise on an effort and on a day: 2.5 % and 2 % for jumps, 2 % and 1.5 %
for throws. What a warm-up counts for depends on its circumstances: a minute of the general part
is worth {general:g} efforts, {half_life:g} minutes of rest halve what was done, and each degree
below 20 (the hall cools from 22 to 13 degrees) asks for {cold:.1%} more. How fresh an athlete
felt, and how long ago the last game was, have no effect on the values.

| file | holds |
|---|---|
| `athletes.csv` | the squad |
| `jump_height.csv`, `throw_speed.csv` | the efforts as they were written, mistakes included |
| `plans.csv` | what was set from 2 November on, what was done, and the start value that followed |
| `truth.csv` | what was planted, by athlete and measure |
| `mistakes.csv` | what went wrong, by file and line |

## Sample accounts

They are public; never use them for real data.

{accounts}

## What was planted: jump height

Best volume and hold are in efforts without any general part, at 20 degrees; the loss is what the
standard of {jump_standard:.0f} gives away against the peak in the club's usual circumstances.
"late" improves far past the standard, "early" peaks almost at once, "fine" loses next to nothing
at the standard.

{jumps}

## What was planted: throw speed

The loss is at the standard of {throw_standard:.0f} throws.

{throws}

## What went wrong

Line 1 is the header. Rows set aside come with a reason when the file is imported; a slipped
effort is stored and used, and must not move a curve.

{mistakes}
"""


def readme(truth: pd.DataFrame, mistakes: pd.DataFrame) -> str:
    """Write the page that says what was planted."""
    return TEXT.format(
        club=CLUB_NAME,
        athletes=len(ROSTER),
        jump_standard=MEASURES["jump_height"].standard_volume,
        throw_standard=MEASURES["throw_speed"].standard_volume,
        general=TRUE_ACCOUNT.general_per_minute,
        half_life=TRUE_ACCOUNT.half_life_minutes,
        cold=TRUE_ACCOUNT.stretch_per_degree,
        accounts=_table(
            pd.DataFrame(ACCOUNTS)[["name", "password", "role", "display_name", "athlete"]]
        ),
        jumps=_planted(truth, "jump_height"),
        throws=_planted(truth, "throw_speed"),
        mistakes=_table(mistakes),
    )


def _planted(truth: pd.DataFrame, measure: str) -> str:
    names = {player.athlete: player.name for player in ROSTER}
    rows = truth[truth["measure"] == measure].drop(columns="measure")
    rows.insert(1, "name", rows["athlete"].map(names))
    return _table(rows)


def _table(frame: pd.DataFrame) -> str:
    heads = [
        name.removesuffix("_pct").replace("_", " ") + (" %" if name.endswith("_pct") else "")
        for name in frame.columns
    ]
    lines = [heads, ["---"] * len(heads)]
    lines += [["" if pd.isna(cell) else str(cell) for cell in row] for row in frame.to_numpy()]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
