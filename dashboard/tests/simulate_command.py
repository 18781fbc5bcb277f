"""The command `warmcurve simulate`: what a season of tests will tell, before anybody is tested."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.terminal import StoreFile, progress_bar, store_at
from db.errors import BadInput

if TYPE_CHECKING:
    from modeling.day.season_outlook import Foreseen, SeasonOutlook, SeasonPlan


@dataclass(frozen=True)
class Known:
    """Noise of a measure and its smallest worthwhile change, in %.

    Without curves these are common practice, no source.
    """

    effort_pct: float = 3.0
    day_pct: float = 2.0
    worthwhile_pct: float = 1.0


NoisePct = Annotated[
    float | None,
    typer.Option(
        metavar="PCT",
        min=0.1,
        max=30,
        help="How much efforts of one day differ, standard deviation in %; without it 3.",
    ),
]
DayPct = Annotated[
    float | None,
    typer.Option(
        metavar="PCT",
        min=0,
        max=30,
        help="How much days differ, standard deviation in %; without it 2.",
    ),
]


def simulate(
    athletes: Annotated[
        int, typer.Option(metavar="N", min=2, max=60, help="Athletes of the squad.")
    ] = 15,
    tests: Annotated[
        int, typer.Option(metavar="N", min=0, max=10, help="Fade tests of each athlete.")
    ] = 1,
    sessions: Annotated[
        int,
        typer.Option(metavar="N", min=0, max=100, help="Routine sessions of each athlete."),
    ] = 4,
    effort_noise: NoisePct = None,
    day_noise: DayPct = None,
    measure: Annotated[
        str | None,
        typer.Option(metavar="CODE", help="A measure with curves, whose noise is taken."),
    ] = None,
    squads: Annotated[
        int, typer.Option(metavar="N", min=5, max=500, help="Squads to simulate.")
    ] = 20,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    db: StoreFile = None,
) -> None:
    """Say what a season of tests will tell, before anybody is tested.

    Squads with known best volumes are simulated, tested as planned and fitted. Their standard is
    15 efforts. With --measure, noise and smallest worthwhile change are those of the newest
    curves; no store is needed without.
    """
    if tests + sessions == 0:
        raise typer.BadParameter("Plan at least one test or one session: --tests or --sessions.")
    known = _known(measure, db)
    effort = known.effort_pct if effort_noise is None else effort_noise
    day = known.day_pct if day_noise is None else day_noise

    from modeling.day.season_outlook import SeasonPlan, season_outlook
    from modeling.testing.simulation import Noise, Protocol

    plan = SeasonPlan(
        athletes=athletes,
        protocol=Protocol(fade_tests=tests, routine_sessions=sessions),
        noise=Noise(effort / 100.0, day / 100.0),
        worthwhile_pct=known.worthwhile_pct,
    )
    with progress_bar() as progress:
        outlook = season_outlook(
            plan, squads, progress=lambda share: progress(share, "Simulating squads")
        )
    if as_json:
        print(json.dumps(asdict(plan) | asdict(outlook)))
    else:
        _print(plan, outlook)


def _known(measure: str | None, db: Path | None) -> Known:
    """Say what is known of a measure from its newest curves, or the usual."""
    if measure is None and db is None:
        return Known()
    from db.fits.results import latest_fit
    from db.roster.measures import get_measure, list_measures

    store = store_at(db)
    if measure is None:
        codes = ", ".join(each.code for each in list_measures(store))
        raise BadInput(f"Say whose noise to take with --measure. There are {codes}.")
    fit = latest_fit(store, get_measure(store, measure).code)
    if fit is None:
        raise BadInput(
            f"There are no curves of {measure} to take the noise from. "
            f"Run `warmcurve fit --measure {measure}` first, or give --effort-noise."
        )
    return Known(fit.effort_noise_pct, fit.day_noise_pct, fit.worthwhile_pct)


def _print(plan: SeasonPlan, outlook: SeasonOutlook) -> None:
    from dashboard.core.numbers import counted, decimal, number

    tests, noise = plan.protocol, plan.noise
    print(
        f"{counted(plan.athletes, 'athlete')}, each with {counted(tests.fade_tests, 'fade test')} "
        f"and {counted(tests.routine_sessions, 'routine session')}. Efforts differ by "
        f"{decimal(100.0 * noise.effort, 1)} %, days by {decimal(100.0 * noise.day, 1)} %; the "
        f"smallest worthwhile change is {decimal(plan.worthwhile_pct, 1)} %."
    )
    print(
        f"{counted(outlook.squads, 'squad')} simulated, standard {number(tests.standard)} efforts."
    )
    rows = [
        ("Athletes with a firm call", _cells(outlook.firm_pct, 0, " %", "athletes")),
        ("Firm calls that are right", _cells(outlook.right_pct, 0, " %", "calls")),
        ("Lost at the advised length", _cells(outlook.lost_pct, 2, " %", "athletes")),
        ("Best volume's interval, wide", _cells(outlook.width, 0, " efforts", "athletes")),
    ]
    print(f"{'':29}{'all':>12}   {'9 of 10 squads':20}counted")
    for name, (value, between, count) in rows:
        print(f"{name:29}{value:>12}   {between:20}{count}")
    print("Squads have one of five kinds of curve in turn; in one of them length has no effect.")
    print("Real squads are less tidy than simulated ones, so expect to know less.")


def _cells(foreseen: Foreseen, digits: int, unit: str, counts: str) -> tuple[str, str, str]:
    """Return a value, its range and its count as they stand in the table."""
    from dashboard.core.numbers import counted, decimal

    count = counted(foreseen.count, counts)
    if foreseen.value is None or foreseen.low is None or foreseen.high is None:
        return "none", "", count
    value, low, high = (
        decimal(each, digits) for each in (foreseen.value, foreseen.low, foreseen.high)
    )
    return value + unit, f"{low} to {high}{unit}", count
