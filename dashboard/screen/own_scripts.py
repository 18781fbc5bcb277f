"""Our own scripts in the browser: Streamlit serves them as files, which our policy allows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.components.v2.get_bidi_component_manager import get_bidi_component_manager
from streamlit.components.v2.manifest_scanner import ComponentConfig, ComponentManifest

PACKAGE = "warmcurve"
FOLDER = Path(__file__).parents[1] / "assets"


def own_script(name: str, html: str = "", css: str | None = None) -> Any:
    """Return a function that shows the component with `name.js` in the folder `assets/name`.

    Parameters
    ----------
    name : str
        The component and its folder.
    html : str
        What the script finds on the page.
    css : str or None
        The name of its style sheet in the folder.
    """
    manager, full_name = get_bidi_component_manager(), f"{PACKAGE}.{name}"
    if manager.get_component_asset_root(full_name) is None:
        manifest = ComponentManifest(PACKAGE, "1", [ComponentConfig(name, name)])
        manager.register_from_manifest(manifest, FOLDER)
    return st.components.v2.component(full_name, html=html, css=css, js=f"{name}.js")
