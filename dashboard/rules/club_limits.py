"""The most maximal efforts an athlete may do: before a start, in a day and in a test."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import inf, isinf

from dashboard.core.numbers import volume
from dashboard.core.once import once
from dashboard.rules.standing import without_blocked
from dashboard.rules.test_days import most_of_measure
from db.errors import BadInput
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.fits.results import responses
from db.plans.games import Player
from db.plans.kept_games import KeptGame
from db.plans.lengths import PlanEntry, plans
from db.roster.athletes import birth_dates, list_athletes
from db.roster.measures import Measure, get_measure, kind_of_effort, list_measures
from db.roster.statuses import check_able
from db.roster.warm_ups import fade_efforts, most_warm_ups
from modeling.curve.length import Limits
from modeling.day.caution import HOT_C, age_years, most_at_age, most_efforts

HIGHEST_MOST = 200.0
MOST_KEY = "most_volume"
"""Name of a setting, followed by `:CODE`."""


_done, _measure = once(most_warm_ups), once(get_measure)


@dataclass(frozen=True)
class Mosts:
    """The most maximal efforts of a measure that an athlete may do; fewer under 18.

    Attributes
    ----------
    in_day : float
        Before a start, and in a day; infinite if volume is counted in minutes.
    in_test : int
    """

    in_day: float
    in_test: int


def mosts_by_athlete(
    store: Store, measure: Measure, athletes: Iterable[str], day: date | None = None
) -> dict[str, Mosts]:
    """Return the most of a measure that each athlete may do on a day (default today), by age.

    Every length, plan and test asks here, so nobody gets another athlete's most.
    """
    on, (born, in_day, in_test) = day or date.today(), _ages_and_mosts(store, measure)
    ages = {code: age_years(born.get(code), on) for code in athletes}
    return {
        code: Mosts(most_at_age(in_day, age), int(most_at_age(in_test, age)))
        for code, age in ages.items()
    }


@once
def _ages_and_mosts(store: Store, measure: Measure) -> tuple[Mapping[str, date], float, int]:
    """Return dates of birth by code, and an adult's most efforts in a day and in a test."""
    return birth_dates(store), most_allowed(store, measure), most_of_measure(store, measure)


def most_allowed(store: Store, measure: Measure) -> float:
    """Return an adult's limit for a measure: the one that was set, else the usual one of its kind.

    If volume is counted in minutes, there is no usual limit.
    """
    kept = get_setting(store, f"{MOST_KEY}:{measure.code}")
    if kept is not None:
        return float(kept)
    in_minutes = measure.volume_unit.strip().lower().startswith("min")
    return inf if in_minutes else float(most_efforts(kind_of_effort(measure)))


def set_most_allowed(store: Store, measure: Measure, most: float, person: str) -> None:
    """Set the club's limit for a measure.

    Raises
    ------
    BadInput
        If the number makes no sense, or is below the standard.
    """
    if not 1.0 <= most <= HIGHEST_MOST:
        raise BadInput(
            f"The most before a start is {most:g}; it must be 1 to {HIGHEST_MOST:g}. A higher one"
            " would protect nobody."
        )
    standard = measure.standard_volume
    if standard is not None and most < standard:
        raise BadInput(
            f"The most before a start is {most:g}, and the standard is {standard:g}. Set a lower"
            " standard first."
        )
    set_setting(store, f"{MOST_KEY}:{measure.code}", f"{most:g}", person)


def limits_by_athlete(
    store: Store,
    measure: Measure,
    standard_volume: float,
    athletes: Iterable[str],
    day: date | None = None,
) -> dict[str, Limits]:
    """Return what each athlete may do: the standard counts as done, as the team does it today."""
    done = _done(store, measure.code)
    return {
        code: Limits(max(done.get(code, 0.0), standard_volume), most.in_day)
        for code, most in mosts_by_athlete(store, measure, athletes, day).items()
    }


def may_be_done(store: Store, games: Sequence[KeptGame]) -> list[KeptGame]:
    """Return saved games as they may be done by what is known now.

    Athletes who are out or in pain are left out, and nobody does more than the day's most: it may
    have been lowered, or a date of birth entered, since the plan was saved. A length that somebody
    has set by hand stays.
    """
    found = []
    for kept in without_blocked(store, games):
        game, athletes = kept.game, [player.plan.athlete for player in kept.game.players]
        most = mosts_by_athlete(store, get_measure(store, game.measure), athletes, game.day)
        # In heat, extra easy efforts would only make athletes hotter.
        late = _called_long(store, game.measure) if game.ambient_c < HOT_C else None
        players = tuple(_within(player, most[player.plan.athlete], late) for player in game.players)
        found.append(replace(kept, game=replace(game, players=players)))
    return found


@once
def _called_long(store: Store, measure: str) -> frozenset[str]:
    """Return the codes of those who are still getting better at the standard."""
    rows = responses(store, measure)
    return frozenset(rows.loc[rows["call"] == "long", "athlete"])


def _within(player: Player, most: Mosts, late: frozenset[str] | None) -> Player:
    """Return a player who does no more than the day's most, from the warm-up on.

    Players who use up the most add easy efforts, if it keeps them below the advised, standard or
    chosen length, or if they are in `late` (still getting better at the standard). If `late` is
    None, nobody does.
    """
    left = max(most.in_day - player.earlier_volume, 0.0)
    if player.own_length or isinf(left):
        return player
    warm_up = min(player.plan.chosen_volume, left)
    top_up = min(player.top_up, left - warm_up)
    half_time = min(player.half_time, left - warm_up - top_up)
    last = left - warm_up - half_time
    asked = (player.plan.advised_volume, player.plan.standard_volume, player.plan.chosen_volume)
    kept_short = late is not None and (
        player.plan.athlete in late or max(each or 0.0 for each in asked) > left
    )
    return replace(
        player,
        plan=replace(player.plan, chosen_volume=warm_up),
        top_up=top_up,
        half_time=half_time,
        bench=tuple(replace(row, volume=min(row.volume, last)) for row in player.bench),
        filled_up=kept_short and warm_up + top_up >= left,
    )


def check_choice(store: Store, plan: PlanEntry, earlier: float = 0.0, typed: bool = False) -> None:
    """Refuse a length that may not be set for an athlete, or not without a reason.

    Parameters
    ----------
    store, plan
        The store, and the plan with the length.
    earlier
        What was done before an earlier game of the day.
    typed
        Whether it has only just been typed; the reason is then asked for next.

    Raises
    ------
    BadInput
        If the athlete is out or in pain; if the length is above the athlete's most without a
        reason, or more than a quarter above what was done; or if, together with the day's fade
        tests and other measures of its kind, it is above the day's most.
    """
    measure, standard = _measure(store, plan.measure), plan.standard_volume or 0.0
    with store.reading() as cursor:
        check_able(cursor, plan.athlete)
    limits = limits_by_athlete(store, measure, standard, [plan.athlete], plan.day)[plan.athlete]
    length, most = plan.chosen_volume, limits.most_by_hand
    unit = measure.volume_unit
    club, name = limits.most_allowed, _names(store).get(plan.athlete, plan.athlete)
    allowed = "" if club == inf else f" At most {volume(club, unit)} are allowed."
    if length > most:
        raise BadInput(
            f"{volume(length, unit)} is too much.{allowed} With a reason you can go up step by"
            f" step, a quarter over what was done at a time: now up to {volume(most, unit)}."
        )
    if length > club and not (typed or plan.reason.strip()):
        raise BadInput(
            f"{volume(length, unit)} for {name} are above the {volume(club, unit)} that are"
            f" allowed. Say why in a few words, or set {volume(club, unit)} or fewer."
        )
    if earlier and length + earlier > max(club, earlier):
        raise BadInput(
            f"{volume(earlier, unit)} were done before the day's earlier game, and a day has"
            f" {volume(club, unit)} at most. Set {volume(max(club - earlier, 0.0), unit)} or fewer"
            f" for {name}."
        )
    other = _else_that_day(store, measure, plan.day).get(plan.athlete, 0.0)
    if other and length + other > max(club, length, other):
        raise BadInput(
            f"{volume(other, unit)} are set or done on the same day with another measure or in a"
            f" fade test, and a day has {volume(club, unit)} at most. Set"
            f" {volume(max(club - other, 0.0), unit)} or fewer for {name}."
        )


@once
def _names(store: Store) -> Mapping[str, str]:
    athletes = list_athletes(store)
    return dict(zip(athletes["athlete"], athletes["name"], strict=True))


@once
def _else_that_day(store: Store, measure: Measure, day: date) -> Mapping[str, float]:
    """Return each athlete's other efforts that day: fade tests, and measures of the same kind.

    Measures count as they were done, or as set if that is not known yet.
    """
    kind, total = kind_of_effort(measure), defaultdict[str, float](float)
    others = [
        each.code
        for each in list_measures(store)
        if each.code != measure.code and kind_of_effort(each) == kind != "other"
    ]
    for code in others:
        rows = plans(store, day, code)
        done = rows["done_volume"].fillna(rows["chosen_volume"]).fillna(0.0)
        for athlete, much in zip(rows["athlete"], done, strict=True):
            total[athlete] += much
    for (code, athlete), many in fade_efforts(store, day).items():
        if code in (measure.code, *others):
            total[athlete] += many
    return total
