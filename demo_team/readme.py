from __future__ import annotations

import pandas as pd

from demo_team.club import ACCOUNTS, CLUB_NAME, MEASURES, TRUE_ACCOUNT, WORTHWHILE_PCT
from demo_team.days import GAME_DAYS, PLANS_SINCE, SQUAD_SIZE
from demo_team.fade_ends import AT_THE_MOST, ATHLETE_STOPPED, TESTER_ENDED
from demo_team.roster import ROSTER
from demo_team.season import EFFORTS_AT_GAME, EFFORTS_IN_TRAINING, MEASURED_AT_GAMES, NOISE
from modeling.day.caution import most_efforts

ENDED_OTHERWISE = (TESTER_ENDED, ATHLETE_STOPPED, AT_THE_MOST)

TEXT = """\
# The demonstration squad

{club} is an invented handball club in an invented place. Every person,
birthday and value here is invented; nobody real is meant. The files are made by
`python -m demo_team.build`, which always makes the same bytes, this page included.

## The season

One season from the start of August to late November 2026, {athletes} athletes, two measures:
jump height ({jump_standard:.0f} efforts are the team's standard warm-up) and throw speed
({throw_standard:.0f} throws; the goalkeepers and some others are not measured). When the demo is
loaded, all days move by whole weeks, so that the last game was on the Saturday before and the
next one is to come.

The squad trains on Monday, Tuesday and Thursday, without a game on Saturday on Wednesday as well;
on each of these days {in_training} efforts of a few athletes are measured. There are {games} games
on Saturdays with {squad} players each, of whom {at_game} jumps are measured just before
throw-off, and as many throws in {throw_games} of the games.

Fade tests are on Monday, Tuesday or Wednesday, never within 48 hours before a game or on the day
after one, at most two a week for each athlete, always after a general warm-up, and with no maximal
efforts of the kind in the days after. They end in different ways, which the note says:

{endings}

Whoever answers that there is pain is out from then on, until staff say that all is well; meanwhile
nothing is measured. A warm-up with what is measured after it is never more than {jump_most} jumps
or {throw_most} throws a day.

Until {plans_since} everybody did about the standard, by feel. From then on a length is set
before each session: the standard for whom it loses less than the smallest worthwhile change
({jump_worthwhile:g} % for jumps, {throw_worthwhile:g} % for throws), else the best volume, as far
as it fits into a day. About two in three do what is set; the others do what everybody did before,
or cut it short. In a trial one athlete did two lengths in an order drawn by lot.

The true curves come from three families with one clear peak, of which the model contains none
exactly. Noise on an effort and on a day: {jump_effort:g} % and {jump_day:g} % for jumps,
{throw_effort:g} % and {throw_day:g} % for throws. What a warm-up counts for depends on its
circumstances: a minute of the general part is worth {general:g} efforts, {half_life:g} minutes of
rest halve what was done, and each degree below 20 (the hall cools from 22 to 13 degrees) asks for
{cold:.1%} more. How fresh an athlete felt, and how long ago the last game was, have no effect on
the values.

| file | holds |
|---|---|
| `athletes.csv` | the squad |
| `jump_height.csv`, `throw_speed.csv` | the efforts as they were written, mistakes included |
| `statuses.csv` | who was out from when on, and well again |
| `games.csv` | the squads of the last games and of the one to come |
| `plans.csv` | what was set from {plans_since} on, what was done, and the start value after it |
| `trial.csv` | the sessions of the trial |
| `truth.csv` | what was planted, by athlete and measure |
| `mistakes.csv` | what went wrong, by file and line |

## Sample accounts

They are public; never use them for real data.

{accounts}

## What was planted: jump height

Best volume and hold are in efforts without any general part, at 20 degrees; the loss is what the
standard of {jump_standard:.0f} gives away against the peak in the club's usual circumstances.
"late" and "very late" improve far past the standard, "early" peaks almost at once, "fine" loses
next to nothing at the standard.

{jumps}

## What was planted: throw speed

The loss is at the standard of {throw_standard:.0f} throws. Most hardly fade: the hold is far beyond
what anybody throws in a test.

{throws}

## What went wrong

Line 1 is the header. Rows set aside come with a reason when the file is imported; a slipped
effort is stored and used, and must not move a curve.

{mistakes}
"""


def readme(truth: pd.DataFrame, mistakes: pd.DataFrame, efforts: dict[str, pd.DataFrame]) -> str:
    """Return the page that says what was planted; efforts are by measure, without mistakes."""
    jumps, throws = NOISE["jump_height"], NOISE["throw_speed"]
    return TEXT.format(
        in_training=EFFORTS_IN_TRAINING,
        at_game=EFFORTS_AT_GAME,
        games=len(GAME_DAYS),
        throw_games=len(MEASURED_AT_GAMES["throw_speed"]),
        squad=SQUAD_SIZE,
        endings=_table(_endings(efforts)),
        jump_most=most_efforts("jump"),
        throw_most=most_efforts("throw"),
        plans_since=f"{PLANS_SINCE.day} {PLANS_SINCE:%B}",
        jump_worthwhile=WORTHWHILE_PCT["jump_height"],
        throw_worthwhile=WORTHWHILE_PCT["throw_speed"],
        jump_effort=100.0 * jumps.effort,
        jump_day=100.0 * jumps.day,
        throw_effort=100.0 * throws.effort,
        throw_day=100.0 * throws.day,
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


def _endings(efforts: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Count how the fade tests of each measure ended."""
    counts = {}
    for measure, rows in efforts.items():
        tests = rows[rows["kind"] == "fade"].drop_duplicates(["athlete", "started_at"])
        ways = tests["note"].where(tests["note"].isin(ENDED_OTHERWISE), "the stop rule was met")
        counts[measure.replace("_", " ")] = ways.value_counts()
    table = pd.DataFrame(counts).fillna(0).astype(int).sort_values("jump height", ascending=False)
    return table.rename_axis("fade tests that ended").reset_index()


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
