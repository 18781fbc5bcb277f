"""The demo squad's store: an invented club, imported and fitted like a real one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from importlib.resources import as_file, files
from pathlib import Path

import pandas as pd
from argon2 import PasswordHasher

from db.errors import StoreError
from db.file.settings import get_setting, set_setting
from db.file.store import Store
from db.fits.results import concluded
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.people.first_run import mark_picture_read
from db.plans.lengths import PlanEntry, save_done
from db.roster.athletes import read_athletes_file, save_athletes
from db.roster.measures import get_measure, save_measure
from demo_team.club import ACCOUNTS, CLUB_NAME, MEASURES

BY = "demo"
QUICK_HASHER = PasswordHasher(time_cost=1, memory_cost=1024, parallelism=1)
"""Everybody knows these passwords: a hash that is slow to guess would protect nothing."""


class NotADemo(StoreError):
    """The file is somebody's own store."""

    title = "This is not the demo"


def demo_store(path: Path, say: Callable[[str], None]) -> Store:
    """Return the demo's store at the path, made if it is not there; nothing is fitted yet.

    It is made under another name and renamed when it is whole, so that a run that was
    stopped leaves nothing half made.

    Raises
    ------
    NotADemo
        If there is a store at the path that is not the demo's; it is left alone.
    """
    store = Store(path)
    if store.exists():
        if get_setting(store, "demo") != "yes":
            raise NotADemo(
                f"{store.path} is a store of your own, not the demo's, and was left as it is. "
                "Name another folder with --folder."
            )
        say(f"The demo's store is {store.path}. Delete it to begin afresh.")
        return store
    say(f"Making the demo's store at {store.path}: an invented squad and a season of efforts.")
    unfinished = Store(store.path.with_name(f"unfinished-{store.path.name}"))
    _delete(unfinished)
    _fill(unfinished)
    unfinished.path.rename(store.path)
    return store


def measures_to_fit(store: Store) -> list[str]:
    """Return the demo's measures without a whole fit, the one that the first page shows first."""
    return [code for code in MEASURES if not concluded(store, code)]


def _delete(store: Store) -> None:
    """Delete what a run that was stopped has left: invented data only."""
    for path in (store.path, Path(f"{store.path}.wal")):
        path.unlink(missing_ok=True)


def _fill(store: Store) -> None:
    store.create()
    # Something open keeps the file open, which spares opening it for each write.
    with store.reading(), as_file(files("demo_team")) as folder:
        save_athletes(store, read_athletes_file(folder / "athletes.csv"), BY)
        for code, facts in MEASURES.items():
            measure = get_measure(store, code)
            save_measure(store, replace(measure, standard_volume=facts.standard_volume), BY)
            import_efforts(store, read_table(folder / f"{code}.csv"), BY)
        save_done(store, _plans_of_the_past(folder / "plans.csv"), BY)
        for account in ACCOUNTS:
            person = Person(
                account.name,
                account.display_name,
                account.role,
                account.athlete,
                sees_all=account.role == "coach",
            )
            add_person(store, person, QUICK_HASHER.hash(account.password), BY)
        set_setting(store, "club_name", CLUB_NAME, BY)
        set_setting(store, "demo", "yes", BY)
        mark_picture_read(store, BY)


def _plans_of_the_past(path: Path) -> list[tuple[PlanEntry, float, float]]:
    rows = pd.read_csv(path, keep_default_na=False, parse_dates=["day"])
    listed = []
    for row in rows.to_dict("records"):
        facts = {str(name): value for name, value in row.items()}
        done, outcome = facts.pop("done_volume"), facts.pop("outcome")
        listed.append((PlanEntry(**facts | {"day": facts["day"].date()}), done, outcome))
    return listed
