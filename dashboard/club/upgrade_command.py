"""The command `warmcurve upgrade`: what a newer version does to the store, and the way back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.core.terminal import StoreFile, store_at

if TYPE_CHECKING:
    from db.file.upgrades import Upgrade

MEGABYTE = 1_000_000


def upgrade(
    check: Annotated[
        bool, typer.Option("--check", help="Only say what would be done; nothing is changed.")
    ] = False,
    db: StoreFile = None,
) -> None:
    """Bring the store to the schema of this version, after a copy.

    The first use by any other command does the same. With --check it only says what would be done,
    which copy is made, and how to go back; exit status 1 where there is too little room.
    """
    from db.file.copies import copies_before_upgrades
    from db.file.upgrades import upgrade_of

    store = store_at(db)
    planned = upgrade_of(store)
    if not planned.steps:
        print(f"Nothing to do: the store {planned.path} has schema {planned.schema} already.")
        return
    _tell(planned)
    if not planned.has_room:
        print("There is too little room. Make some first.")
        raise typer.Exit(1)
    if check:
        return
    before = set(copies_before_upgrades(store))
    store.revision()
    (copy,) = set(copies_before_upgrades(store)) - before
    print(f"Done. The store has schema {planned.newest}; as it was, it is {copy}.")


def _tell(planned: Upgrade) -> None:
    from dashboard.core.numbers import decimal

    path = planned.path
    print(f"The store {path} has schema {planned.schema}; this version has {planned.newest}.")
    for step in planned.steps:
        print(f"{step.number}: {step.what_for}")
    need, free = (decimal(each / MEGABYTE, 1) for each in (planned.store_bytes, planned.free_bytes))
    name = f"{path.stem}.schema-{planned.schema}.TIME{path.suffix}"
    print(f"First a copy is made beside it, {name}: about {need} MB, of {free} MB that are free.")
    print(
        f"To go back: stop the dashboard, move {path.name} away, rename the copy to {path.name}, "
        "and start the earlier version. What was saved since the upgrade is not in the copy."
    )
