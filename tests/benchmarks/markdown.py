"""Tables in the format of docs/benchmarks.md."""

from __future__ import annotations

import pandas as pd

__all__ = ["table"]


def table(frame: pd.DataFrame, form: str = "{:.2f}") -> str:
    """Write a frame with its index as a Markdown table; missing values become a dash."""
    head = [str(frame.index.name or ""), *map(str, frame.columns)]
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for name, row in zip(frame.index, frame.itertuples(index=False), strict=True):
        lines.append("| " + " | ".join([str(name), *(_cell(value, form) for value in row)]) + " |")
    return "\n".join(lines)


def _cell(value: object, form: str) -> str:
    if isinstance(value, float):
        return "-" if value != value else form.format(value)
    return str(value)
