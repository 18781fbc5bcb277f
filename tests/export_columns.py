"""The meaning of every column of the exports and the efforts file, for the data dictionary."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

from dashboard.app.exports import QUANTITIES, export_rows
from db.file.store import Store
from db.fits.export_names import EXPORTS, ExportName

ABOUT: Mapping[ExportName, str] = {
    "responses": "A row for each athlete and measure: what the newest fit says.",
    "curves": "A row for each athlete, measure and volume: the curve of the newest fit.",
    "bands": "A row for each measure and band of volumes: what was observed, and what the model "
    "expects (the page *How sure*).",
    "reliability": "A row for each measure and basis: how well routine sessions at about the same "
    "volume repeat.",
    "next-tests": "A row for each athlete, measure and kind of test, most worth first; nobody who "
    "is out or in pain.",
    "squad": "A row for each measure: what the newest fit says of the squad, and the constants of "
    "the warm-up account.",
    "efforts": "A row for each effort: an efforts file, as `warmcurve import` reads it.",
    "set-aside": "A row for each row of a file that was set aside.",
}

MEANINGS: Mapping[str, str] = {
    "athlete": "Code.",
    "measure": "Code.",
    "volume_unit": "Unit of all volumes of the measure.",
    "sessions": "How many there are behind it.",
    "efforts": "How many there are behind it.",
    "athletes": "How many there are behind it.",
    "last_session": "When the newest session began; missing without any.",
    "best_volume": "Volume at which the curve peaks, median.",
    "gain_pct": "Gain from cold to the peak in %, median.",
    "hold_volume": "Volume from the peak until 10 % is lost, median.",
    "advised_volume": "Volume of the highest expected performance for one best effort.",
    "loss_at_standard_pct": "Performance lost at the team's standard against the own peak in %, "
    "median.",
    "chance_short": "Chance, 0 to 1, that a shorter warm-up than the standard is worth it.",
    "chance_long": "Chance, 0 to 1, that a longer one is.",
    "chance_either": "Chance, 0 to 1, that neither is.",
    "call": "short, long, either or not known.",
    "reach": "Where the peak lies against the volumes tried: inside, below or beyond; missing "
    "without efforts.",
    "good_from": "Lower end of the good range; missing where no volume is known to be good.",
    "good_to": "Upper end of it; missing with it.",
    "length": "What the athlete does today, whole efforts where the volume counts efforts; missing "
    "for whoever is out or in pain.",
    "volume": "Volume as done in the usual circumstances.",
    "change_pct": "Expected difference from the own peak in % of the peak, 0 or below.",
    "lowest_volume": "Where the band begins.",
    "highest_volume": "Where the band ends.",
    "mean_volume": "Mean volume of its efforts.",
    "observed_pct": "Mean difference observed, in % of the peak.",
    "expected_pct": "Mean difference that the curves say, in % of the peak.",
    "low_pct": "If the model is right, the observed one lies above this with a chance of 95 %.",
    "high_pct": "And below this with a chance of 95 %.",
    "basis": "What stands for a session: the mean or the best of its efforts.",
    "typical_error": "Standard deviation of one session about the athlete's own mean, in the unit "
    "of the measure.",
    "cv_pct": "The same in %.",
    "icc_3_1": "Intraclass correlation of one session, trials fixed.",
    "icc_2_1": "Intraclass correlation of one session, trials random.",
    "change_in_mean": "Change of the mean from one trial to the next, in the unit of the measure.",
    "smallest_worthwhile": "A fifth of the spread between athletes, in the unit of the measure.",
    "minimal_detectable": "Smallest change between two sessions that noise alone would show in one "
    "case of twenty, in the unit of the measure.",
    "kind": "fade (until values fall) or routine.",
    "worth_pct": "What the test is expected to bring by better advice, in %.",
    "sessions_to_firm_call": "How many tests of this kind are expected to give a firm call; "
    "missing where more are needed than are looked ahead.",
    "takes": "How many maximal efforts it is expected to take; missing where it was not worked "
    "out.",
    "most_efforts": "Most efforts of a fade test today; missing for routine efforts.",
    "first_day": "First day on which it may be done.",
    "game_day": "The game that it keeps away from; missing if there is none.",
    "best_single_volume": "The one length that would lose least for all.",
    "worth_of_individual_pct": "What own lengths bring over the best single length, in %.",
    "worth_over_standard_pct": "What own lengths bring over today's standard, in %.",
    "gaining_over_standard": "Athletes who gain more than the smallest worthwhile change.",
    "spread_log_sd": "Standard deviation of the logs of best volumes.",
    "chance_athletes_differ": "Chance, 0 to 1, that best volumes differ at all.",
    "standard_volume": "Volume that the team does.",
    "worthwhile_pct": "Smallest worthwhile change in %.",
    "general_per_minute": "Volume that a minute of general warm-up counts for.",
    "half_life_minutes": "Minutes of waiting after which half of the volume counts no more; "
    "missing is without end.",
    "stretch_per_degree": "Share more that is needed for each degree below 20.",
    "stretch_per_hour": "Share more that is needed for each hour before 16:00.",
    "recovery_half_life_minutes": "Minutes after which half of the fatigue has gone.",
    "started_at": "Start of the session on the clock on the wall, ISO 8601, with the offset from "
    "UTC where the file had one.",
    "effort": "Number in the session, from 1.",
    "value": "What was measured, in the unit of the measure.",
    "volume_before": "Volume done before the effort, in the unit of volume. In a file it may be "
    "missing in a fade test: efforts made before.",
    "context": "training, game, test or lifting; missing if not told.",
    "general_minutes": "Minutes of general warm-up before the volume that is counted; missing if "
    "not told.",
    "rest_minutes": "Minutes between the warm-up and the first effort; missing if not told.",
    "effort_rest_seconds": "Seconds from one effort to the next as done, the median of the "
    "session; missing if not told.",
    "ambient_c": "Air temperature in degrees Celsius; missing if not told.",
    "days_since_game": "Days since the last game; missing if not told.",
    "load_kg": "Load in kg; missing if not told.",
    "planned_volume": "Volume planned for the session; missing if none was.",
    "freshness": "How fresh the athlete felt, 0 to 10; missing if not told.",
    "joints": "How good the joints felt, 0 to 10; missing if not told.",
    "mobility": "How easily positions were reached, 0 to 10; missing if not told.",
    "pain": "Whether there was pain, yes or no; missing if not told.",
    "note": "Free text; missing if there is none.",
    "excluded": "Why the effort is not used; missing if it is used.",
    "batch_id": "Number of the import.",
    "file": "Name of the file.",
    "line": "Line in it, from 1.",
    "column": "Column with the reason; missing where the whole row is.",
    "reason": "Why it was set aside.",
    "row_text": "The row as written; missing once its time has run out.",
    "at": "When it was set aside, UTC.",
    "usual_general_minutes": "Usual minutes of general warm-up; missing where the fit kept no "
    "account.",
    "usual_rest_minutes": "Usual minutes of waiting; missing where the fit kept no account.",
    "usual_ambient_c": "Usual air temperature in degrees Celsius; missing where the fit kept no "
    "account.",
    "usual_hour": "Usual hour of the day, 0 to 24; missing where the fit kept no account.",
}
"""Meanings by column; a column with an ending from `ENDINGS` is listed without the ending."""

SET_ASIDE = "As written in the file; missing where it could not be read."
OTHERWISE: Mapping[tuple[ExportName, str], str] = {
    ("reliability", "sessions"): "Routine sessions that can be compared.",
    **{
        ("set-aside", name): SET_ASIDE
        for name in ("athlete", "started_at", "measure", "effort", "value")
    },
    ("next-tests", "volume"): "Volume before the first effort; 0 in a fade test.",
}
ENDINGS: Mapping[str, str] = {
    "_in_effect": "`{}` as the model counts it: no general part, no rest, 20 degrees, 16:00.",
    "_low": "Lower end of the 90 % interval of `{}`.",
    "_high": "Upper end of the 90 % interval of `{}`.",
    "_status": "Whether `{}` is learned, no effect, or the default.",
}


def documented() -> dict[ExportName, list[tuple[str, str]]]:
    """Return every column of every export with its meaning, in the order of the files."""
    with TemporaryDirectory() as folder:
        store = Store(Path(folder) / "empty.duckdb")
        store.create()
        return {
            what: [(column, meaning(what, column)) for column in _columns(store, what)]
            for what in EXPORTS
        }


def meaning(what: ExportName, column: str) -> str:
    """Return what a column of an export means."""
    told = OTHERWISE.get((what, column)) or MEANINGS.get(column)
    if told:
        return told
    for ending, sentence in ENDINGS.items():
        if column.endswith(ending) and meaning(what, column.removesuffix(ending)):
            return sentence.format(column.removesuffix(ending))
    raise KeyError(f"Say in tests/export_columns.py what {column} of {what} means.")


def sections() -> list[str]:
    """Return a section of the data dictionary for each export."""
    parts = []
    for what, columns in documented().items():
        rows = [f"| {column} | {told} |" for column, told in columns]
        head = [
            f"### export {what}\n",
            f"{ABOUT[what]}\n",
            "| column | what it holds |",
            "|---|---|",
        ]
        parts.append("\n".join([*head, *rows, ""]))
    return parts


def _columns(store: Store, what: ExportName) -> list[str]:
    if what == "reliability":  # nothing can be compared in an empty store
        return ["measure", "basis", "athletes", "sessions", *QUANTITIES]
    return list(export_rows(store, what))
