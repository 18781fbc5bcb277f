from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

from demo_team.mistakes import USED, with_mistakes
from demo_team.plans import plans_table
from demo_team.planted import PLANTED, truth_table
from demo_team.readme import readme
from demo_team.roster import athletes_table
from demo_team.season import season_of
from demo_team.squad_days import games_table, statuses_table
from demo_team.trial import MEASURE as TRIAL_MEASURE
from demo_team.trial import trial_table

FOLDER = Path(__file__).parent
FACTS = "general_minutes rest_minutes ambient_c days_since_game".split()


def build(folder: Path = FOLDER) -> list[Path]:
    """Write the files of the demonstration squad, always the same bytes; give their paths."""
    truth = truth_table()
    tables = {
        "athletes": athletes_table(),
        "statuses": statuses_table(),
        "games": games_table(),
    }
    listed, planned = [], []
    clean = {}
    for measure in PLANTED:
        season = season_of(measure)
        efforts = clean[measure] = season.efforts
        truth = _with_counts(truth, measure, efforts)
        planned.append(plans_table(efforts, season.lengths))
        if measure == TRIAL_MEASURE:
            tables["trial"] = trial_table(efforts)
        tables[measure], mistakes = with_mistakes(efforts, measure)
        listed.append(mistakes)
    tables["truth"] = truth
    tables["mistakes"] = pd.concat(listed)
    tables["plans"] = pd.concat(planned)
    folder.mkdir(parents=True, exist_ok=True)
    pages = {f"{name}.csv": _csv(table) for name, table in tables.items()}
    pages["README.md"] = readme(truth, tables["mistakes"], clean)
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    return [folder / name for name in pages]


def _with_counts(truth: pd.DataFrame, measure: str, efforts: pd.DataFrame) -> pd.DataFrame:
    """Put in how many tests and sessions were made."""
    made = efforts.drop_duplicates(["athlete", "started_at"])
    counts = made.groupby(["athlete", "kind"]).size()
    for column, kind in (("fade_tests", "fade"), ("routine_sessions", "routine")):
        keys = pd.MultiIndex.from_product([truth["athlete"], [kind]])
        own = pd.Series(counts.reindex(keys, fill_value=0).to_numpy(), truth.index)
        truth[column] = own.where(truth["measure"] == measure, truth[column])
    return truth


def _csv(table: pd.DataFrame) -> str:
    return table.to_csv(index=False, lineterminator="\n")


def usable_rows(measure: str, folder: Path = FOLDER) -> pd.DataFrame:
    """Read a measure's efforts without the rows that are set aside or not used.

    Returns
    -------
    DataFrame
        Columns athlete, session, day (days since 1970), context, kind, volume (efforts), value,
        and the facts of a session that a fit takes in.
    """
    rows = pd.read_csv(folder / f"{measure}.csv", dtype=str, keep_default_na=False)
    mistakes = pd.read_csv(folder / "mistakes.csv")
    lost = mistakes[(mistakes["file"] == f"{measure}.csv") & (mistakes["outcome"] != USED)]
    rows = rows[~rows.index.isin(lost["line"] - 2)]
    counted = rows["effort"].astype(float) - 1.0
    started_at = pd.to_datetime(rows["started_at"])
    return pd.DataFrame(
        {
            "athlete": rows["athlete"],
            "session": rows["athlete"] + " " + rows["started_at"],
            "day": (started_at - pd.Timestamp(0)) / pd.Timedelta(days=1),
            "context": rows["context"],
            "kind": rows["kind"],
            "volume": pd.to_numeric(rows["volume_before"]).fillna(counted),
            "value": rows["value"].astype(float),
            "hour": started_at.dt.hour + started_at.dt.minute / 60.0,
            "readiness": pd.to_numeric(rows["freshness"]),
            **{fact: pd.to_numeric(rows[fact]) for fact in FACTS},
        }
    ).reset_index(drop=True)


if __name__ == "__main__":
    for path in build(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER):
        print(path)
