"""The commands `warmcurve privacy ...`: one athlete's data, and how long things are kept."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.plain_commands import Commands, ending
from dashboard.core.terminal import StoreFile, say, store_at, user

if TYPE_CHECKING:
    from dashboard.club.known_copies import KnownCopies
    from db.privacy.held_data import Held
    from db.privacy.mentions import Mention

application = Commands(help="One athlete's data, and how long things are kept.")
Code = Annotated[str, typer.Argument(metavar="CODE", help="The athlete.")]


@application.command()
def export(
    code: Code,
    file: Annotated[
        Path, typer.Argument(metavar="FILE.zip", help="A new file.", callback=ending(".zip"))
    ],
    db: StoreFile = None,
) -> None:
    """Write everything the store holds about one athlete.

    A zip of CSV files, with a readme in plain words.
    """
    from db.privacy.held_data import write_athlete_zip

    write_athlete_zip(store_at(db), code, file)
    print(file)


@application.command()
def erase(
    code: Code,
    yes: Annotated[bool, typer.Option("--yes", help="Do it; without, it is only shown.")] = False,
    keep_all: Annotated[
        bool, typer.Option("--keep-all", help="Keep the texts about others that may mention them.")
    ] = False,
    clear_all: Annotated[bool, typer.Option("--clear-all", help="Clear all of them.")] = False,
    clear: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY", help="Clear this one and keep the rest; may be repeated."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    db: StoreFile = None,
) -> None:
    """Erase one athlete for good.

    Shows what would go, and texts about others that may mention the athlete with the key of each,
    unless --yes is given. It cannot be undone.
    """
    from dashboard.club.known_copies import known_copies
    from dashboard.club.privacy_words import erased_sentence
    from db.errors import BadInput
    from db.privacy.erasing import erase_athlete
    from db.privacy.held_data import held
    from db.privacy.mentions import mentions

    store = store_at(db)
    found, texts = held(store, code), mentions(store, code)
    if keep_all + clear_all + bool(clear) > 1:
        raise BadInput("--keep-all, --clear-all and --clear exclude each other. Say one of them.")
    if not yes:
        _show_erasing(found, texts, known_copies(store), as_json)
        say("Nothing was erased. Repeat the command with --yes to erase this for good.")
        raise typer.Exit(1)
    if texts and not (keep_all or clear_all or clear):
        raise BadInput(
            f"There are texts about others that may mention {code}: {len(texts)}. Nothing was "
            "erased. Run the command without --yes to see them, then say --keep-all, "
            "--clear-all, or --clear KEY for each that goes."
        )
    chosen = [text.key for text in texts] if clear_all else clear or []
    token = erase_athlete(store, code, user(), chosen)
    copies = known_copies(store)
    if as_json:
        told = {"erased_as": token, "texts_cleared": len(set(chosen)), **_paths(copies)}
        print(json.dumps(told))
    else:
        print(erased_sentence(token, copies, len(set(chosen))))


def _show_erasing(
    found: Held, texts: Sequence[Mention], copies: KnownCopies, as_json: bool
) -> None:
    from dashboard.club.privacy_words import (
        copies_sentence,
        held_sentences,
        mention_places,
        mentions_sentence,
    )

    if as_json:
        told = asdict(found) | {"texts": [asdict(text) for text in texts]} | _paths(copies)
        print(json.dumps(told, ensure_ascii=False))
        return
    for sentence in held_sentences(found):
        print(sentence)
    if texts:
        print(mentions_sentence(len(texts), found.code))
    for text in texts:
        print(f"  {text.key}  {mention_places(text)}: {text.text!r} ({', '.join(text.words)})")
    print(copies_sentence(copies))


def _paths(copies: KnownCopies) -> dict[str, list[str]]:
    return {
        "copies": [str(path) for path in copies.finished],
        "unfinished_copies": [str(path) for path in copies.unfinished],
        "folders_out_of_reach": [str(path) for path in copies.out_of_reach],
    }


@application.command()
def keep(
    kind: Annotated[
        str | None,
        typer.Argument(metavar="KIND", help="sessions, set-aside, audit or web-sessions."),
    ] = None,
    days: Annotated[
        str | None, typer.Argument(metavar="DAYS", help="A whole number, or forever.")
    ] = None,
    db: StoreFile = None,
) -> None:
    """Set for how long something is kept.

    Without words it lists what is set.
    """
    from dashboard.club.privacy_words import kept_sentence
    from dashboard.core.numbers import whole_number
    from db.errors import BadInput
    from db.privacy.retention import FOREVER, KINDS, keep_for, kept_days

    store = store_at(db)
    if kind is not None:
        length = whole_number(days or "")
        if days != FOREVER and length is None:
            raise BadInput(f"Name the days for {kind} as a whole number, or say {FOREVER}.")
        keep_for(store, kind, length, user())
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
    from db.privacy.retention import apply_retention, due

    store = store_at(db)
    _print_counts(apply_retention(store, user()) if yes else due(store))
    if not yes:
        say("Nothing was removed. Repeat the command with --yes to remove this for good.")


def _print_counts(counts: Mapping[str, int]) -> None:
    for kind, count in counts.items():
        print(f"{kind}: {count}")
