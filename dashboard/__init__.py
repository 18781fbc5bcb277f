"""The team dashboard, with figures and a view of a store for notebooks.

Each name is loaded only when it is used, because commands and pages need none of them.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dashboard.notebook.figures import CheckFigures, plot_checks, plot_curve, plot_squad
    from dashboard.notebook.open_package import OpenPackage, open_package
    from dashboard.notebook.store_frames import StoreFrames, open_store

__all__ = [
    "CheckFigures",
    "OpenPackage",
    "StoreFrames",
    "open_package",
    "open_store",
    "plot_checks",
    "plot_curve",
    "plot_squad",
]

_MODULES = {
    "CheckFigures": "figures",
    "OpenPackage": "open_package",
    "StoreFrames": "store_frames",
    "open_package": "open_package",
    "open_store": "store_frames",
    "plot_checks": "figures",
    "plot_curve": "figures",
    "plot_squad": "figures",
}


def __getattr__(name: str) -> object:
    if name in _MODULES:
        return getattr(import_module(f"dashboard.notebook.{_MODULES[name]}"), name)
    raise AttributeError(f"module 'dashboard' has no attribute '{name}'")
