from __future__ import annotations

from importlib.metadata import version as installed

project = "warmcurve"
author = "the warmcurve contributors"
version = release = installed("warmcurve")
extensions = ["myst_parser"]
myst_heading_anchors = 3
html_theme = "furo"
html_title = f"warmcurve {release}"
html_copy_source = False
html_show_copyright = False
