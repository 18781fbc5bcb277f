"""The command `warmcurve measure`: lists, adds or changes what is tested."""

from __future__ import annotations

from dataclasses import replace
from math import isinf
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from dashboard.core.terminal import StoreFile, store_at, user

if TYPE_CHECKING:
    from db.file.store import Store
    from db.roster.measures import Measure

NOT_SET = "none"


def measure(
    code: Annotated[str | None, typer.Argument(metavar="CODE", help="Its code in files.")] = None,
    name: Annotated[str | None, typer.Option(metavar="NAME", help="Name as shown.")] = None,
    unit: Annotated[
        str | None, typer.Option(metavar="UNIT", help="Unit of a value, such as cm.")
    ] = None,
    better: Annotated[
        Literal["higher", "lower"] | None, typer.Option(help="Which values are the better ones.")
    ] = None,
    volume_unit: Annotated[
        str | None,
        typer.Option(metavar="UNIT", help="What is counted in a warm-up, such as efforts."),
    ] = None,
    standard_volume: Annotated[
        str | None,
        typer.Option(
            metavar="X", help="The length that everybody does today; 'none' takes it back."
        ),
    ] = None,
    worthwhile: Annotated[
        float | None, typer.Option(metavar="PCT", help="Smallest worthwhile change in %.")
    ] = None,
    lowest: Annotated[float | None, typer.Option(help="Smallest value that can be right.")] = None,
    highest: Annotated[float | None, typer.Option(help="Largest value that can be right.")] = None,
    most: Annotated[
        float | None,
        typer.Option(metavar="X", help="The most maximal efforts before a start and in a day."),
    ] = None,
    db: StoreFile = None,
) -> None:
    """List measures, or add or change one.

    A new one needs --unit and --better. Makes the store if there is none.
    """
    from dashboard.rules.club_limits import set_most_allowed
    from db.roster.measures import get_measure

    store = store_at(db)
    store.create()
    given = {
        "name": name,
        "unit": unit,
        "better": better,
        "volume_unit": volume_unit,
        "worthwhile_pct": worthwhile,
        "lowest": lowest,
        "highest": highest,
    }
    changes: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
    if standard_volume is not None:
        changes["standard_volume"] = _volume_or_none(standard_volume)
    if (changes or most is not None) and code is None:
        raise typer.BadParameter("Name the measure to change by its CODE.")
    if code is not None and changes:
        _save(store, code, changes)
    if code is not None and most is not None:
        set_most_allowed(store, get_measure(store, code), most, user())
    _print_measures(store, code)


def _volume_or_none(text: str) -> float | None:
    if text.strip().lower() == NOT_SET:
        return None
    try:
        return float(text)
    except ValueError as error:
        raise typer.BadParameter(
            f"--standard-volume takes a number or '{NOT_SET}', not '{text}'."
        ) from error


def _save(store: Store, code: str, changes: dict[str, Any]) -> None:
    """Change the measure that has the code, or add it."""
    from db.roster.measures import Measure, list_measures, save_measure

    known = {measure.code: measure for measure in list_measures(store)}
    if code in known:
        save_measure(store, replace(known[code], **changes), user())
        return
    missing = [f"--{key}" for key in ("unit", "better") if key not in changes]
    if missing:
        raise typer.BadParameter(
            f"There is no measure '{code}' yet; a new one needs {' and '.join(missing)}."
        )
    named = {"name": code.replace("_", " ").capitalize(), **changes}
    save_measure(store, Measure(code, **named), user())


def _print_measures(store: Store, code: str | None) -> None:
    from dashboard.rules.club_limits import most_allowed
    from db.roster.measures import get_measure, list_measures

    for each in list_measures(store) if code is None else [get_measure(store, code)]:
        print(_line(each, most_allowed(store, each)))


def _line(measure: Measure, most: float) -> str:
    standard = "not set" if measure.standard_volume is None else f"{measure.standard_volume:g}"
    limits = f"{_limit(measure.lowest)} to {_limit(measure.highest)}"
    return (
        f"{measure.code}: {measure.name} in {measure.unit}, {measure.better} is better, "
        f"volume in {measure.volume_unit}, standard volume {standard}, "
        f"worthwhile from {measure.worthwhile_pct:g} %, values {limits}, "
        f"most before a start {'any' if isinf(most) else f'{most:g}'}"
    )


def _limit(value: float | None) -> str:
    return "any" if value is None else f"{value:g}"
