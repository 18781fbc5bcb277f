"""The commands `warmcurve privacy ...`: one athlete's data, and how long things are kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from dashboard.terminal import StoreFile, say, store_at, user

application = typer.Typer(
    help="One athlete's data to hand over or to erase, and how long things are kept.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Code = Annotated[str, typer.Argument(metavar="CODE", help="The athlete.")]


@application.command()
def export(
    code: Code,
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="A new file.")],
    db: StoreFile = None,
) -> None:
    """Write everything the store holds about one athlete.

    A zip of CSV files, with a readme in plain words.
    """
    from db.privacy import write_athlete_zip

    write_athlete_zip(store_at(db), code, file)
    print(file)


@application.command()
def erase(
    code: Code,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without, it is only shown.")] = False,
    db: StoreFile = None,
) -> None:
    """Erase one athlete for good.

    Shows what would go, unless --yes is given. It cannot be undone.
    """
    from dashboard.known_copies import known_copies
    from dashboard.privacy_words import copies_sentence, erased_sentence, held_sentences
    from db.privacy import erase_athlete, held

    store = store_at(db)
    found, copies = held(store, code), known_copies(store)
    if not yes:
        for sentence in held_sentences(found):
            print(sentence)
        print(copies_sentence(copies))
        say("Nothing was erased. Repeat the command with --yes to erase this for good.")
        raise typer.Exit(1)
    token = erase_athlete(store, code, user())
    print(erased_sentence(token, copies))


@application.command()
def keep(
    kind: Annotated[
        str | None, typer.Argument(help="sessions, set-aside, audit or web-sessions.")
    ] = None,
    days: Annotated[str | None, typer.Argument(help="Days, or: forever.")] = None,
    db: StoreFile = None,
) -> None:
    """Set for how long something is kept.

    Without words it lists what is set.
    """
    from dashboard.privacy_words import kept_sentence
    from db.errors import BadInput
    from db.retention import FOREVER, KINDS, keep_for, kept_days

    store = store_at(db)
    if kind is not None:
        if days is None or not (days == FOREVER or days.isdecimal()):
            raise BadInput(f"Name the days for {kind} as a whole number, or say {FOREVER}.")
        keep_for(store, kind, None if days == FOREVER else int(days), user())
    for name, length in kept_days(store).items():
        if kind in (None, name):
            print(f"{name}: {kept_sentence(KINDS[name], length)}")


@application.command()
def apply(
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without, it is only shown.")] = False,
    db: StoreFile = None,
) -> None:
    """Remove what was kept for longer than it should be.

    Shows what would go, unless --yes is given. The server does it once a day.
    """
    from db.retention import apply_retention, due

    store = store_at(db)
    _print_counts(apply_retention(store, user()) if yes else due(store))
    if not yes:
        say("Nothing was removed. Repeat the command with --yes to remove this for good.")


def _print_counts(counts: Mapping[str, int]) -> None:
    for kind, count in counts.items():
        print(f"{kind}: {count}")
