"""How many faults planted in the code its tests find (mutation testing).

    python -m tests.benchmarks.planted_breaks --each 20 --seed 1

picks places in `modeling/fit` and `db/imports` with a fixed seed, and changes one thing at each: a
comparison is flipped, a number changed, plus and minus swapped, an answer replaced, or a condition
negated. Then the tests of that room run against a copy of the tree, never in place, until the
first one fails. It prints a table in Markdown, one line for each fault. A fault that no test found
either changes nothing that matters, or needs a new test. `--only` runs some of them again.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import resource
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd

from tests.benchmarks.markdown import table

__all__ = ["KINDS", "Fault", "broken", "chosen", "main", "places"]

ROOT = Path(__file__).parents[2]
COPIED = ("db", "modeling", "dashboard", "demo_team", "tests", "docs", "pyproject.toml")
CHEAPEST_FIRST = {
    "modeling/fit": (
        "noise",
        "families_tried",
        "learned",
        "hard_cases",
        "published_fits",
        "account",
        "engine_recovery",
    ),
    "db/imports": ("imports", "mappings", "corrections", "import_undo", "sampled_rows"),
}
"""Test files of each room that run before its others."""
LONGEST_CPU_SECONDS = 600
"""Limit for one run, several times what a room's tests take: it finds faults that never end."""
LONGEST_SECONDS = 1800

FLIPPED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
SWAPPED: dict[type[ast.operator], type[ast.operator]] = {ast.Add: ast.Sub, ast.Sub: ast.Add}


@dataclass(frozen=True)
class Fault:
    """One change: its file, its kind, and the index of its place among those of that kind."""

    file: str
    kind: str
    place: int


def places(tree: ast.AST, kind: str) -> list[ast.AST]:
    """Return the nodes of a module where a kind of fault can be planted, in reading order."""
    fits, _ = KINDS[kind]
    return [node for node in _outside_annotations(tree) if fits(node)]


def broken(source: str, kind: str, place: int) -> tuple[str, int, str]:
    """Return a module with a planted fault, the line of the fault, and the change in words."""
    tree = ast.parse(source)
    node = places(tree, kind)[place]
    assert isinstance(node, ast.expr | ast.stmt), "what can be broken stands on a line"
    before, line = ast.unparse(node), node.lineno
    _, plant = KINDS[kind]
    plant(node)
    return ast.unparse(tree), line, f"{_short(before)} → {_short(ast.unparse(node))}"


def chosen(room: str, each: int, seed: int) -> list[Fault]:
    """Return `each` different faults in a room, taking the kinds in turn."""
    found = {
        kind: [
            Fault(str(path.relative_to(ROOT)), kind, place)
            for path in sorted((ROOT / room).glob("*.py"))
            for place in range(len(places(ast.parse(path.read_text(encoding="utf-8")), kind)))
        ]
        for kind in KINDS
    }
    draw = random.Random(seed)
    for faults in found.values():
        draw.shuffle(faults)
    return [found[list(KINDS)[number % len(KINDS)]].pop() for number in range(each)]


def main(words: Sequence[str] | None = None) -> int:
    """Plant faults and print which were found; return status 1 if one was not."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--each", type=int, default=20, help="Faults in each room.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", choices=list(CHEAPEST_FIRST), action="append")
    parser.add_argument("--only", type=int, nargs="*", help="Numbers of the table to run again.")
    parser.add_argument("--leave-out", nargs="*", default=[], help="Tests that fail anyway.")
    asked = parser.parse_args(words)
    left_out = [word for test in asked.leave_out for word in ("--deselect", test)]
    rows, missed = [], 0
    with TemporaryDirectory() as folder:
        copy = Path(folder)
        _copy_tree(copy)
        for room in asked.room or CHEAPEST_FIRST:
            for number, fault in enumerate(chosen(room, asked.each, asked.seed), start=1):
                if asked.only and number not in asked.only:
                    continue
                line, told, by = _tried(copy, fault, [*left_out, *_tests(room)])
                rows.append([f"{room} {number}", f"{fault.file}:{line}", fault.kind, told, by])
                missed += by == "nobody"
                print(*rows[-1], sep=" | ", file=sys.stderr, flush=True)
        anyway = _failing(copy, {row[-1] for row in rows if "::" in row[-1]})
    columns = ["number", "place", "kind", "change", "found by"]
    print(table(pd.DataFrame(rows, columns=columns).set_index("number")))
    if anyway:
        print(f"\nThese fail without a fault as well: {', '.join(anyway)}.")
    print(f"\n{len(rows) - missed} of {len(rows)} were found.")
    return int(missed > 0 or bool(anyway))


def _copy_tree(copy: Path) -> None:
    for name in COPIED:
        if (ROOT / name).is_dir():
            leave = shutil.ignore_patterns("__pycache__")
            shutil.copytree(ROOT / name, copy / name, ignore=leave)
        else:
            shutil.copy(ROOT / name, copy / name)


def _failing(copy: Path, tests: set[str]) -> list[str]:
    """Return the tests that also fail without any fault, and so have found none."""
    done = _run(copy, ["-rf", *sorted(tests)]) if tests else None
    return re.findall(r"^FAILED (.+?)(?: - |$)", done.stdout, re.MULTILINE) if done else []


def _tests(room: str) -> list[str]:
    first = [f"tests/{room}/test_{name}.py" for name in CHEAPEST_FIRST[room]]
    found = [str(path.relative_to(ROOT)) for path in sorted((ROOT / "tests" / room).glob("test_*"))]
    return [*first, *(path for path in found if path not in first)]


def _tried(copy: Path, fault: Fault, tests: Sequence[str]) -> tuple[int, str, str]:
    path = copy / fault.file
    whole = path.read_text(encoding="utf-8")
    changed, line, told = broken(whole, fault.kind, fault.place)
    _write(path, changed)
    try:
        done = _run(copy, ["-x", *tests])
    except subprocess.TimeoutExpired:
        return line, told, "no end"
    finally:
        _write(path, whole)
    if done.returncode == 0:
        return line, told, "nobody"
    found = re.search(r"^(?:FAILED|ERROR) (.+?)(?: - |$)", done.stdout, re.MULTILINE)
    return line, told, found[1] if found else f"status {done.returncode}"


_written = iter(range(1_000_000_000, 2_000_000_000))


def _write(path: Path, text: str) -> None:
    """Write a module with a new time stamp, or Python might use what it compiled before."""
    path.write_text(text, encoding="utf-8")
    moment = next(_written)
    os.utime(path, (moment, moment))


def _run(copy: Path, words: Sequence[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "no:cacheprovider", *words],
        cwd=copy,
        env=os.environ | {"PYTHONPATH": str(copy)},
        capture_output=True,
        text=True,
        timeout=LONGEST_SECONDS,
        preexec_fn=_limit,
        check=False,
    )


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_CPU_SECONDS, LONGEST_CPU_SECONDS))


def _outside_annotations(tree: ast.AST) -> Iterator[ast.AST]:
    """Yield every node except type annotations, which no code computes with."""
    yield tree
    for field, value in ast.iter_fields(tree):
        if field in ("annotation", "returns"):
            continue
        for node in value if isinstance(value, list) else [value]:
            if isinstance(node, ast.AST):
                yield from _outside_annotations(node)


def _short(text: str, most: int = 60) -> str:
    line = " ".join(text.split()).replace("|", "\\|")
    return f"`{line}`" if len(line) <= most else f"`{line[:most]}…`"


def _flip(node: ast.AST) -> None:
    assert isinstance(node, ast.Compare)
    node.ops[0] = FLIPPED[type(node.ops[0])]()


def _change(node: ast.AST) -> None:
    assert isinstance(node, ast.Constant)
    node.value = node.value * 2 + 1


def _swap(node: ast.AST) -> None:
    assert isinstance(node, ast.BinOp)
    node.op = SWAPPED[type(node.op)]()


def _replace(node: ast.AST) -> None:
    assert isinstance(node, ast.Return)
    node.value = ast.Constant(None)


def _negate(node: ast.AST) -> None:
    assert isinstance(node, ast.If | ast.IfExp | ast.While)
    node.test = ast.UnaryOp(ast.Not(), node.test)


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def _is_sum(node: ast.AST) -> bool:
    """Tell whether a node is a sum of numbers; any test would notice a minus between texts."""
    return (
        isinstance(node, ast.BinOp)
        and type(node.op) in SWAPPED
        and not any(
            isinstance(each, ast.JoinedStr) or isinstance(getattr(each, "value", 0), str)
            for each in ast.walk(node)
        )
    )


KINDS: dict[str, tuple[Callable[[ast.AST], bool], Callable[[ast.AST], None]]] = {
    "comparison flipped": (lambda node: isinstance(node, ast.Compare), _flip),
    "number changed": (_is_number, _change),
    "plus and minus swapped": (_is_sum, _swap),
    "answer replaced": (
        lambda node: isinstance(node, ast.Return) and not isinstance(node.value, ast.Constant),
        _replace,
    ),
    "condition negated": (lambda node: isinstance(node, ast.If | ast.IfExp | ast.While), _negate),
}
"""For each kind, whether a node can take it, and how to plant it."""


if __name__ == "__main__":
    sys.exit(main())
