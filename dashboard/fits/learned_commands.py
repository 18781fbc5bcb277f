"""The commands `warmcurve learned ...`: share what a squad is like, and learn from many."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from dashboard.core.plain_commands import Commands, ending
from dashboard.core.terminal import StoreFile, say, store_at, user

if TYPE_CHECKING:
    from db.file.store import Store

NONE = "none"

application = Commands(help="What squads are like: told to other clubs, learned from them.")


@application.command()
def export(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE.json", help="Where it goes.", callback=ending(".json")),
    ],
    measure: Annotated[
        str | None, typer.Option(metavar="CODE", help="A measure; without it, all.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write it without asking.")] = False,
    db: StoreFile = None,
) -> None:
    """Write what the newest curves say of the squad as a whole, for other clubs.

    Shows all of it and asks before it is written. No athlete is in it, and none can be found from
    it: every number is rounded to how surely it is known, and of fewer than 8 athletes nothing is
    told.
    """
    from dashboard.fits.learned_files import summary, summary_text
    from db.errors import BadInput
    from db.roster.measures import get_measure, list_measures

    store = store_at(db)
    found = []
    for each in list_measures(store) if measure is None else [get_measure(store, measure)]:
        try:
            found.append(summary(store, each))
        except BadInput as error:
            say(error.message)
    if not found:
        raise typer.Exit(1)
    for facts in found:
        print("\n".join(_told(facts)))
    if not yes and not typer.confirm(f"Write this, and nothing else, to {file}?", err=True):
        say("Nothing was written.")
        raise typer.Exit(1)
    file.write_text(summary_text(found), "utf-8")
    say(f"Wrote {file}.")


def _told(facts: dict[str, Any]) -> list[str]:
    """Put all of a summary into words."""
    unit, mean, spread = facts["volume_unit"], facts["mean"], facts["spread"]
    sizes = "best volume", "gain by warming up", "volume from there to 10 % down"
    middles = (
        f"{exp(mean[0]):.0f} {unit}",
        f"{100 * exp(mean[1]):.1f} %",
        f"{exp(mean[2]):.0f} {unit}",
    )
    noise = ", ".join(f"{100 * size:.1f}" for size in facts["noise"])
    return [
        f"{facts['code']} in {facts['unit']}, {facts['better']} is better,"
        f" at least {facts['athletes']} athletes:",
        *(
            f"  {what}: {middle} in the middle (certain to a factor of {exp(error):.2f}), a factor"
            f" of {exp(apart):.1f} from athlete to athlete"
            for what, middle, apart, error in zip(
                sizes, middles, spread, facts["mean_sd"], strict=True
            )
        ),
        f"  how these go together: {', '.join(f'{each:+.2f}' for each in facts['correlation'])}",
        f"  noise of efforts, days, drift and sessions' curves: {noise} %",
        *constant_lines(facts["constants"]),
    ]


def constant_lines(told: Sequence[tuple[float, float] | None]) -> list[str]:
    """Say what is known about the account's constants, plus or minus one standard error."""
    from modeling.curve.account import CONSTANTS

    lines = []
    for constant, known in zip(CONSTANTS, told, strict=True):
        if known is not None:
            inner = (max(known[0] + way * known[1], constant.least_inner) for way in (-1, 1))
            low, high = sorted(map(constant.outer, inner))
            lines.append(f"  {constant.words}: {low:.3g} to {high:.3g} ({constant.unit})")
    return lines


@application.command()
def pool(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="Files of 'learned export'.")
    ],
    out: Annotated[
        Path,
        typer.Option(metavar="FILE.json", help="Where it goes.", callback=ending(".json")),
    ],
) -> None:
    """Join what clubs tell into what may be expected of another club.

    Clubs differ too: how much is learned from them. Takes at least 3 clubs.
    """
    from dashboard.fits.learned_files import pool_files, prior_text

    found = pool_files(files)
    out.write_text(prior_text(found), "utf-8")
    for each in found:
        print(f"{each.measure.code}: {each.clubs} clubs")
    say(f"Wrote {out}. Begin with it by 'warmcurve fit --prior {out}'.")


def keep_prior(store: Store, file: str, measure: str | None) -> None:
    """Save what a file says about one measure or all, or forget it if the file is 'none'."""
    from dashboard.fits.learned_files import drop_priors, keep_priors, read_prior
    from db.roster.measures import get_measure, list_measures

    measures = list_measures(store) if measure is None else [get_measure(store, measure)]
    if file == NONE:
        drop_priors(store, measures, user())
    else:
        keep_priors(store, read_prior(Path(file)), measures, user())
