"""What the documents say of the code is so, as far as a test can tell."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from modeling.testing.simulation import Noise, Protocol, simulate_squad, simulated_truths
from tests import command_reference, data_dictionary

ROOT = Path(__file__).parent.parent
DOCUMENTS = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *ROOT.glob("docs/*.md")])
MOST_WORDS = {"README.md": 900, "DEVELOPERS.md": 1500}


def by_name(path: Path) -> str:
    return path.name


@pytest.mark.parametrize("name", MOST_WORDS)
def test_what_is_read_first_is_short(name: str) -> None:
    assert len((ROOT / name).read_text().split()) <= MOST_WORDS[name]


def test_the_commands_are_described_as_their_help_has_them() -> None:
    again = "Write it anew: python -m tests.command_reference"
    assert command_reference.DOCUMENT.read_text() == command_reference.command_reference(), again


def test_the_data_dictionary_is_that_of_the_newest_schema() -> None:
    again = "Write it anew: python -m tests.data_dictionary"
    assert data_dictionary.DOCUMENT.read_text() == data_dictionary.data_dictionary(), again


def test_the_site_has_every_page_once() -> None:
    lists = re.findall(r"```{toctree}\n(.*?)```", (ROOT / "docs/index.md").read_text(), re.DOTALL)
    listed = [line for part in lists for line in part.split("\n") if line and line[0] != ":"]
    assert sorted(listed) == sorted({path.stem for path in ROOT.glob("docs/*.md")} - {"index"})


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_link_leads_to_a_file(document: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)\)", document.read_text())
    here = [link for link in links if "://" not in link]
    assert [link for link in here if not (document.parent / link).exists()] == []


@pytest.mark.parametrize("document", DOCUMENTS, ids=by_name)
def test_every_module_that_is_named_is_there(document: Path) -> None:
    text = document.read_text()
    modules = {path.name for path in ROOT.glob("*/**/*.py") if ".venv" not in path.parts}
    named = re.findall(r"`([\w/]+\.py)`", text)
    assert [name for name in named if Path(name).name not in modules] == []
    whole = [name for name in named if "/" in name]
    assert [name for name in whole if not (ROOT / name).exists()] == []
    run = re.findall(r"python -m ([\w.]+)", text)
    assert [name for name in run if not (ROOT / f"{name.replace('.', '/')}.py").exists()] == []


def test_the_notebook_example_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rng = np.random.default_rng(7)
    squad = simulate_squad(simulated_truths("Ricker", 7, rng), Protocol(1, 2), Noise(), rng)
    squad.to_csv(tmp_path / "efforts.csv", index=False)
    monkeypatch.chdir(tmp_path)
    (example,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.DOTALL)
    exec(compile(example, "README.md", "exec"), {})
    assert "Estimate(median=" in capsys.readouterr().out
