"""The examples in docstrings work, and the packages declare their version and their types."""

from __future__ import annotations

import doctest
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

import modeling

ROOT = Path(__file__).parents[1]
PACKAGES = ("db", "modeling", "dashboard", "demo_team")
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for package in PACKAGES
    for path in (ROOT / package).rglob("*.py")
    if ">>>" in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_docstring_examples_give_what_they_say(name: str) -> None:
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


def test_the_package_has_the_version_of_the_project_file() -> None:
    described = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert modeling.__version__ == described["project"]["version"]


@pytest.mark.parametrize("package", PACKAGES)
def test_every_package_is_marked_as_typed(package: str) -> None:
    assert (ROOT / package / "py.typed").exists()
