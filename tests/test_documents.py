"""What the documents say about the code is true, as far as a test can tell."""

from __future__ import annotations

import ast
import re
import runpy
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typer.main import get_command

import dashboard
import modeling
from dashboard.app.command_line import application
from dashboard.athlete.private_links import LONGEST_DAYS
from dashboard.screen.web_sessions import LIFETIME
from dashboard.screen.web_sessions import WAIT_SECONDS as PAGES_WAIT_SECONDS
from dashboard.sign_in.accounts import SHORTEST_PASSWORD
from dashboard.tests.assumed import Known
from db.file.store import Store
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.privacy.open_package import write_open_package
from db.privacy.retention import KINDS
from modeling.answers.response_model import ResponseModel
from modeling.curve.account import CONSTANTS
from modeling.curve.families import LEAST_NOISE
from modeling.curve.rise_and_fall import DROP, RiseAndFall
from modeling.curve.shapes import DataRange
from modeling.day.caution import WeekRule
from modeling.efforts.spots import DRIFT_DAYS, LENGTH, SESSION_LENGTH, Misfit
from modeling.estimate import BAND
from modeling.fit.engine import CLEARLY, FEWEST_ATHLETES
from modeling.fit.noise import TAILS
from modeling.fit.shared import MARK_SD
from modeling.fit.shared_step import NO_EFFECT_ODDS
from modeling.testing.fade import IN_A_ROW, SHARE, SHARE_OF
from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests import command_reference, data_dictionary
from tests.rooms import MOST_MODULES

ROOT = Path(__file__).parent.parent
DOCUMENTS = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/*.md")])
CODE = ("db", "modeling", "dashboard", "demo_team", "tests")
MODULES = {path.name for package in CODE for path in (ROOT / package).rglob("*.py")}
MOST_WORDS = {"README.md": 900, "DEVELOPERS.md": 1500}
WORDS = {2: "two", 3: "three", 8: "eight"}
DOCUMENTED_SCRIPTS = ROOT / "docs/examples.md"
SCRIPTS = {
    "twitch_rates": r"of 6 people\nthe squad's best single volume: \d+ squats\n",
    "own_spreadsheet": r"A06 +short .* \d+\n",
    "against_other_models": r"response_model: off by [23]\.\d\d % in 142 efforts",
    "season_of_tests": r"2 fade tests, 8 sessions: firm calls for \d+ % .*30 athletes",
    "own_family": r"ours: log evidence [\d.]+, 178 efforts",
}
"""Scripts in the folder `examples`, and what each one must print."""
WEEK, CHANCE = WeekRule(), ResponseModel().firm_chance
UNKNOWN = Known()
CURVE, MISFIT = RiseAndFall(), Misfit()
BEFORE = CURVE.hyperprior(DataRange(1.0, 40.0, 15.0, 0.3, 0.03))
SPREAD = np.sqrt(BEFORE.covariance.diagonal())
ALIKE = BEFORE.covariance[0, 2] / (SPREAD[0] * SPREAD[2])
COMMANDS = get_command(application)
FIGURES = [
    ("DEVELOPERS.md", f"No room has more than {MOST_MODULES} modules"),
    ("README.md", f"its {100 * (BAND[1] - BAND[0]):.0f} % interval"),
    ("README.md", f"where the chance is at least {CHANCE}"),
    ("README.md", f"until {WORDS[IN_A_ROW]} in a row are well below"),
    ("docs/model.md", f"where that chance is at least {CHANCE}"),
    ("docs/model.md", f"until {100 * DROP:.0f} % is lost"),
    ("docs/model.md", f"with fewer than {WORDS[FEWEST_ATHLETES]} athletes the freer one"),
    ("docs/model.md", f"{len(CURVE.rises)} forms of rise and {len(CURVE.falls)} of fall"),
    ("docs/model.md", f"one of {len(CURVE.rises) * len(CURVE.falls)} pairs"),
    ("docs/model.md", f"is ahead by {CLEARLY} for each athlete"),
    ("docs/model.md", f"falls to 1/e over {DRIFT_DAYS:.0f} days"),
    ("docs/model.md", f"chosen among {', '.join(f'{df:.0f}' for df in TAILS[:-1])} and infinity"),
    ("docs/model.md", f"around the geometric mean of the volumes tried, sd {BEFORE.mean_sd[0]}"),
    ("docs/model.md", f"around {100 * np.exp(BEFORE.mean[1]):.0f} %, sd {BEFORE.mean_sd[1]}"),
    ("docs/model.md", f"around twice that volume, sd {BEFORE.mean_sd[2]}"),
    (
        "docs/model.md",
        "sd {:.1f}, {:.1f}, {:.1f}, with".format(*SPREAD),
    ),
    ("docs/model.md", f"with the weight of {BEFORE.athletes:.0f} athletes"),
    ("docs/model.md", f"| correlation of best and hold | {ALIKE:.1f} |"),
    ("docs/model.md", f"| around 0, sd {100 * MARK_SD:.0f} % |"),
    ("docs/model.md", f"at least {100 * LEAST_NOISE:.2f} % of the value"),
    ("docs/model.md", f"no size moves by more than {100 * ResponseModel().tolerance:.0f} %"),
    ("docs/model.md", f"after at most {ResponseModel().rounds} rounds"),
    ("docs/model.md", f"{NO_EFFECT_ODDS:.0f} times likelier without an effect"),
    ("docs/model.md", f"lengths {LENGTH} and {SESSION_LENGTH}"),
    ("docs/model.md", f"{100 * MISFIT.of_gain:.0f} % of what a typical athlete gains"),
    ("docs/model.md", f"{100 * MISFIT.of_session:.0f} % of the sessions' own"),
    ("docs/model.md", f"each told {3 * MISFIT.believed:.0f}/3 of what"),
    ("docs/what-the-numbers-mean.md", f"We are {100 * (BAND[1] - BAND[0]):.0f} % sure"),
    ("docs/what-the-numbers-mean.md", f"A call needs a chance of at least {100 * CHANCE:.0f} %"),
    ("docs/using-it.md", f"until {WORDS[IN_A_ROW]} in a row are well below"),
    ("docs/using-it.md", f"by default {100 * (1 - SHARE):.0f} % in jumps"),
    ("docs/using-it.md", f", {100 * (1 - SHARE_OF['throw']):.0f} % in throws"),
    ("docs/using-it.md", f", {100 * (1 / SHARE_OF['sprint'] - 1):.0f} % slower in sprints"),
    ("docs/using-it.md", f"within {WEEK.hours_before_game:.0f} hours before a game"),
    ("docs/using-it.md", f"{WORDS[WEEK.most_in_week]} in a week"),
    ("docs/using-it.md", f"for 1 to {LONGEST_DAYS} days"),
    (
        "docs/using-it.md",
        f"efforts differ by {UNKNOWN.effort_pct:.0f} % and days by {UNKNOWN.day_pct:.0f} %",
    ),
    ("docs/nothing-lost.md", f"after {Store('').wait_seconds:.0f} seconds"),
    ("docs/nothing-lost.md", f"(pages: {PAGES_WAIT_SECONDS:.0f})"),
    ("docs/sign-in.md", f"for up to {LIFETIME.days} days"),
    ("docs/threat-model.md", f"{SHORTEST_PASSWORD} characters and more"),
    ("docs/threat-model.md", f"sign-ins end after {LIFETIME.days} days"),
    ("docs/privacy.md", f"text {KINDS['set-aside'].default_days // 365} year, or as set"),
    ("docs/privacy.md", f"{KINDS['web-sessions'].default_days} days after their end"),
]
"""Sentences with a figure that comes from the code."""


def by_name(path: Path) -> str:
    return path.name


@pytest.mark.parametrize("name", MOST_WORDS)
def test_the_documents_read_first_are_short(name: str) -> None:
    assert len((ROOT / name).read_text().split()) <= MOST_WORDS[name]


def test_the_command_reference_matches_the_help() -> None:
    again = "Write it anew: python -m tests.command_reference"
    assert command_reference.DOCUMENT.read_text() == command_reference.command_reference(), again


def test_the_data_dictionary_matches_the_newest_schema() -> None:
    again = "Write it anew: python -m tests.data_dictionary"
    assert data_dictionary.DOCUMENT.read_text() == data_dictionary.data_dictionary(), again


def test_the_site_has_every_page_once() -> None:
    lists = re.findall(r"```{toctree}\n(.*?)```", (ROOT / "docs/index.md").read_text(), re.DOTALL)
    listed = [line for part in lists for line in part.split("\n") if line and line[0] != ":"]
    assert sorted(listed) == sorted({path.stem for path in ROOT.glob("docs/*.md")} - {"index"})


@pytest.mark.parametrize("package", [dashboard, modeling])
def test_the_reference_has_every_public_name_once(package: ModuleType) -> None:
    text = (ROOT / "docs/api.md").read_text()
    listed = re.findall(rf"^\.\. auto\w+:: {package.__name__}\.(\w+)$", text, re.MULTILINE)
    assert sorted(listed) == package.__all__


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_local_link_leads_to_a_file(document: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", document.read_text())
    here = [link for link in links if "://" not in link]
    assert [link for link in here if not (document.parent / link).exists()] == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_module_that_a_document_names_exists(document: Path) -> None:
    text = document.read_text()
    named = re.findall(r"`([\w/]+\.py)`", text)
    assert [name for name in named if Path(name).name not in MODULES] == []
    whole = [name for name in named if "/" in name]
    assert [name for name in whole if not (ROOT / name).exists()] == []
    run = re.findall(r"python -m ([\w.]+)", text)
    assert [name for name in run if not (ROOT / f"{name.replace('.', '/')}.py").exists()] == []


@cache
def names_in(path: Path) -> set[str]:
    """Return the names that a module defines, or that a package exports."""
    names: set[str] = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Assign):
            names |= {target.id for target in node.targets if isinstance(target, ast.Name)}
            if names & {"__all__"} and isinstance(node.value, ast.List):
                names |= set(ast.literal_eval(node.value))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.add(node.target.id)
    return names


def names_said_to_be_in_modules(text: str) -> Iterator[tuple[Path, str]]:
    """Yield names written as `room/module.py` (`name`, `name`) or as `package.module.name`."""
    for module, names in re.findall(r"`([\w/]+/\w+\.py)` \(((?:`\w+`(?:, )?)+)\)", text):
        yield from ((ROOT / module, name) for name in re.findall(r"\w+", names))
    for dotted in re.findall(r"`((?:db|modeling|dashboard|demo_team)(?:\.\w+)+)`", text):
        *module, name = dotted.split(".")
        path = ROOT.joinpath(*module)
        yield (path / "__init__.py" if path.is_dir() else path.with_suffix(".py")), name


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_name_that_a_document_places_in_a_module_is_in_it(document: Path) -> None:
    said = list(names_said_to_be_in_modules(document.read_text()))
    assert [(str(path), name) for path, name in said if name not in names_in(path)] == []
    assert said or document.name != "DEVELOPERS.md"


def test_the_code_map_lists_each_module_under_its_room() -> None:
    text = (ROOT / "docs/code-map.md").read_text()
    sections = re.findall(r"^## `([\w/]+)`\n(.*?)(?=^## |\Z)", text, re.DOTALL | re.MULTILINE)
    named = [(room, name) for room, part in sections for name in re.findall(r"`(\w+)`", part)]
    missing = [each for each in named if not ROOT.joinpath(*each).with_suffix(".py").exists()]
    assert named
    assert [(room, name) for room, name in missing if name not in CODE] == []


def unknown_word(line: str) -> str | None:
    """Return the first word of a command line that the commands do not know."""
    command: Any = COMMANDS
    for word in line.split():
        if word in getattr(command, "commands", {}):
            command = command.commands[word]
            continue
        options = {"--help", *(option for each in command.params for option in each.opts)}
        if word not in options and (word.startswith("--") or hasattr(command, "commands")):
            return f"{word} in {line}"
    return None


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_command_that_a_document_names_exists(document: Path) -> None:
    text = document.read_text()
    blocks = "\n".join(re.findall(r"```sh\n(.*?)```", text, re.DOTALL))
    lines = re.findall(r"`warmcurve ([^`]+)`", text) + re.findall(r"warmcurve ([^#\n]+)", blocks)
    lines = [line for line in lines if not line.startswith("COMMAND")]
    assert [unknown for line in lines if (unknown := unknown_word(line))] == []
    assert lines or document.name != "README.md"


@pytest.mark.parametrize(("document", "sentence"), FIGURES)
def test_figures_in_documents_match_the_code(document: str, sentence: str) -> None:
    assert sentence in (ROOT / document).read_text()


def test_the_constants_of_the_account_are_listed_with_their_ranges() -> None:
    part = (ROOT / "docs/model.md").read_text().split("| constant |")[1].split("##")[0]
    lines = [line for line in part.split("\n")[2:] if line]
    assert len(lines) == len(CONSTANTS)
    for line, constant in zip(lines, CONSTANTS, strict=True):
        percent = 100.0 if constant.name.startswith("stretch") else 1.0
        said = [float(number) for number in re.findall(r"-?[\d.]+", line.split("|", 2)[2])]
        assert said == pytest.approx(
            [percent * each for each in (constant.default, constant.low, constant.high)]
        )


@pytest.mark.parametrize("name", ["model", "what-the-numbers-mean"])
def test_quoted_measurements_match_the_benchmarks(name: str) -> None:
    text, measured = ((ROOT / f"docs/{each}.md").read_text() for each in (name, "benchmarks"))
    part = re.split(r"## How (?:it was checked|right it is)\n", text)[1].split("\n## ")[0]
    said = re.findall(r"\d+\.\d+", part)
    rounded = {f"{float(each):.2f}" for each in re.findall(r"\d+\.\d{3}", measured)}
    known = set(re.findall(r"\d+\.\d+", measured)) | rounded
    assert said and [each for each in said if each not in known] == []


def test_the_citation_names_this_version() -> None:
    said = re.findall(r"[Vv]ersion\W+(\d+\.\d+\.\d+)", (ROOT / "docs/citing.md").read_text())
    (filed,) = re.findall(r"^version: (.+)$", (ROOT / "CITATION.cff").read_text(), re.MULTILINE)
    assert {*said, filed} == {modeling.__version__}


def test_ci_runs_the_test_command_of_the_readme() -> None:
    (command,) = re.findall(r"^(.*pytest -n 4)$", (ROOT / "README.md").read_text(), re.MULTILINE)
    assert set(command.split(" && ")) <= set((ROOT / ".ci/run").read_text().split("\n"))


def test_the_notebook_example_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rng = np.random.default_rng(7)
    squad = simulate_squad(simulated_truths("Ricker", 7, rng), Protocol(1, 2), Noise(), rng)
    squad.to_csv(tmp_path / "efforts.csv", index=False)
    monkeypatch.chdir(tmp_path)
    exec_examples(ROOT / "README.md")
    told = capsys.readouterr().out
    assert "Estimate(median=" in told
    assert "best_volume" in told and "effort_high" in told


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
def test_the_python_examples_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write_example_files(tmp_path)
    club = Store(tmp_path / "club.duckdb")
    club.create()
    rows = pd.read_csv(tmp_path / "efforts.csv").assign(measure="jump_height")
    rows["effort"] = rows.groupby(["athlete", "started_at"]).cumcount() + 1
    file = read_table(rows.to_csv(index=False).encode(), "efforts.csv")
    import_efforts(club, file, "test", add_athletes=True)
    write_open_package(club, tmp_path / "open.zip")
    monkeypatch.chdir(tmp_path)
    exec_examples(ROOT / "docs/python.md")
    assert all((tmp_path / f"{name}.html").exists() for name in ("curve", "squad", "checks"))
    told = capsys.readouterr().out
    assert "Length(volume=" in told and "effort_high" in told
    assert len(re.findall(r"^\[.*\]$", told, re.MULTILINE)) == 2, "two lists of scores"


def write_example_files(folder: Path) -> None:
    """Write the files that the examples read: a squad's efforts, and two with fade tests only."""
    rng = np.random.default_rng(7)
    squad = simulate_squad(simulated_truths("Ricker", 6, rng), Protocol(1, 2), Noise(), rng)
    began = pd.Timestamp("2026-03-02T17:00") + pd.to_timedelta(squad["day"], unit="D")
    efforts = squad.drop(columns=["session", "day"]).rename(columns={"volume": "volume_before"})
    efforts.insert(1, "started_at", began.dt.strftime("%Y-%m-%dT%H:%M"))
    efforts.to_csv(folder / "efforts.csv", index=False)
    twitches = efforts[efforts["kind"] == "fade"].assign(measure="twitch_rate")
    twitches = twitches.assign(athlete=twitches["athlete"].str.replace("A", "T"))
    twitches.to_csv(folder / "twitch_efforts.csv", index=False)
    jumps = efforts[efforts["kind"] == "fade"]
    columns = {
        "Player": jumps["athlete"],
        "Date": jumps["started_at"].str[:10],
        "Start": jumps["started_at"].str[11:],
        "Jump": jumps["volume_before"].astype(int) + 1,
        "Height": jumps["value"],
    }
    pd.DataFrame(columns).to_excel(folder / "our_jumps.xlsx", index=False)


@pytest.mark.filterwarnings("ignore::modeling.errors.SquadGuessWarning")
@pytest.mark.filterwarnings("ignore::sklearn.exceptions.ConvergenceWarning")
@pytest.mark.filterwarnings("ignore::statsmodels.tools.sm_exceptions.ConvergenceWarning")
@pytest.mark.parametrize(("script", "told"), SCRIPTS.items(), ids=[*SCRIPTS])
def test_an_example_script_runs(
    script: str,
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    write_example_files(tmp_path)
    monkeypatch.chdir(tmp_path)
    runpy.run_path(str(ROOT / "examples" / f"{script}.py"))
    said = capsys.readouterr().out
    assert re.search(told, said), said
    assert not re.search(r"\bnan\b|\bNone\b", said)


def test_every_example_script_is_shown_and_run() -> None:
    shown = re.findall(r"{literalinclude} \.\./examples/(\w+)\.py", DOCUMENTED_SCRIPTS.read_text())
    assert sorted(shown) == sorted(SCRIPTS) == sorted(p.stem for p in ROOT.glob("examples/*.py"))


def test_ten_lines_lead_from_nothing_to_a_curve() -> None:
    text = (ROOT / "docs/python.md").read_text()
    part = text[text.index("## Ten lines") : text.index("## Your own efforts")]
    blocks = re.findall(r"```\w+\n(.*?)```", part, re.DOTALL)
    lines = [line for block in blocks for line in block.split("\n") if line.strip()]
    assert lines[0].startswith("pip install") and "plot_curve" in lines[-1]
    assert len(lines) <= 10


def exec_examples(document: Path) -> None:
    """Run all the Python that a document shows, as one program."""
    examples = re.findall(r"```python\n(.*?)```", document.read_text(), re.DOTALL)
    exec(compile("\n".join(examples), document.name, "exec"), {})
