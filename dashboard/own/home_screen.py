"""What a phone needs to put the athlete's page on its home screen: a name, an icon, an address.

It always loads the page afresh and saves no copy. Anybody who has the phone could read a copy
saved for use without a network, and neither signing out elsewhere nor erasing the athlete would
reach it. For a hall without a network, athletes can download files themselves.
"""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from dashboard.serving.gate import OWN_PATH

MANIFEST_PATH, ICON_PATH = f"{OWN_PATH}/app.webmanifest", f"{OWN_PATH}/icon.png"
ICON = Path(__file__).parents[1] / "assets" / "home_screen.png"
FOR_A_DAY = {"Cache-Control": "private, max-age=86400"}
MANIFEST = {
    "name": "My warm-up",
    "short_name": "Warm-up",
    "start_url": f"..{OWN_PATH}",
    "scope": "../",
    "display": "minimal-ui",
    "background_color": "#F3F5F8",
    "theme_color": "#5B4BC4",
    "icons": [
        {
            "src": ICON_PATH.rpartition("/")[2],
            "sizes": "512x512",
            "type": "image/png",
            "purpose": "any maskable",
        }
    ],
}


async def manifest(_request: Request) -> Response:
    """Return the web app manifest, which says how the page looks on a home screen."""
    kind = "application/manifest+json"
    return JSONResponse(MANIFEST, headers=FOR_A_DAY, media_type=kind)


async def icon(_request: Request) -> Response:
    """Return the icon for the home screen."""
    return FileResponse(ICON, headers=FOR_A_DAY, media_type="image/png")
