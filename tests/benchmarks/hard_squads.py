"""Whether fits of hard squads end, and whether every number they show makes sense.

    python -m tests.benchmarks.hard_squads --seeds 2000

The squads are the worst that a club's files may hold (`tests.modeling.hard_squads`): mixed-up
units, huge volumes, tests of one effort, thousands of efforts, values without noise. Each is
fitted, and a session of another such squad is folded into it; every tenth also goes through a
store, with all that follows from its curves. It prints a line, with the squad's seed, for each
exception, each warning, and each number that is not finite or lies outside its own interval. Then
it prints a table in Markdown, and ends with status 1 if there was any fault.
`--first 700 --seeds 50` does squads 700 to 749.

    python -m tests.benchmarks.hard_squads --many-efforts

times a fit of 25 athletes with 1,440 nearly noise-free efforts each instead, from stored efforts
to saved curves and to all that follows from them.
"""

from __future__ import annotations

import argparse
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

import numpy as np
import pandas as pd

from dashboard.fits.fitting import CannotFit, fit_measure
from dashboard.fits.folded_sessions import fold_session
from db.efforts.rows import observations
from db.file.store import Store
from db.fits.results import curves, responses
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.roster.measures import get_measure, save_measure
from db.tables.text_tables import RawTable
from modeling import ResponseModel
from tests.benchmarks.markdown import table
from tests.modeling.hard_squads import HardSquad, any_hard_squad, with_another_session
from tests.modeling.shown_numbers import faults_of_fold, faults_of_model

__all__ = ["faults", "main", "many_efforts", "stored_faults"]

MEASURE, PERSON = "jump_height", "benchmark"
EFFORTS_A_SESSION = (24, 3, 1)
GIVEN = {"standard_volume": 15.0, "worthwhile_pct": 1.0, "higher_is_better": True}

STORED_FACTS = ["context", "general_minutes", "rest_minutes", "ambient_c", "days_since_game"]
START = pd.Timestamp("2020-01-01")


def faults(seed: int) -> list[str]:
    """Fit a squad and fold a session into it; return the faults."""
    squad = any_hard_squad(seed)
    rows = squad.rows

    def fitted() -> Iterator[str]:
        model = ResponseModel(**squad.parameters).fit(rows, rows["value"])
        yield from faults_of_model(model, rows)
        folded = with_another_session(rows, seed)
        yield from (f"fold: {fault}" for fault in faults_of_fold(model, folded))

    return _told(fitted)


def stored_faults(seed: int) -> list[str]:
    """Do the same through a store: import, fit with all that follows, import and fold."""
    squad = any_hard_squad(seed)

    def fitted() -> Iterator[str]:
        with TemporaryDirectory() as folder:
            store = _store(Path(folder), squad)
            import_efforts(store, _file(squad.rows, "first"), PERSON, add_athletes=True)
            try:
                fit_measure(store, MEASURE, PERSON)
            except CannotFit as error:
                print(f"{seed}: {error.message}", file=sys.stderr)
                return
            yield from _faults_of_rows(responses(store, MEASURE).drop(columns="position"))
            yield from _not_finite(curves(store, MEASURE))
            folded = with_another_session(squad.rows, seed)
            if import_efforts(store, _file(folded, "another"), PERSON).stored:
                yield from _fold_newest(store, str(folded["athlete"].iloc[0]))

    return _told(fitted)


def many_efforts(athletes: int = 25, efforts: int = 1440, session: int = 24) -> pd.DataFrame:
    """Simulate athletes with many efforts each, nearly free of noise."""
    rng = np.random.default_rng(1)
    volume = np.arange(efforts) % 24.0
    rows = []
    for number in range(athletes):
        best, gain = 4.0 + 0.6 * number, 0.05 + 0.002 * number
        change = -gain * (1.0 - volume / best) ** 2
        value = 40.0 * np.exp(change + 1e-5 * rng.standard_normal(len(volume)))
        day = np.repeat(np.arange(efforts // session), session)
        code = f"A{number + 1:02d}"
        rows.append(
            pd.DataFrame({"athlete": code, "kind": "routine", "day": day, "volume": volume}).assign(
                value=value, session=code + "-" + pd.Series(day).astype(str)
            )
        )
    return pd.concat(rows, ignore_index=True)


def _told(work: Callable[[], Iterator[str]]) -> list[str]:
    """List what a piece of work reports; it ends with the first warning or exception."""
    found: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found.extend(work())
        except Exception as error:
            own = [
                f"{Path(frame.filename).name}:{frame.lineno}"
                for frame in traceback.extract_tb(error.__traceback__)
                if "site-packages" not in frame.filename
            ]
            found.append(f"{type(error).__name__} at {' '.join(own[-4:])}: {error}")
    return found


def _store(folder: Path, squad: HardSquad) -> Store:
    store = Store(folder / "store.duckdb")
    store.create()
    given = squad.parameters
    measure = replace(
        get_measure(store, MEASURE),
        better="higher" if given["higher_is_better"] else "lower",
        standard_volume=given["standard_volume"],
        worthwhile_pct=given["worthwhile_pct"],
        lowest=None,
        highest=None,
    )
    save_measure(store, measure, PERSON)
    return store


def _file(rows: pd.DataFrame, name: str) -> RawTable:
    hour = rows["hour"] if "hour" in rows else 9.0
    started = START + pd.to_timedelta(rows["day"] * 24.0 + hour, unit="h")
    written = rows.reindex(columns=["athlete", "kind", "value", *STORED_FACTS]).assign(
        measure=MEASURE,
        started_at=started.dt.strftime("%Y-%m-%dT%H:%M"),
        effort=rows.groupby("session").cumcount() + 1,
        volume_before=rows["volume"],
    )
    return read_table(written.to_csv(index=False).encode(), f"{name}.csv")


def _fold_newest(store: Store, athlete: str) -> Iterator[str]:
    newest = observations(store, MEASURE).query("athlete == @athlete")["session_id"].max()
    try:
        folded = fold_session(store, get_measure(store, MEASURE), athlete, int(newest))
    except CannotFit as error:
        yield f"fold: {error.message}"
        return
    yield from _not_finite(folded.curve)
    if not np.all(np.isfinite([*folded.peak.values(), folded.noise_pct])):
        yield "fold: peak or noise is not finite"


def _faults_of_rows(rows: pd.DataFrame) -> Iterator[str]:
    good = rows[["good_from", "good_to"]]
    if (good["good_from"].isna() != good["good_to"].isna()).any():
        yield "good range with one end"  # both ends are missing where no length is surely good
    yield from _not_finite(rows.assign(**good.fillna(0.0)))


def _not_finite(frame: pd.DataFrame) -> Iterator[str]:
    for name, column in frame.select_dtypes("number").items():
        if not np.all(np.isfinite(column)):
            yield f"{name} is not finite"


def main() -> None:
    """Fit hard squads, print each fault and the table; exit with status 1 if there was any."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=2000, help="how many squads")
    parser.add_argument("--first", type=int, default=0, help="seed of the first")
    parser.add_argument("--stored-every", type=int, default=10, help="of how many one is stored")
    parser.add_argument("--many-efforts", action="store_true", help="25 athletes of 1,440 efforts")
    asked = parser.parse_args()
    if asked.many_efforts:
        _time_many_efforts()
        return
    lines = []
    for seed in range(asked.first, asked.first + asked.seeds):
        began = process_time()
        found = faults(seed)
        seconds = process_time() - began
        if seed % asked.stored_every == 0:
            found += [f"stored: {fault}" for fault in stored_faults(seed)]
        for fault in sorted(set(found)):
            print(f"{seed}: {fault}", flush=True)
        hardships = any_hard_squad(seed).hardships
        lines += [{"hardship": each, "faulty": bool(found), "s": seconds} for each in hardships]
    told = pd.DataFrame(lines).groupby("hardship")
    seconds = told["s"]
    print(
        table(
            pd.DataFrame(
                {
                    "squads": told.size(),
                    "with a fault": told["faulty"].sum(),
                    "s, median": seconds.median(),
                    "s, longest": seconds.max(),
                }
            )
        )
    )
    sys.exit(int(told["faulty"].any().any()))


def _time_many_efforts() -> None:
    lines = {}
    for session in EFFORTS_A_SESSION:
        squad = HardSquad((), many_efforts(session=session), GIVEN)
        with TemporaryDirectory() as folder:
            store = _store(Path(folder), squad)
            import_efforts(store, _file(squad.rows, "first"), PERSON, add_athletes=True)
            told: list[float] = []
            began = perf_counter()
            fit_measure(
                store, MEASURE, PERSON, curves_kept=lambda told=told: told.append(perf_counter())
            )
            ended = perf_counter()
        lines[session] = {"s to the curves": told[0] - began, "s to the end": ended - began}
    print(table(pd.DataFrame(lines).T.rename_axis("efforts a session"), "{:.1f}"))


if __name__ == "__main__":
    main()
