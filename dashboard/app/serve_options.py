"""The options of `serve` and `demo`; each can also be set in the environment."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated, Any

import typer

from dashboard.core.events import FORM, Form

NEVER, LONGEST_WAIT_SECONDS = "never", 86_400
FIT_AFTER = "15"
"""Seconds: importing ten files should lead to one fit, and nobody should wait long for it."""

Host = Annotated[
    str,
    typer.Option(
        metavar="ADDRESS",
        envvar="WARMCURVE_HOST",
        help="Address to listen on; 0.0.0.0 is every address of this machine.",
    ),
]
Port = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=65535,
        envvar="WARMCURVE_PORT",
        help="Where to listen; without it, the first free port from 8501.",
    ),
]
AllowHost = Annotated[
    list[str] | None,
    typer.Option(
        metavar="NAME",
        envvar="WARMCURVE_ALLOW_HOST",
        help="A host name under which people or a proxy ask; may be repeated.",
    ),
]
BasePath = Annotated[
    str,
    typer.Option(
        "--under",
        metavar="PATH",
        envvar="WARMCURVE_UNDER",
        help="Where it stands on a host that others share, such as /club-a.",
    ),
]


def wait_before_fit(text: str) -> float | None:
    """Return how many seconds to wait before an automatic fit; None for no automatic fits.

    Raises
    ------
    typer.BadParameter
        If it is neither a number of seconds nor `never`.
    """
    if text.strip().lower() == NEVER:
        return None
    with suppress(ValueError):
        if 0 <= (seconds := float(text)) <= LONGEST_WAIT_SECONDS:
            return seconds
    raise typer.BadParameter(
        f"it takes 0 to {LONGEST_WAIT_SECONDS:,} seconds or '{NEVER}', not '{text}'."
    )


FitAfter = Annotated[
    Any,
    typer.Option(
        parser=wait_before_fit,
        metavar="SECONDS",
        envvar="WARMCURVE_FIT_AFTER",
        help="How long after the last change curves are brought up to date by themselves; "
        f"'{NEVER}': only when somebody asks.",
    ),
]
NoBrowser = Annotated[
    bool,
    typer.Option("--no-browser", envvar="WARMCURVE_NO_BROWSER", help="Do not open a browser."),
]
Log = Annotated[
    Form | None,
    typer.Option(
        envvar=FORM,
        help="How events are logged on standard error: text or json. Without it text, and nothing "
        "at a terminal.",
    ),
]
AccessLog = Annotated[
    bool,
    typer.Option(
        "--access-log",
        envvar="WARMCURVE_ACCESS_LOG",
        help="Log every answer as well: no query, no secret, no address of whoever asked.",
    ),
]
MetricsPort = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=65535,
        envvar="WARMCURVE_METRICS_PORT",
        help="Where /metrics tells numbers in the OpenMetrics format; without it nowhere.",
    ),
]
MetricsHost = Annotated[
    str,
    typer.Option(
        metavar="ADDRESS",
        envvar="WARMCURVE_METRICS_HOST",
        help="Address for the metrics. Nobody is asked to sign in for them.",
    ),
]
