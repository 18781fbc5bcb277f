"""The command `warmcurve simulate`: what a season of tests will tell, before anybody is tested."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.terminal import StoreFile, progress_bar, store_at
from db.errors import BadInput

if TYPE_CHECKING:
    from dashboard.tests.assumed import Known
    from modeling.day.season_outlook import SeasonOutlook, SeasonPlan


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
    tidy: Annotated[
        bool,
        typer.Option(
            "--tidy",
            help="Squads of one kind of curve each, whose best volumes stay; real ones do not.",
        ),
    ] = False,
    squads: Annotated[
        int, typer.Option(metavar="N", min=5, max=500, help="Squads to simulate.")
    ] = 20,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    db: StoreFile = None,
) -> None:
    """Say what a season of tests will tell, before anybody is tested.

    Squads with known curves are simulated, tested as planned and fitted. Their standard is 15
    efforts. With --measure, noise, smallest worthwhile change, standard and the spread of best
    volumes are those of the newest curves; no store is needed without.
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
        protocol=Protocol(tests, sessions, known.standard),
        noise=Noise(effort / 100.0, day / 100.0),
        worthwhile_pct=known.worthwhile_pct,
        spread=known.spread,
        tidy=tidy,
    )
    with progress_bar() as progress:
        outlook = season_outlook(
            plan, squads, progress=lambda share: progress(share, "Simulating squads")
        )
    if as_json:
        print(json.dumps(asdict(plan) | asdict(outlook)))
    else:
        _print(plan, outlook, known.unit)


def _known(measure: str | None, db: Path | None) -> Known:
    """Return what is known about a measure from its newest curves, or the usual values."""
    from dashboard.tests.assumed import Known, known_of

    if measure is None and db is None:
        return Known()
    from db.roster.measures import get_measure, list_measures

    store = store_at(db)
    if measure is None:
        codes = ", ".join(each.code for each in list_measures(store))
        raise BadInput(f"Say whose noise to take with --measure. There are {codes}.")
    known = known_of(store, get_measure(store, measure).code)
    if known is None:
        raise BadInput(
            f"There are no curves of {measure} to take the noise from. "
            f"Run `warmcurve fit --measure {measure}` first, or leave --measure out and give "
            "--effort-noise."
        )
    return known


def _print(plan: SeasonPlan, outlook: SeasonOutlook, unit: str) -> None:
    from dashboard.core.numbers import counted
    from dashboard.tests import outlook_words

    def line(text: str) -> None:
        print(text.replace("\u00a0", " "))

    line(outlook_words.plan_sentence(plan))
    line(outlook_words.spread_sentence(plan, unit))
    line(outlook_words.squads_sentence(plan))
    simulated = f"{counted(outlook.squads, 'squad')} simulated"
    line(f"{simulated:29}{'expected':>12}   {'9 of 10 squads':20}counted")
    table = outlook_words.outlook_table(outlook, unit)
    for name, value, between, count in table.itertuples(index=False):
        line(f"{name:29}{value:>12}   {between:20}{count}")
    line(f"{outlook_words.headline(plan, outlook)}.")
