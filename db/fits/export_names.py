"""What can be exported; a module of its own, so commands can list it without loading exports."""

from __future__ import annotations

from typing import Literal, get_args

ExportName = Literal[
    "responses", "curves", "bands", "reliability", "next-tests", "squad", "efforts", "set-aside"
]
EXPORTS: tuple[ExportName, ...] = get_args(ExportName)

Written = Literal[ExportName, "package"]
"""What the command writes: an export, or efforts for research as an open package."""
WRITTEN: tuple[Written, ...] = get_args(Written)
