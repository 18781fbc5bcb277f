"""What lets a phone keep the athlete's page on its home screen: a name, an icon, an address.

It opens the page as it is then, and keeps nothing of it: a copy that a script kept for when there
is no network could be read by whoever has the phone, and neither a sign-out elsewhere nor an
erasure would reach it. For the hall without a network there are files that athletes take
themselves.
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
    """Say how the page stands on a home screen."""
    kind = "application/manifest+json"
    return JSONResponse(MANIFEST, headers=FOR_A_DAY, media_type=kind)


async def icon(_request: Request) -> Response:
    """Return the icon for it."""
    return FileResponse(ICON, headers=FOR_A_DAY, media_type="image/png")
