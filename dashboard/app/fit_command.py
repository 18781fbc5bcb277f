"""The command `warmcurve fit`: work out curves and save them, in this process or in others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.app.export_command import ALL_MEASURES
from dashboard.core.terminal import StoreFile, progress_bar, say, store_at, user
from dashboard.fits import learned_commands

if TYPE_CHECKING:
    from dashboard.fits.fitting import FitOutcome
    from modeling.compute.places import Compute


def fit(
    measure: Annotated[str | None, typer.Option(metavar="CODE", help=ALL_MEASURES)] = None,
    prior: Annotated[
        str | None,
        typer.Option(
            metavar="FILE",
            help="What other clubs say ('learned pool'); all fits begin with it from now on, until"
            " 'none' is given.",
        ),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(
            min=1, help="Processes of this machine that share the athletes; pays from 1,000 on."
        ),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="A Dask scheduler, as tcp://host:8786, whose workers do."
        ),
    ] = None,
    db: StoreFile = None,
) -> None:
    """Work the curves out and keep them.

    Prints a line per measure. The numbers are the same whoever computes.
    """
    from dashboard.fits.fitting import FitOutcome, fit_all, fit_measure
    from db.roster.measures import get_measure

    compute = _computing(workers, scheduler)
    store = store_at(db)
    if prior is not None:
        learned_commands.keep_prior(store, prior, measure)
    with progress_bar() as progress:
        if measure is None:
            outcomes = fit_all(store, user(), progress, compute)
        else:
            kept = fit_measure(store, measure, user(), progress, compute=compute)
            outcomes = [FitOutcome(get_measure(store, measure), kept)]
    for outcome in outcomes:
        _print_outcome(outcome)
    if not any(outcome.fit for outcome in outcomes):
        raise typer.Exit(1)


def _print_outcome(outcome: FitOutcome) -> None:
    kept = outcome.fit
    if kept is None:
        say(f"{outcome.measure.code}: {outcome.problem}")
        return
    print(
        f"{outcome.measure.code}: {kept.athletes} athletes, {kept.efforts} efforts, "
        f"{kept.seconds:.1f} s"
    )
    for warning in kept.warnings.splitlines():
        say(f"{outcome.measure.code}: {warning}")


def _computing(workers: int | None, scheduler: str | None) -> Compute | None:
    """Return where to compute; None, which means in this process, if neither is given."""
    if workers is not None and scheduler is not None:
        raise typer.BadParameter(
            "Give either --workers or --scheduler: a scheduler has workers of its own."
        )
    if scheduler is not None:
        from modeling.compute.cluster import Cluster

        return Cluster(scheduler)
    if workers is not None:
        from modeling.compute.processes import Processes

        return Processes(workers)
    return None
