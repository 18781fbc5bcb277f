"""Every public name documents its types, units, missing values, errors and source."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from types import ModuleType
from typing import Any

import pytest

import dashboard
import modeling

LABELS = ("Units:", "Missing values:", "Source:")
"""Labels that a docstring has on lines of their own, or that of its class for all methods."""

HEADING = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
OURS = ("modeling", "dashboard")
OFFERED = [
    (name, getattr(package, name)) for package in (modeling, dashboard) for name in package.__all__
]
READ = {
    name
    for _, each in OFFERED
    if isinstance(each, type)
    for name, part in inspect.getmembers(each, lambda part: isinstance(part, property))
}
"""Properties need no section Returns: their docstring already says what they give."""


def public() -> Iterator[tuple[str, Any, str]]:
    """Yield each public name, and each public part of a class with the docstring of its class."""
    for name, thing in OFFERED:
        yield name, thing, ""
        if isinstance(thing, type):
            said = inspect.getdoc(thing) or ""
            yield from ((f"{name}.{own}", part, said) for own, part in parts(thing))


def parts(thing: type) -> Iterator[tuple[str, Any]]:
    """Yield our own public methods and properties, each once."""
    seen = set()
    for each in thing.__mro__:
        if not each.__module__.startswith(OURS):
            continue
        for name, part in vars(each).items():
            part = getattr(part, "__func__", part)  # a class method
            part = getattr(part, "fget", part)  # a property
            if inspect.isfunction(part) and name[0] != "_" and name not in seen:
                seen.add(name)
                yield name, part


PUBLIC = list(public())
NAMES = [name for name, _, _ in PUBLIC]


def sections(text: str) -> dict[str, str]:
    """Split a numpydoc docstring at its headings."""
    _, *cut = HEADING.split(text)
    return dict(zip(cut[::2], cut[1::2], strict=True))


def described(section: str) -> dict[str, str]:
    """Return the types of the names that a section lists, by name."""
    listed = re.findall(r"^(\w[\w, ]*?)(?: : (.+))?$", section, re.MULTILINE)
    return {name: kind for names, kind in listed for name in names.split(", ")}


def asked_of(thing: Any) -> list[str]:
    """Return the names that must be described: parameters, or the fields of a result."""
    if isinstance(thing, type) and is_dataclass(thing):
        return [each.name for each in fields(thing)]
    if isinstance(thing, type) and issubclass(thing, Exception | Warning):
        return []
    names = list(inspect.signature(thing).parameters)
    return [name for name in names if name not in ("self", "cls")]


@pytest.mark.parametrize(("name", "thing", "of_class"), PUBLIC, ids=NAMES)
def test_public_names_say_what_they_take_return_and_raise(
    name: str, thing: Any, of_class: str
) -> None:
    text = inspect.getdoc(thing) or ""
    found = sections(text)
    told = described(found.get("Parameters", "")) | described(found.get("Attributes", ""))
    untyped = [each for each in asked_of(thing) if not told.get(each)]
    assert not untyped, f"{name} does not say of what type {untyped} is"
    for label in LABELS:
        assert re.search(rf"^\s*{label} \S", f"{text}\n{of_class}", re.MULTILINE), (name, label)
    if isinstance(thing, type):
        return
    known = "Errors: " in of_class
    assert known or "Raises" in found, f"{name} does not say what it raises"
    given = inspect.signature(thing).return_annotation
    assert given is not inspect.Signature.empty, f"{name} has no type for what it gives"
    is_read = name.rpartition(".")[2] in READ
    assert is_read or given in ("None", None) or "Returns" in found, (
        f"{name} says not what it gives"
    )


@pytest.mark.parametrize("package", [modeling, dashboard])
def test_every_public_name_is_sorted_and_has_a_module(package: ModuleType) -> None:
    assert sorted(package.__all__) == package.__all__
    assert set(package.__all__) == set(package._MODULES)
    with pytest.raises(AttributeError, match="no attribute 'Anything'"):
        package.__getattr__("Anything")
