"""The examples in docstrings give what they say, and the packages say what they are."""

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
def test_an_example_gives_what_it_says(name: str) -> None:
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0
    assert found.failed == 0


def test_the_version_stands_once_and_is_that_of_the_package() -> None:
    described = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert modeling.__version__ == described["project"]["version"]


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_says_that_it_is_typed(package: str) -> None:
    assert (ROOT / package / "py.typed").exists()
