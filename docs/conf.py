from __future__ import annotations

from importlib.metadata import version as installed
from typing import Any

project = "warmcurve"
author = "the warmcurve contributors"
version = release = installed("warmcurve")
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
autodoc_typehints = "none"  # docstrings give types, with shapes
napoleon_google_docstring = False
napoleon_use_rtype = False
default_role = "code"  # names are between single backticks
myst_heading_anchors = 3
html_theme = "furo"
html_title = f"warmcurve {release}"
html_copy_source = False
html_show_copyright = False

LABELS = ("Missing values:", "Errors:", "Source:")


def setup(application: Any) -> None:
    """Make each labelled line of a docstring a paragraph of its own."""
    application.connect("autodoc-process-docstring", _apart)


def _apart(*event: Any) -> None:
    lines = event[-1]
    apart = [[""] * line.strip().startswith(LABELS) + [line] for line in lines]
    lines[:] = [line for each in apart for line in each]
