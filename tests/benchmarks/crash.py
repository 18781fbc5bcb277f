"""What is left of a store whose process was killed at a random moment.

    python -m tests.benchmarks.crash --kills 200

starts a process that works on a store and reports every write that the store confirmed, kills it
(SIGKILL) at a random moment, opens the store again and compares. It prints a table in Markdown,
one line for each kind of work. It ends with status 1 if anything was lost or is there only in
part, or if the store's own check finds a fault.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from functools import cache
from multiprocessing.connection import Connection
from pathlib import Path
from signal import SIGKILL
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pandas as pd

from db.backup.copying import backup, restore
from db.efforts.effort_changes import correct_effort, exclude_effort
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import StoreError
from db.file.checks import check
from db.file.copies import remove_leftovers
from db.file.frames import fetch, fetch_number
from db.file.store import Store
from db.fits.kept_fits import Conclusions, keep_conclusions, keep_fit
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.privacy.erasing import erase_athlete
from db.roster.athletes import save_athletes
from tests.benchmarks.markdown import table
from tests.db.fits.test_results import FACTS, check_of_fit, response_rows

__all__ = ["KINDS", "Tally", "crash", "main"]

PERSON = "crash"
FIRST_DAY = datetime(2010, 1, 1, 9)
SESSION_EFFORTS = 5
FILE_ROWS = 1000
LONGEST_SECONDS = {"migrations": 2.0, "backups": 3.0, "erasures": 4.0}
LONGEST_SECONDS_ELSE = 0.8
FIRST_VALUE = 40.0
CURVE_VOLUMES = 400
HEADER = "athlete,started_at,measure,effort,value,volume_before"

Promise = tuple[Any, ...]
Work = Callable[[Path, int], Iterator[Promise]]
Look = Callable[[Path, list[Promise]], "Found"]
OLDEST_BACKUP = Path(__file__).parents[1] / "db" / "data" / "backup_schema_1.zip"
FIT_ATHLETES = ("A1", "A2")
ALIKE = {
    "audit": "SELECT * EXCLUDE (happened_at) FROM audit",
    "setting": "FROM setting WHERE key <> 'store_id'",
}
"""For tables with a time or number that differs by store, what every upgraded store shares."""


@dataclass
class Found:
    """What is wrong after reopening: broken promises, and units of work that are there in part."""

    lost: int = 0
    halves: int = 0


@dataclass(frozen=True)
class Tally:
    """The totals over all kills during one kind of work."""

    kills: int = 0
    writes_acknowledged: int = 0
    lost: int = 0
    halves: int = 0
    problems: int = 0

    @property
    def bad(self) -> int:
        """Count everything that must not happen."""
        return self.lost + self.halves + self.problems


# Work: endless, run in the process that gets killed. Each yields what the store has confirmed.


def imports(folder: Path, seed: int) -> Iterator[Promise]:
    """Import files of many rows."""
    store = _store(folder)
    for number in range(10_000):
        content = _file(FIRST_DAY + timedelta(days=seed, hours=number))
        report = import_efforts(store, read_table(content, f"{seed}-{number}.csv"), PERSON)
        yield (report.batch_id,)


def live_entry(folder: Path, seed: int) -> Iterator[Promise]:
    """Enter sessions effort by effort, as beside a court."""
    store = _store(folder)
    for number in range(10_000):
        start = FIRST_DAY + timedelta(days=1000 + seed, minutes=number)
        for done in range(1, SESSION_EFFORTS + 1):
            efforts = tuple(EffortEntry(n, 40.0 + n) for n in range(1, done + 1))
            entry = SessionEntry("A1", "jump_height", start, efforts, kind="fade")
            yield add_session(store, entry, PERSON), done


def corrections(folder: Path, seed: int) -> Iterator[Promise]:
    """Correct and exclude efforts."""
    store = _store(folder)
    with store.reading() as cursor:
        rows = fetch(cursor, "SELECT effort_id, value FROM effort WHERE excluded IS NULL")
    for effort, value in rows.sample(frac=1, random_state=seed).values.tolist():
        correct_effort(store, int(effort), value + 0.125, "typed wrongly", PERSON)
        yield int(effort), value + 0.125, None
        if effort % 3 == 0:
            exclude_effort(store, int(effort), f"slipped {seed}", PERSON)
            yield int(effort), value + 0.125, f"slipped {seed}"


def migrations(folder: Path, seed: int) -> Iterator[Promise]:
    """Open stores of the first schema, which brings them to the newest."""
    for number in range(10_000):
        path = folder / f"old-{seed}-{number}.duckdb"
        part = path.with_suffix(".part")
        shutil.copyfile(folder / "first.duckdb", part)
        os.replace(part, path)
        Store(path).revision()
        yield (path.name,)


def backups(folder: Path, seed: int) -> Iterator[Promise]:
    """Write to the store and back it up in turn."""
    store = _store(folder)
    for number in range(10_000):
        start = FIRST_DAY + timedelta(days=2000 + seed, minutes=number)
        efforts = (EffortEntry(1, 45.0, 0.0),)
        session = add_session(store, SessionEntry("A2", "jump_height", start, efforts), PERSON)
        yield "session", session
        yield "backup", backup(store, folder / "backups").folder.name, store.revision()


def erasures(folder: Path, seed: int) -> Iterator[Promise]:
    """Enter sessions of two athletes, and then erase one of them."""
    store = _store(folder)
    for number in range(10_000):
        start = FIRST_DAY + timedelta(days=3000 + seed, minutes=number)
        efforts = (EffortEntry(1, 45.0, 0.0),)
        code = f"E{seed}-{number}"
        save_athletes(store, pd.DataFrame({"athlete": [code]}), PERSON)
        for athlete in ("A2", code):
            entry = SessionEntry(athlete, "jump_height", start, efforts)
            session = add_session(store, entry, PERSON)
            yield "session", session, athlete
        erase_athlete(store, code, PERSON)
        yield "erased", None, code


def fits(folder: Path, seed: int) -> Iterator[Promise]:
    """Save fits, each far larger than a real squad's, then what follows from each."""
    store = _store(folder)
    curve = pd.DataFrame({"volume": np.linspace(0, 80, CURVE_VOLUMES), "change_pct": -1.0})
    curve = curve.assign(change_pct_low=-2.0, change_pct_high=0.0)
    curves = pd.concat([curve.assign(athlete=code) for code in (*FIT_ATHLETES, None)])
    with store.reading() as cursor:
        peaks = fetch(cursor, "SELECT session_id FROM session").assign(peak_value=50.0)
    found = Conclusions(check=check_of_fit())
    for _ in range(10_000):
        fit = keep_fit(store, PERSON, "jump_height", FACTS, response_rows(), curves, peaks)
        yield fit, False
        keep_conclusions(store, PERSON, "jump_height", fit, found)
        yield fit, True


# Looks: whether the promises of a killed process hold once its store is open again.


def _imports_found(folder: Path, promises: list[Promise]) -> Found:
    with _store(folder).reading() as cursor:
        counted = fetch(
            cursor,
            "SELECT b.batch_id, b.stored, count(e.effort_id) AS there FROM import_batch b "
            "LEFT JOIN effort e USING (batch_id) GROUP BY ALL",
        )
    there = dict(zip(counted["batch_id"], counted["there"], strict=True))
    halves = (counted["there"] != FILE_ROWS) | (counted["stored"] != FILE_ROWS)
    return Found(sum(there.get(batch) != FILE_ROWS for (batch,) in promises), int(halves.sum()))


def _live_entry_found(folder: Path, promises: list[Promise]) -> Found:
    with _store(folder).reading() as cursor:
        counted = fetch(
            cursor,
            "SELECT session_id, count(*) AS there, max(effort) AS last FROM effort GROUP BY ALL",
        )
    there = dict(zip(counted["session_id"], counted["there"], strict=True))
    lost = sum(there.get(session, 0) < efforts for session, efforts in promises)
    return Found(lost, int((counted["there"] != counted["last"]).sum()))


def _corrections_found(folder: Path, promises: list[Promise]) -> Found:
    with _store(folder).reading() as cursor:
        kept = cursor.execute(
            "SELECT effort_id, new_value, new_excluded FROM effort_change"
        ).fetchall()
        halves = fetch_number(
            cursor,
            "SELECT count(*) FROM effort e LEFT JOIN (SELECT effort_id, "
            "arg_max(new_value, change_id) AS value FROM effort_change GROUP BY 1) c "
            "USING (effort_id) WHERE e.value <> coalesce(c.value, ?)",
            [FIRST_VALUE],
        )
    return Found(len(set(promises) - set(kept)), halves)


def _migrations_found(folder: Path, promises: list[Promise]) -> Found:
    """Compare every old store, which opening upgrades, with one that was upgraded undisturbed."""
    expected, promised, found = (
        _rows(folder / "newest.duckdb"),
        {one for (one,) in promises},
        Found(),
    )
    stores = {path.name for path in folder.glob("old-*.duckdb") if ".schema-" not in path.name}
    found.lost = len(promised - stores)
    for path in sorted(folder.glob("old-*.duckdb")):
        wrong = _rows(path) != expected or bool(check(Store(path)))
        found.lost += wrong and path.name in promised
        found.halves += wrong and path.name not in promised
    for path in folder.glob("old-*"):
        path.unlink()
    return found


def _backups_found(folder: Path, promises: list[Promise]) -> Found:
    """Check that every backup folder restores, and that every promised one is there."""
    found = Found()
    revisions = {name: revision for kind, name, *revision in promises if kind == "backup"}
    with _store(folder).reading() as cursor:
        sessions = set(fetch(cursor, "SELECT session_id FROM session")["session_id"])
    found.lost += sum(kind == "session" and name not in sessions for kind, name, *_ in promises)
    there = {path.name: path for path in (folder / "backups").glob("warmcurve-*")}
    found.lost += len(set(revisions) - set(there))
    for name, path in there.items():
        try:
            restore(path, folder / f"{name}.duckdb")
        except StoreError:
            found.halves += 1
            continue
        restored = Store(folder / f"{name}.duckdb")
        found.halves += bool(check(restored))
        found.lost += revisions.get(name, [restored.revision()]) != [restored.revision()]
        restored.path.unlink()
    shutil.rmtree(folder / "backups", ignore_errors=True)
    return found


def _erasures_found(folder: Path, promises: list[Promise]) -> Found:
    with _store(folder).reading() as cursor:
        sessions = set(fetch(cursor, "SELECT session_id FROM session")["session_id"])
        athletes = set(fetch(cursor, "SELECT athlete FROM athlete")["athlete"])
    erased = {code for what, _, code in promises if what == "erased"}
    kept = [session for what, session, code in promises if what == "session" and code == "A2"]
    return Found(lost=len(set(kept) - sessions) + len(erased & athletes))


def _fits_found(folder: Path, promises: list[Promise]) -> Found:
    with _store(folder).reading() as cursor:
        kept = fetch(
            cursor,
            "SELECT fit_id, "
            "(SELECT count(*) FROM response r WHERE r.fit_id = f.fit_id) AS answers, "
            "(SELECT count(*) FROM curve_point c WHERE c.fit_id = f.fit_id) AS points, "
            "(SELECT count(*) FROM squad_curve_point s WHERE s.fit_id = f.fit_id) AS squad, "
            "(SELECT count(*) FROM session_peak p WHERE p.fit_id = f.fit_id) AS peaks, "
            "(SELECT count(*) FROM fit_check k WHERE k.fit_id = f.fit_id) AS checks, "
            "(SELECT count(*) FROM session_place t WHERE t.fit_id = f.fit_id) AS places "
            "FROM fit f",
        ).set_index("fit_id")
        sessions = fetch_number(cursor, "SELECT count(*) FROM session")
    athletes = len(FIT_ATHLETES)
    whole = [athletes, athletes * CURVE_VOLUMES, CURVE_VOLUMES, sessions]
    halves = (kept[kept.columns[:4]] != whole).any(axis="columns")
    halves |= kept["places"] != len(check_of_fit().places) * kept["checks"]
    checks = kept["checks"].to_dict()
    lost = sum(checks.get(fit, -1) < concluded for fit, concluded in promises)
    return Found(lost, int(halves.sum()))


KINDS: dict[str, tuple[Work, Look]] = {
    "imports": (imports, _imports_found),
    "live entry": (live_entry, _live_entry_found),
    "corrections": (corrections, _corrections_found),
    "migrations": (migrations, _migrations_found),
    "backups": (backups, _backups_found),
    "erasures": (erasures, _erasures_found),
    "fits": (fits, _fits_found),
}


def crash(
    kind: str,
    kills: int,
    folder: Path,
    chance: random.Random,
    told: Callable[[str], None] = lambda line: None,
) -> Tally:
    """Kill a process `kills` times during one kind of work, on the same store throughout.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    kills : int
        How often.
    folder : Path
        An empty folder for the store.
    chance : Random
        Draws the moments of the kills.
    told : callable
        Takes a line for each fault that is found.
    """
    _prepare(folder)
    tally = Tally()
    for seed in range(kills):
        longest = LONGEST_SECONDS.get(kind, LONGEST_SECONDS_ELSE)
        promises = _killed(kind, folder, seed, chance.uniform(0.0, longest))
        remove_leftovers(_store(folder))  # as the next start does; the check finds what remains
        found = KINDS[kind][1](folder, promises)
        problems = check(_store(folder))
        for line in problems or ([f"{kind} {seed}: {found}"] if found != Found() else []):
            told(line)
        tally = Tally(
            tally.kills + 1,
            tally.writes_acknowledged + len(promises),
            tally.lost + found.lost,
            tally.halves + found.halves,
            tally.problems + len(problems),
        )
    return tally


def main() -> None:
    """Kill, look, and print the table; exit with status 1 if anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=200, help="in all, shared among the kinds")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    chance = random.Random(asked.seed)
    tallies = {}
    for place, kind in enumerate(KINDS):
        share = (asked.kills + len(KINDS) - 1 - place) // len(KINDS)
        with TemporaryDirectory() as folder:
            tallies[kind] = crash(kind, share, Path(folder), chance, _tell)
        _tell(f"{kind}: {tallies[kind]}")
    rows = pd.DataFrame([asdict(each) for each in tallies.values()], index=list(tallies))
    rows.loc["all"] = rows.sum()
    print(table(rows.rename(columns=lambda name: name.replace("_", " "))))
    sys.exit(int(any(each.bad for each in tallies.values())))


def _tell(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _killed(kind: str, folder: Path, seed: int, seconds: float) -> list[Promise]:
    """Let a process work for some seconds, kill it, and return what it was promised."""
    fresh = multiprocessing.get_context("forkserver")
    fresh.set_forkserver_preload([__name__])  # so that starting the next one takes no time
    here, there = fresh.Pipe(duplex=False)
    worker = fresh.Process(target=_work, args=(kind, folder, seed, there), daemon=True)
    worker.start()
    there.close()
    promises: list[Promise] = []
    try:
        here.recv()  # it has started
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if here.poll(left):
                promises.append(here.recv())
        worker.kill()
        while True:
            promises.append(here.recv())
    except (EOFError, OSError):
        pass  # the pipe is empty and its other end is gone
    worker.join()
    if worker.exitcode != -SIGKILL:
        raise RuntimeError(f"The process for {kind} ended by itself before it was killed.")
    return promises


def _work(kind: str, folder: Path, seed: int, promised: Connection) -> None:
    promised.send(())
    for promise in KINDS[kind][0](folder, seed):
        promised.send(promise)


def _prepare(folder: Path) -> None:
    """Make a store with some sessions in it, and one of the first schema beside it."""
    for name, content in _prepared().items():
        (folder / name).write_bytes(content)


@cache
def _prepared() -> dict[str, bytes]:
    with TemporaryDirectory() as made:
        folder = Path(made)
        store = _store(folder)
        store.create()
        save_athletes(store, pd.DataFrame({"athlete": FIT_ATHLETES}), PERSON)
        first = _file(FIRST_DAY - timedelta(days=30))
        import_efforts(store, read_table(first, "first.csv"), PERSON)
        shutil.unpack_archive(OLDEST_BACKUP, folder / "oldest")
        (oldest,) = (folder / "oldest").iterdir()
        for name in ("first", "newest"):
            restore(oldest, folder / f"{name}.duckdb")
        Store(folder / "newest.duckdb").revision()
        names = ("store.duckdb", "first.duckdb", "newest.duckdb")
        return {name: (folder / name).read_bytes() for name in names}


def _store(folder: Path) -> Store:
    return Store(folder / "store.duckdb")


def _file(start: datetime) -> bytes:
    """Write a file of fade tests, one after another."""
    rows = [
        f"{FIT_ATHLETES[n % 2]},{start + timedelta(seconds=n // 10)},jump_height,"
        f"{n // 2 % 5 + 1},{FIRST_VALUE},{n // 2 % 5}"
        for n in range(FILE_ROWS)
    ]
    return "\n".join([HEADER, *rows]).encode()


def _rows(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Read every row of every table, except what each upgrade of a store makes anew."""
    with Store(path).reading() as cursor:
        names = fetch(cursor, "SELECT table_name FROM duckdb_tables()")["table_name"]
        return {
            name: cursor.execute(ALIKE.get(name, f'FROM "{name}"') + " ORDER BY ALL").fetchall()
            for name in names
            if name != "schema_version"
        }


if __name__ == "__main__":
    main()
