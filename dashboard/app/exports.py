"""What `warmcurve export` and the downloads write: saved rows, or rows worked out on request."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from dashboard.fits.lengths import responses
from dashboard.fits.next_tests import DAY_COLUMNS, tests_to_do
from dashboard.fits.reliability_frames import BASES, MeasureReliability, measure_reliability
from dashboard.fits.usual_terms import BAND_VOLUMES, UsualTerms, usual_terms
from dashboard.rules.standing import blocked_codes
from dashboard.trust.reliability_words import too_little
from db.efforts.rows import measured
from db.errors import BadInput
from db.file.store import Store
from db.fits.advice_bases import CIRCUMSTANCES
from db.fits.export_names import ExportName
from db.fits.exports import export_frame
from db.roster.measures import get_measure
from modeling.curve.usual_volumes import TOLD_VOLUMES

QUANTITIES = {
    "typical_error": ("typical_error", "estimate"),
    "typical_error_low": ("typical_error", "low"),
    "typical_error_high": ("typical_error", "high"),
    "cv_pct": ("typical_error_pct", "estimate"),
    **{
        name: (name, "estimate")
        for name in "icc_3_1 icc_2_1 change_in_mean smallest_worthwhile minimal_detectable".split()
    },
}
"""Columns of the reliability export: the quantity, and which of its numbers."""

VOLUMES: dict[ExportName, tuple[str, ...]] = {
    "responses": TOLD_VOLUMES,
    "curves": ("volume",),
    "bands": tuple(BAND_VOLUMES),
    "next-tests": ("volume",),
    "squad": ("best_single_volume", "standard_volume"),
}
"""Columns of exports that hold volumes."""
ADDED: dict[ExportName, tuple[str, ...]] = {"responses": ("length",), "next-tests": DAY_COLUMNS}
"""Columns that say what may be done today; no fit saves them."""
USUAL_COLUMNS = tuple(f"usual_{name}" for name in CIRCUMSTANCES)


class CannotCompare(BadInput):
    """How well a measure repeats is not known yet; the message says what is missing."""

    title = "This cannot be compared yet"


def export_rows(
    store: Store,
    what: ExportName,
    measure: str | None = None,
    say: Callable[[str], None] = lambda sentence: None,
) -> pd.DataFrame:
    """Return the rows of an export, of one measure or of all.

    Parameters
    ----------
    store, what, measure
        As for `db.fits.exports.export_frame`.
    say
        Takes a sentence for every measure that is left out because it cannot be compared.

    Raises
    ------
    CannotCompare
        If reliability is asked for and no measure can be compared.
    """
    if what in VOLUMES:
        rows = as_done(store, what, export_frame(store, what, measure))
        return rows.assign(**fatigue_clock()) if what == "squad" else rows
    if what != "reliability":
        return export_frame(store, what, measure)
    asked = [get_measure(store, measure)] if measure else measured(store)
    records, lacking = [], []
    for each in asked:
        found = measure_reliability(store, each.code)
        if found.estimates.empty:
            lacking.append(f"{each.name}: {too_little(found)}")
        records += _records(each.code, found)
    if not records:
        raise CannotCompare(
            "\n".join(lacking)
            or "There are no efforts yet. Import a file of efforts, or enter a session."
        )
    for sentence in lacking:
        say(sentence)
    return pd.DataFrame.from_records(records)


def fatigue_clock() -> dict[str, float | str]:
    """Return the account's one constant that no fit learns, in columns like the others."""
    from modeling.curve.two_clocks import RECOVERY

    values = {"": RECOVERY.default, "_low": RECOVERY.low, "_high": RECOVERY.high}
    return {f"{RECOVERY.name}{end}": each for end, each in values.items()} | {
        f"{RECOVERY.name}_status": "default"
    }


def as_done(store: Store, what: ExportName, rows: pd.DataFrame) -> pd.DataFrame:
    """Return an export with volumes as done in the usual circumstances, then those in effect.

    Responses also get their `length`, empty for athletes who are out or in pain. Next tests are
    only those of athletes who may be tested, within today's limits, with the most efforts of a
    fade test. If a fit saved no account, its volumes are left as they are and the usual
    circumstances are missing.
    """
    if what == "next-tests":
        rows = rows[~rows["athlete"].isin(blocked_codes(store))]
    parts = []
    for code, part in rows.groupby("measure", sort=False):
        terms = usual_terms(store, str(code))
        done, in_effect = _turned(what, part, terms)
        if what == "responses":
            lengths = responses(store, str(code)).set_index("athlete")["length"]
            done = done.assign(length=done["athlete"].map(lengths))
        if what == "next-tests":
            may_do = tests_to_do(store, str(code), part)
            done = done.assign(
                **{name: may_do[name].to_numpy() for name in ("volume", *DAY_COLUMNS)}
            )
        usual = dict.fromkeys(USUAL_COLUMNS, float("nan")) if terms is None else terms.columns()
        parts.append(done.join(in_effect.add_suffix("_in_effect")).assign(**usual))
    if parts:
        return pd.concat(parts, ignore_index=True)
    more = list(ADDED.get(what, ()))
    more += [f"{name}_in_effect" for name in VOLUMES[what]]
    return rows.reindex(columns=[*rows, *more, *USUAL_COLUMNS])


def _turned(
    what: ExportName, rows: pd.DataFrame, terms: UsualTerms | None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return rows with volumes as done, and the same volumes in effect."""
    in_effect = rows[list(VOLUMES[what])]
    if terms is None:
        return rows, in_effect
    if what == "curves":
        done = terms.curve_rows(rows)
        return done, pd.DataFrame({"volume": terms.in_effect(done["volume"])}, done.index)
    turned = terms.done(rows, VOLUMES[what])
    if what == "squad":
        # The team sets the standard as it is done, so it needs no turning.
        turned["standard_volume"] = np.full(len(rows), terms.base.standard_volume)
    return turned, in_effect


def _records(measure: str, found: MeasureReliability) -> list[dict[str, object]]:
    """Return a row per basis; none if nothing is known."""
    rows = found.estimates.set_index(["basis", "quantity"])
    return [
        {
            "measure": measure,
            "basis": basis,
            "athletes": found.athletes,
            "sessions": found.sessions,
            **{
                column: rows[number].get((basis, quantity), float("nan"))
                for column, (quantity, number) in QUANTITIES.items()
            },
        }
        for basis in BASES
        if not rows.empty
    ]
