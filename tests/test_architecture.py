"""Imports point one way, and modules and functions are short."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.rooms import AT_THE_DOOR, MOST_MODULES, ROOMS
from tests.rooms_picture import PICTURE, picture

ROOT = Path(__file__).parents[1]
OURS = {"db", "modeling", "dashboard", "demo_team"}
MAY_IMPORT = {
    "db": set(),
    "modeling": set(),
    "dashboard": {"db", "modeling", "demo_team"},
    "demo_team": {"modeling"},
}
SCREENS = {"streamlit", "plotly"}
MOST_LINES, MOST_LINES_OF_FUNCTION = 300, 60
"""The most lines a module may have, and a function without its docstring."""


def imports_of(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            names.add(node.module.split(".")[0])
    return names


@pytest.mark.parametrize("package", sorted(OURS))
def test_imports_point_one_way(package: str) -> None:
    files = sorted((ROOT / package).rglob("*.py"))
    assert files
    allowed = MAY_IMPORT[package] | {package}
    for path in files:
        found = imports_of(path)
        assert found & OURS <= allowed, f"{path} imports {found & OURS - allowed}"
        if package in ("db", "modeling"):
            assert not found & SCREENS, f"{path} imports {found & SCREENS}"
        if package == "modeling":
            assert "duckdb" not in found, f"{path} imports duckdb"


@pytest.mark.parametrize("package", ROOMS)
def test_rooms_have_the_doors_of_the_table_and_no_others(package: str) -> None:
    doors = {room.name: set(room.doors_to) for room in ROOMS[package]}
    folders = {path.parent.name for path in (ROOT / package).glob("*/__init__.py")}
    assert folders == set(doors)
    below: set[str] = set()
    for room, others in doors.items():
        assert others <= below, f"{room} has a door upwards, to {others - below}"
        below.add(room)
        modules = [path for path in (ROOT / package / room).glob("*.py") if path.stem != "__init__"]
        assert len(modules) <= MOST_MODULES, room
        used = {each for path in modules for each in _rooms_used(path, package)} - {room}
        assert used - AT_THE_DOOR[package] == others, f"{package}/{room}"
    outside = {path.stem for path in (ROOT / package).glob("*.py")} - {"__init__"}
    assert outside == AT_THE_DOOR[package]


def test_the_picture_shows_the_rooms_of_the_table() -> None:
    again = "Draw it anew: python -m tests.rooms_picture"
    assert PICTURE.read_text(encoding="utf-8") == picture(), again


@pytest.mark.parametrize("package", ROOMS)
def test_modules_and_functions_are_short(package: str) -> None:
    too_long = []
    for path in sorted((ROOT / package).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if len(text.splitlines()) > MOST_LINES:
            too_long.append(str(path.relative_to(ROOT)))
        too_long += [
            f"{path.relative_to(ROOT)}, {node.name}"
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
            and _lines_of(node) > MOST_LINES_OF_FUNCTION
        ]
    assert too_long == []


def _lines_of(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Count the lines of a function from its `def` on, leaving out its docstring."""
    first, last = function.lineno, function.end_lineno or function.lineno
    described = function.body[0] if ast.get_docstring(function, clean=False) is not None else None
    docstring = 1 + (described.end_lineno or 0) - described.lineno if described else 0
    return 1 + last - first - docstring


def _rooms_used(path: Path, package: str) -> set[str]:
    """Return the rooms of its own package that a module imports from, also inside functions."""
    used: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            first, *rest = node.module.split(".")
            if first == package:
                used |= {rest[0]} if rest else {alias.name for alias in node.names}
    return used


@pytest.mark.parametrize(
    ("statement", "kept_out"),
    [
        ("import modeling.answers.response_model", "duckdb streamlit plotly db dashboard"),
        (
            "import modeling.day.goal_advice, modeling.day.bench_time, modeling.day.demand",
            "scipy sklearn",
        ),
        ("import db", "streamlit plotly sklearn modeling dashboard"),
        ("import dashboard.app.command_line", "streamlit plotly sklearn modeling"),
        ("import dashboard.app.serve", "streamlit plotly sklearn pandas"),
    ],
)
def test_nothing_heavy_or_foreign_is_loaded(statement: str, kept_out: str) -> None:
    code = f"{statement}; import sys; print([n for n in {kept_out.split()} if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_only_one_module_of_the_dashboard_fits_models() -> None:
    fitting = {
        path.name
        for path in (ROOT / "dashboard").rglob("*.py")
        if "ResponseModel(" in path.read_text(encoding="utf-8")
    }
    assert fitting == {"fitting.py"}


def test_tests_wait_for_a_state_and_never_for_a_fixed_time() -> None:
    """A check that needs seconds of waiting to tell right from wrong is a benchmark."""
    pauses = []
    for path in (ROOT / "tests").rglob("*.py"):
        if path.parent.name == "benchmarks":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and (_pauses(node) or _bounded_by_a_number(node)):
                pauses.append(f"{path}:{node.lineno}")
    assert pauses == [], "Wait for a state; PATIENCE_SECONDS bounds a hang."


def test_no_test_module_fixes_the_day_when_it_is_loaded() -> None:
    """A run that begins before midnight must still pass after it."""
    kept = [
        f"{path}:{node.lineno}"
        for path in (ROOT / "tests").rglob("*.py")
        if path.parent.name != "benchmarks"
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.Assign)
        and any(part in ast.unparse(node.value) for part in (".today()", ".now("))
    ]
    assert kept == [], "Ask for the day in the test."


def _pauses(call: ast.Call) -> bool:
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    return name in {"sleep", "wait_for_timeout"}


def _bounded_by_a_number(call: ast.Call) -> bool:
    return any(
        word.arg in {"timeout", "default_timeout"} and isinstance(word.value, ast.Constant)
        for word in call.keywords
    )
