"""The command `warmcurve`. What a command needs is loaded when it runs, so help is quick."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Annotated

import typer

from dashboard.app import export_command, fit_command, measure_command, status_command
from dashboard.app.beside import Beside
from dashboard.app.serve_options import (
    FIT_AFTER,
    AccessLog,
    AllowHost,
    BasePath,
    FitAfter,
    Host,
    Log,
    MetricsHost,
    MetricsPort,
    NoBrowser,
    Port,
)
from dashboard.athlete import advise_command
from dashboard.club import backup_commands, person_commands, privacy_commands, upgrade_command
from dashboard.core.plain_commands import Commands, PlainGroup
from dashboard.core.terminal import StoreFile, progress_bar, say, store_at
from dashboard.data import import_commands
from dashboard.fits import learned_commands
from dashboard.serving.listening import THIS_MACHINE, Where
from dashboard.squad import overview_command
from dashboard.tests import protocol_command, simulate_command
from dashboard.today import sheet_command

application = Commands(
    cls=PlainGroup,
    name="warmcurve",
    add_completion=False,
    pretty_exceptions_enable=False,
)


def show_version(asked: bool) -> None:
    """Print the version of this program and end, if it was asked for."""
    if asked:
        print(version("warmcurve"))
        raise typer.Exit


@application.callback()
def options(
    _version: Annotated[
        bool,
        typer.Option("--version", callback=show_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """How long each athlete should warm up: a store of efforts, models and a dashboard."""


def main() -> None:
    """Run the command that was typed.

    Only this account of the machine may read the files it writes: most hold athletes' data.
    """
    os.umask(0o077)
    application()


@application.command()
def demo(
    host: Host = THIS_MACHINE,
    port: Port = None,
    allow_host: AllowHost = None,
    no_browser: NoBrowser = False,
    folder: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Where to keep it; without it, in your data folder."),
    ] = None,
    fit_after: FitAfter = FIT_AFTER,
    db: StoreFile = None,
) -> None:
    """Show an invented squad, made at the first start."""
    from dashboard.fits.background_fits import FittingProcess

    where = Where(host, port, allow_host or ())
    with FittingProcess(say, progress_bar) as fitting:
        from platformdirs import user_data_path

        from dashboard.app.serve import serve

        store = store_at(db or (folder or user_data_path("warmcurve-demo")) / "warmcurve.duckdb")

        def make(tell: Callable[[str], None]) -> None:
            if not store.exists():
                tell("Making the demo squad: an invented club and a season of efforts.")
            from dashboard.app.demo import BY, after_curves, demo_store, measures_to_fit

            demo_store(store.path, say)
            fitting.fit(store.path, measures_to_fit(store), BY, after_curves)

        say("Sign in as the director, the coach or the athlete with one click on the first page.")
        serve(store, where, not no_browser, say, make=make, beside=Beside(fit_after))


@application.command()
def serve(
    host: Host = THIS_MACHINE,
    port: Port = None,
    allow_host: AllowHost = None,
    no_browser: NoBrowser = False,
    club_sign_in: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            envvar="WARMCURVE_CLUB_SIGN_IN",
            help="Settings of the club's OpenID Connect provider; only you may read the file.",
        ),
    ] = None,
    fit_after: FitAfter = FIT_AFTER,
    inbox: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            envvar="WARMCURVE_INBOX",
            help="A folder whose files are imported by themselves, as their header was read"
            " before.",
        ),
    ] = None,
    base_path: BasePath = "",
    log: Log = None,
    access_log: AccessLog = False,
    metrics_port: MetricsPort = None,
    metrics_host: MetricsHost = THIS_MACHINE,
    db: StoreFile = None,
) -> None:
    """Serve the store to browsers.

    On this machine only, unless another address is named. Every option is taken from the
    environment as well.
    """
    from dashboard.app.serve import serve as serve_store
    from dashboard.core.events import logging_as
    from dashboard.serving.metrics import MetricsAt
    from dashboard.serving.watch import Watch
    from dashboard.sign_in.club_provider import read_provider

    with logging_as(log or (None if sys.stderr.isatty() else "text")):
        where, store = Where(host, port, allow_host or (), base_path), store_at(db)
        provider = read_provider(club_sign_in) if club_sign_in else None
        say(f"Serving the store {store.path}.")
        watch = Watch(access_log, MetricsAt(metrics_host, metrics_port))
        serve_store(
            store,
            where,
            not no_browser,
            say,
            provider,
            beside=Beside(fit_after, inbox),
            watch=watch,
        )


application.command("import")(import_commands.import_files)
application.command("athletes")(import_commands.athletes)


application.command("fit")(fit_command.fit)
application.command("export")(export_command.export)


@application.command()
def check(db: StoreFile = None) -> None:
    """Look for faults in the store.

    Exit status 0: there is none; 1: there is some.
    """
    from db.file.checks import check as problems_of

    problems = problems_of(store_at(db))
    for problem in problems:
        print(problem)
    if problems:
        raise typer.Exit(1)
    say("No faults found.")


application.command("measure")(measure_command.measure)
application.command("status")(status_command.status)
application.command("protocol")(protocol_command.protocol)
application.command("test-days")(protocol_command.test_days)
application.command("simulate")(simulate_command.simulate)
application.command("advise")(advise_command.advise)
application.command("sheet")(sheet_command.sheet)
application.command("upgrade")(upgrade_command.upgrade)
application.command("overview")(overview_command.overview)
application.command("backup")(backup_commands.backup)
application.command("restore")(backup_commands.restore)
application.add_typer(learned_commands.application, name="learned")
application.add_typer(person_commands.application, name="person")
application.add_typer(privacy_commands.application, name="privacy")
