"""The commands `warmcurve protocol` and `warmcurve test-days`: how and when tests are done."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard.core.terminal import StoreFile, store_at, user

if TYPE_CHECKING:
    from db.file.store import Store
    from db.roster.measures import Measure

USUAL = "usual"


def protocol(
    code: Annotated[str | None, typer.Argument(metavar="CODE", help="The measure.")] = None,
    effort: Annotated[str | None, typer.Option(metavar="WORDS", help="What one effort is.")] = None,
    arms: Annotated[str | None, typer.Option(metavar="WORDS", help="What the arms do.")] = None,
    depth: Annotated[str | None, typer.Option(metavar="WORDS", help="How deep.")] = None,
    ball: Annotated[str | None, typer.Option(metavar="WORDS", help="Which ball.")] = None,
    start: Annotated[
        str | None, typer.Option(metavar="WORDS", help="From where and how it begins.")
    ] = None,
    surface: Annotated[str | None, typer.Option(metavar="WORDS", help="On what.")] = None,
    shoes: Annotated[str | None, typer.Option(metavar="WORDS", help="In which shoes.")] = None,
    rest: Annotated[
        float | None, typer.Option(metavar="X", help="Rest between two efforts, in seconds.")
    ] = None,
    stop: Annotated[
        float | None,
        typer.Option(metavar="PCT", help="Low is an effort more than so many % off the best."),
    ] = None,
    stop_in_a_row: Annotated[
        int | None, typer.Option(metavar="N", help="So many low in a row end a test.")
    ] = None,
    most: Annotated[
        int | None, typer.Option(metavar="N", help="An adult's most efforts in a test.")
    ] = None,
    db: StoreFile = None,
) -> None:
    """Say how a measure is tested, or change it.

    'usual' in place of words is the usual of the kind again.
    """
    from db.roster.measures import get_measure, list_measures

    store = store_at(db)
    said = {
        "effort": effort,
        "arms": arms,
        "depth": depth,
        "ball": ball,
        "beginning": start,
        "surface": surface,
        "shoes": shoes,
        "rest_seconds": rest,
    }
    changes = {part: value for part, value in said.items() if value is not None}
    if code is None and (changes or [each for each in (stop, stop_in_a_row, most) if each]):
        raise typer.BadParameter("Name the measure to change by its CODE.")
    if code is None:
        for measure in list_measures(store):
            _say(store, measure)
        return
    measure = get_measure(store, code)
    _change(store, measure, changes, (stop, stop_in_a_row), most)
    _say(store, measure)


def _change(
    store: Store,
    measure: Measure,
    changes: dict[str, Any],
    stop: tuple[float | None, int | None],
    most: int | None,
) -> None:
    from dashboard.rules.stop_rules import rule_of_worse, set_stop_rule, stop_rule, worse_pct
    from dashboard.rules.test_days import set_most
    from db.roster.protocols import protocol_of, save_protocol

    if changes:
        texts: dict[str, Any] = {
            part: "" if value == USUAL else value for part, value in changes.items()
        }
        now = protocol_of(store, measure)
        save_protocol(store, measure, replace(now, **texts), user())
    if any(each is not None for each in stop):
        rule = stop_rule(store, measure)
        worse = worse_pct(rule, measure) if stop[0] is None else stop[0]
        in_a_row = rule.in_a_row if stop[1] is None else stop[1]
        set_stop_rule(store, measure, rule_of_worse(worse, in_a_row, measure), user())
    if most is not None:
        set_most(store, measure, most, user())


def _say(store: Store, measure: Measure) -> None:
    from dashboard.rules.protocol_words import whole_line
    from dashboard.rules.stop_rules import rule_words, stop_rule
    from dashboard.rules.test_days import most_of_measure
    from db.roster.protocols import protocol_of

    most = most_of_measure(store, measure)
    print(
        f"{measure.code}: {whole_line(protocol_of(store, measure))} A fade test:"
        f" {rule_words(stop_rule(store, measure), measure)}, at most {most} {measure.volume_unit}"
        " (under 18 six tenths of it)."
    )


def test_days(
    hours_before_game: Annotated[
        float | None, typer.Option(metavar="H", help="Hours without tests before a game.")
    ] = None,
    in_week: Annotated[
        int | None, typer.Option(metavar="N", help="Most tests of an athlete in a week.")
    ] = None,
    db: StoreFile = None,
) -> None:
    """Say when tests may be done around games, or change it."""
    from dashboard.rules.test_days import set_week_rule, week_rule

    store = store_at(db)
    rule = week_rule(store)
    if hours_before_game is not None or in_week is not None:
        hours = rule.hours_before_game if hours_before_game is None else hours_before_game
        most = rule.most_in_week if in_week is None else in_week
        set_week_rule(store, replace(rule, hours_before_game=hours, most_in_week=most), user())
        rule = week_rule(store)
    print(
        f"No test within {rule.hours_before_game:g} hours before a game nor the day after one, no"
        " fade test whose rest would last into a game, and"
        f" at most {rule.most_in_week} in a week of an athlete."
    )
