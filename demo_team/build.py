from __future__ import annotations

import sys
from pathlib import Path

import pandas as pd

from demo_team.mistakes import with_mistakes
from demo_team.plans import plans_table
from demo_team.planted import PLANTED, truth_table
from demo_team.readme import readme
from demo_team.roster import athletes_table
from demo_team.season import season_of
from demo_team.squad_days import games_table, statuses_table
from demo_team.trial import MEASURE as TRIAL_MEASURE
from demo_team.trial import trial_table

FOLDER = Path(__file__).parent


def build(folder: Path = FOLDER) -> list[Path]:
    """Write the files of the demonstration squad, always the same bytes; return their paths."""
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
    """Fill in how many tests and sessions were made."""
    made = efforts.drop_duplicates(["athlete", "started_at"])
    counts = made.groupby(["athlete", "kind"]).size()
    for column, kind in (("fade_tests", "fade"), ("routine_sessions", "routine")):
        keys = pd.MultiIndex.from_product([truth["athlete"], [kind]])
        own = pd.Series(counts.reindex(keys, fill_value=0).to_numpy(), truth.index)
        truth[column] = own.where(truth["measure"] == measure, truth[column])
    return truth


def _csv(table: pd.DataFrame) -> str:
    return table.to_csv(index=False, lineterminator="\n")


if __name__ == "__main__":
    for path in build(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER):
        print(path)
