"""The files for running a server use only settings that the program knows."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from dashboard.app.command_line import application
from tests.patience import PATIENCE_SECONDS

ROOT = Path(__file__).parent.parent
FOLDER, PAGE = ROOT / "deploy", ROOT / "docs/deployment.md"
UNIT = FOLDER / "warmcurve@.service"
BESIDE = {"WARMCURVE_DB", "WARMCURVE_BACKUP_PASSPHRASE"}
"""Variables that no option of `serve` adds to the list (`--db` is left out of it)."""
OF_OTHERS = {"WARMCURVE_NAME"}
"""Variables of the compose file and its proxy, not of ours."""


def variables() -> set[str]:
    """Return the environment variables of the options of `serve`."""
    params = get_command(application).commands["serve"].params
    told = {each.opts[0]: each.envvar for each in params if each.opts[0] not in ("--db", "--help")}
    assert all(told.values()), "every option of serve is taken from the environment"
    return {str(name) for name in told.values()}


@pytest.mark.parametrize("file", sorted(FOLDER.iterdir()), ids=lambda file: file.name)
def test_every_variable_that_a_file_names_is_known(file: Path) -> None:
    named = set(re.findall(r"WARMCURVE_[A-Z_]+", file.read_text()))
    assert named <= variables() | BESIDE | OF_OTHERS


def test_the_page_names_every_variable_and_every_file() -> None:
    text = PAGE.read_text()
    assert set(re.findall(r"`(WARMCURVE_[A-Z_]+)", text)) - OF_OTHERS == variables() | BESIDE
    for file in FOLDER.iterdir():
        assert f"deploy/{file.name}" in text, file.name


def test_the_container_is_not_root_and_can_write_in_one_place_only() -> None:
    text = (FOLDER / "Containerfile").read_text()
    *_, last = text.split("\nFROM ")
    assert re.search(r"^USER \d+:\d+$", last, re.MULTILINE)
    assert re.findall(r"^VOLUME (.+)$", last, re.MULTILINE) == ["/data"]
    assert "/healthz" in re.search(r"^HEALTHCHECK .*\n.*$", last, re.MULTILINE)[0]
    compose = (FOLDER / "compose.yaml").read_text()
    _, served = compose.split("\n  club:\n")
    assert "read_only: true" in served and "network_mode: service:proxy" in served
    assert "ports:" not in served, "nothing but the proxy reaches it"


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="there is no systemd here")
def test_systemd_accepts_the_unit(tmp_path: Path) -> None:
    text = UNIT.read_text()
    assert "ExecStart=/opt/warmcurve/bin/warmcurve serve" in text
    unit = tmp_path / "warmcurve@club.service"
    unit.write_text(text.replace("/opt/warmcurve/bin/warmcurve", sys.executable))
    for words in (["verify"], ["security", "--offline=true", "--threshold=20"]):
        done = subprocess.run(
            ["systemd-analyze", *words, str(unit)],
            capture_output=True,
            text=True,
            timeout=PATIENCE_SECONDS,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
