"""The help of every command as one document, made from the commands themselves.

    python -m tests.command_reference

writes `docs/commands.md`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.main import get_command

from dashboard.app.command_line import application

DOCUMENT = Path(__file__).parents[1] / "docs" / "commands.md"
WIDTH = 80
BEGINNING = """# Commands

The help of every command, as `warmcurve COMMAND --help` prints it. This page is made from the
commands by `python -m tests.command_reference`.
"""


def command_reference() -> str:
    """Write a heading and the help of each command; a group comes before its commands."""
    return "\n".join([BEGINNING, *_sections(get_command(application), "warmcurve")])


def _sections(command: Any, name: str) -> Iterator[str]:
    context = type(command).context_class(command, info_name=name, terminal_width=WIDTH)
    yield f"## {name}\n\n```text\n{command.get_help(context)}\n```\n"
    for word, under in getattr(command, "commands", {}).items():
        yield from _sections(under, f"{name} {word}")


if __name__ == "__main__":
    DOCUMENT.write_text(command_reference(), encoding="utf-8")
