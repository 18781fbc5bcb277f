"""What clubs share by files: shown before it leaves, refused if it is about something else."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.fits.learned_commands import constant_lines
from dashboard.fits.learned_files import kept_prior
from db.file.settings import set_setting
from db.file.store import Store
from db.fits.results import learned_json
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.roster.athletes import save_athletes
from db.roster.measures import Measure, save_measure
from modeling.testing.simulation import Noise, fade_test
from modeling.testing.true_curves import truth
from tests.dashboard.conftest import new_store

ATHLETES = 8


def run(*words: object, typed: str = "", status: int = 0) -> str:
    done = CliRunner().invoke(application, list(map(str, words)), input=typed)
    assert done.exit_code == status, done.output
    return " ".join(done.output.split())


def club(path: Path, athletes: int, seed: int, unit: str = "cm") -> Store:
    store, rng = new_store(path), np.random.default_rng(seed)
    save_measure(store, Measure("hop", "Hop", unit, "higher", standard_volume=15), "test")
    codes = [f"Z{number}" for number in range(athletes)]
    names = [f"Name {code}" for code in codes]
    save_athletes(store, pd.DataFrame({"athlete": codes, "name": names}), "test")
    lines = ["athlete,started_at,measure,effort,value,volume_before,kind"]
    for code in codes:
        curve = truth("Ricker", 12.0 * np.exp(0.4 * rng.standard_normal()), 0.07, 20.0)
        volumes, values = fade_test(curve, Noise(0.02, 0.01), rng, most=30)
        lines += [
            f"{code},2026-04-01T10:00,hop,{volume + 1:.0f},{value:.2f},{volume:.0f},fade"
            for volume, value in zip(volumes, values, strict=True)
        ]
    import_efforts(store, read_table("\n".join(lines).encode(), "efforts.csv"), "e.csv", "test")
    return store


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the files of three clubs, two of them like the first, and pool them."""
    folder = tmp_path_factory.mktemp("clubs")
    store = "--db", club(folder / "0.duckdb", ATHLETES, 0).path
    run("fit", "--measure", "hop", *store)
    run("learned", "export", folder / "0.json", "--measure", "hop", "--yes", *store)
    told = json.loads((folder / "0.json").read_text("utf-8"))
    for number in (1, 2):
        told["measures"][0]["mean"][0] += 0.2
        (folder / f"{number}.json").write_text(json.dumps(told), "utf-8")
    files = [folder / f"{number}.json" for number in range(3)]
    assert "hop: 3 clubs" in run("learned", "pool", *files, "--out", folder / "prior.json")
    return folder


def test_the_file_is_shown_before_it_is_written_and_names_no_athlete(folder: Path) -> None:
    out, store = folder / "not.json", ("--db", folder / "0.duckdb")
    shown = run("learned", "export", out, "--measure", "hop", *store, typed="n\n", status=1)
    assert "at least 8 athletes" in shown and "best volume:" in shown
    assert "Nothing was written." in shown and not out.exists()
    text = (folder / "0.json").read_text("utf-8")
    [facts] = json.loads(text)["measures"]
    assert facts["athletes"] == 8 and len(facts["mean"]) == 3
    assert "Z0" not in text and "Name" not in text


def test_constants_are_shown_before_they_leave() -> None:
    lines = constant_lines([None, (1 / 15, 1 / 60), (-0.004, 0.002), None])
    assert lines == [
        "  rest that halves the warmth of a warm-up: 12 to 20 (minutes)",
        "  how much more is needed for each degree below 20: -0.006 to -0.002 (share)",
    ]


def test_a_small_club_shares_nothing_and_starts_from_what_others_share(folder: Path) -> None:
    small = club(folder / "small.duckdb", 4, 9)
    store, out = ("--db", small.path), folder / "small.json"
    run("fit", "--measure", "hop", "--prior", folder / "prior.json", *store)
    refused = run("learned", "export", out, "--measure", "hop", "--yes", *store, status=1)
    assert "The fit is of 4 athletes" in refused and not out.exists()
    kept = kept_prior(small, "hop")
    assert kept is not None and kept.clubs == 3

    def apart() -> float:
        mean = json.loads(learned_json(small, "hop") or "")["learned"]["across"]["mean"]
        return float(np.linalg.norm(np.subtract(mean, kept.prior.curves.mean)))

    begun = apart()
    run("fit", "--measure", "hop", *store)
    assert apart() == pytest.approx(begun), "every fit from then on"
    run("fit", "--measure", "hop", "--prior", "none", *store)
    assert kept_prior(small, "hop") is None
    assert apart() > begun, "alone they are farther from the others"


def test_numbers_saved_by_another_version_say_what_to_do(folder: Path) -> None:
    store = Store(folder / "0.duckdb")
    set_setting(store, "squad_prior hop", '{"clubs": 3, "measure": {}, "prior": {}}', "test")
    told = run("fit", "--measure", "hop", "--db", store.path, status=1)
    assert "'warmcurve fit --prior none'" in told
    run("fit", "--measure", "hop", "--prior", "none", "--db", store.path)


def test_numbers_that_do_not_fit_are_refused(folder: Path) -> None:
    other = club(folder / "inches.duckdb", ATHLETES, 5, unit="in")
    store = "--db", other.path
    refused = run("fit", "--measure", "hop", "--prior", folder / "prior.json", *store, status=1)
    assert "Hop is in in and efforts here" in refused and "nothing was changed" in refused
    assert kept_prior(other, "hop") is None and learned_json(other, "hop") is None
    run("fit", "--measure", "hop", *store)
    run("learned", "export", folder / "in.json", "--measure", "hop", "--yes", *store)
    files = [folder / name for name in ("0.json", "1.json", "in.json")]
    refused = run("learned", "pool", *files, "--out", folder / "no.json", status=1)
    assert "in.json has hop in in" in refused and not (folder / "no.json").exists()
    refused = run("learned", "pool", *files[:2], "--out", folder / "no.json", status=1)
    assert "2 clubs cannot say how clubs differ" in refused
    refused = run(
        "fit", "--measure", "jump_height", "--prior", folder / "prior.json", *store, status=1
    )
    assert "tells of hop, and of no measure asked for" in refused


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "is no file of 'warmcurve learned pool'"),
        ("[1]", "is no file of"),
        ('{"format": "warmcurve-learned/1", "measures": []}', "is no file of"),
        ('{"format": "warmcurve-prior/1"}', "is damaged or of another version"),
        ('{"format": "warmcurve-prior/1", "measures": [{"clubs": 3}]}', "is damaged or of another"),
    ],
)
def test_a_file_that_cannot_be_read_is_named(folder: Path, text: str, sentence: str) -> None:
    odd = folder / "odd.json"
    odd.write_text(text, "utf-8")
    assert sentence in run("fit", "--prior", odd, "--db", folder / "0.duckdb", status=1)


def test_a_prior_that_is_no_distribution_is_refused(folder: Path) -> None:
    told = json.loads((folder / "prior.json").read_text("utf-8"))
    told["measures"][0]["prior"]["variances"][0] = -1.0
    odd = folder / "negative.json"
    odd.write_text(json.dumps(told), "utf-8")
    refused = run("fit", "--prior", odd, "--db", folder / "0.duckdb", status=1)
    assert "negative.json is damaged" in refused
    assert "There is no file" in run(
        "fit", "--prior", folder / "none.json", "--db", folder / "0.duckdb", status=1
    )
