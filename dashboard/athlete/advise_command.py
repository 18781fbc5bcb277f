"""The command `warmcurve advise`: what one athlete should do, why, and what other lengths lose."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from dashboard.core.terminal import StoreFile, store_at
from dashboard.rules.work_limits import LONGEST_RECOVERY_SECONDS, MOST_EFFORTS
from db.errors import BadInput
from db.tables.cells import LEAST_GENERAL_MINUTES, LIMITS, MAX_VOLUME

(_, MOST_GENERAL), (_, MOST_REST) = LIMITS["general_minutes"], LIMITS["rest_minutes"]
LOWEST_C, HIGHEST_C = LIMITS["ambient_c"]
if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.rules.test_days import AthleteDays
    from db.file.store import Store
    from db.roster.measures import Measure
    from modeling.day.goal_advice import Advice


Goal = Annotated[
    Literal["best", "sustained", "growth"],
    typer.Option(help="One best effort, the average of those that follow, or muscle growth."),
]
Efforts = Annotated[
    int | None,
    typer.Option(
        metavar="N",
        min=1,
        max=MOST_EFFORTS,
        help="Efforts that follow; if not said, 1, or a game's for its average.",
    ),
]
Recovery = Annotated[
    float | None,
    typer.Option(
        metavar="S",
        min=0,
        max=LONGEST_RECOVERY_SECONDS,
        help="Seconds between two efforts that follow; if not said, a game's for its average.",
    ),
]
Rest = Annotated[
    float | None,
    typer.Option(metavar="MIN", min=0, max=MOST_REST, help="Minutes between warm-up and start."),
]
General = Annotated[
    float | None,
    typer.Option(
        metavar="MIN",
        min=LEAST_GENERAL_MINUTES,
        max=MOST_GENERAL,
        help="Minutes of general warm-up; nobody begins cold.",
    ),
]
Ambient = Annotated[
    float | None,
    typer.Option(
        metavar="C", min=LOWEST_C, max=HIGHEST_C, help="Temperature of the air in degrees."
    ),
]
At = Annotated[
    datetime | None, typer.Option(metavar="HH:MM", formats=["%H:%M"], help="Time of day.")
]
Longest = Annotated[
    float | None,
    typer.Option(metavar="LENGTH", min=0, max=MAX_VOLUME, help="The longest that is allowed."),
]


def advise(
    athlete: Annotated[str, typer.Option(metavar="CODE", help="The athlete.")],
    measure: Annotated[str, typer.Option(metavar="CODE", help="The measure.")],
    goal: Goal = "best",
    efforts: Efforts = None,
    recovery: Recovery = None,
    rest: Rest = None,
    general: General = None,
    ambient: Ambient = None,
    at: At = None,
    limit: Longest = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    db: StoreFile = None,
) -> None:
    """Say how long one athlete should warm up.

    With the reason, and what is lost with other lengths. What is not said of the day is taken as
    usual in the squad.
    """
    from dashboard.fits.kept_curves import kept_draws
    from dashboard.rules.game_work import GameWork, game_work
    from dashboard.rules.protocol_words import effort_line
    from dashboard.rules.test_days import athlete_days, is_minor
    from db.roster.athletes import list_athletes
    from db.roster.measures import get_measure
    from db.roster.protocols import protocol_of
    from db.roster.statuses import check_able
    from modeling.curve.account import Circumstances
    from modeling.day import goal_advice

    store = store_at(db)
    with store.reading() as cursor:
        facts = get_measure(store, measure)
        names = list_athletes(store).set_index("athlete")["name"].to_dict()
        if athlete not in names:
            raise BadInput(f"There is no athlete '{athlete}'. Codes stand in the athletes file.")
        check_able(cursor, athlete)
        known = athlete_days(store, facts)
        curve = kept_draws(store, measure, athlete).get(athlete)
        work, protocol = game_work(store, facts), protocol_of(store, facts)
    if curve is None:
        raise BadInput(
            f"There is no curve of {athlete} for {facts.name.lower()} to advise from. "
            f"Run `warmcurve fit --measure {measure}` first."
        )
    usual = curve.usual
    around = Circumstances(
        usual.general_minutes if general is None else general,
        usual.rest_minutes if rest is None else rest,
        usual.ambient_c if ambient is None else ambient,
        usual.hour if at is None else at.hour + at.minute / 60.0,
    )
    usually = work if goal == "sustained" else GameWork(1, 0.0)
    to_follow = goal_advice.ToFollow(
        goal,
        usually.efforts if efforts is None else efforts,
        recovery_seconds=usually.recovery_seconds if recovery is None else recovery,
    )
    advice = goal_advice.advise(curve, to_follow, around, limit)
    if as_json:
        _print_json(advice, facts)
    else:
        minor = is_minor(known[athlete].born, date.today())
        _print(advice, facts, effort_line(protocol), names[athlete], minor)
        _print_warnings(store, known, {athlete: names[athlete]})


def _print_warnings(
    store: Store, known: Mapping[str, AthleteDays], names: Mapping[str, str]
) -> None:
    """Print which of these athletes staff have marked as modified, and who rests after a test."""
    from dashboard.rules.status_words import modified_sentences
    from dashboard.rules.test_days import resting_sentence
    from db.roster.statuses import standings

    resting = resting_sentence(known, names, date.today())
    for sentence in (*modified_sentences(standings(store), names), resting):
        if sentence:
            print(sentence)


def _print_json(advice: Advice, measure: Measure) -> None:
    from dashboard.athlete import advice_words

    why = {"reason": advice_words.whole_reason(advice, measure.volume_unit)}
    limited = {"limited": advice.length.limited_by is not None}
    print(json.dumps({"measure": measure.code} | asdict(advice) | limited | why))


def _print(advice: Advice, measure: Measure, efforts: str, name: str, minor: bool) -> None:
    from dashboard.athlete import advice_words
    from dashboard.core.numbers import number
    from dashboard.curve import account_words

    unit, around = measure.volume_unit, advice.around
    at = account_words.clock(around.hour)
    told = advice_words.headline(advice, unit)
    print(f"{name} ({advice.athlete}), {measure.name.lower()}: {told}.")
    print(
        f"After {number(around.general_minutes)} min of general warm-up, "
        f"{number(around.rest_minutes)} min before the start at {at}, in "
        f"{number(around.ambient_c)} degrees."
    )
    print(f"Efforts: {efforts}.")
    sentences = advice_words.advice_sentences(advice, unit)
    sentences += advice_words.alternative_sentences(advice, unit)
    sentences += advice_words.safety_sentences(name, minor, around.ambient_c)
    for sentence in sentences:
        print(sentence.replace("\u00a0", " "))
