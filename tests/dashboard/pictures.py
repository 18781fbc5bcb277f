"""Pictures of every page of the demo, as everybody who may open it sees it.

    python -m tests.dashboard.pictures FOLDER --size desktop --size phone --scheme light

makes the demo's store, serves it, and writes `ROLE-PAGE-SCHEME-SIZE.png` into the folder for every
page, in the sizes and schemes that are named, or in all of them. With or without a folder, --readme
takes README's picture of the squad again, and --docs takes the pictures of `docs/pages.md` and
writes their text.
"""

from __future__ import annotations

import argparse
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

from playwright.sync_api import Browser

import dashboard
from dashboard.app.demo import demo_store
from dashboard.fits.fitting import fit_all
from dashboard.screen.menu import HOME
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE
from db.people.accounts import list_people
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.page_pictures import take_for_docs
from tests.dashboard.screens import SIZES, Screen, chromium, window
from tests.dashboard.test_browser import SCHEMES, pages_of

README_PICTURE = Path(dashboard.__file__).parent / "assets" / "squad-page.png"
README_HEIGHT = 1120


def take_all(
    browser: Browser, server: LiveServer, tokens: dict[str, str], size: str, scheme: str, to: Path
) -> None:
    """Take a picture of every page of every role on one screen, and of signing in."""
    with window(browser, server, size, scheme) as seen:
        seen.page.goto(server.address)
        seen.page.screenshot(path=to / f"sign-in-{scheme}-{size}.png")
    for role, token in tokens.items():
        with window(browser, server, size, scheme) as seen:
            _enter(seen, token)
            for path in pages_of(role):
                _open(seen, path)
                name = path or HOME[role].replace("_", "-")
                seen.take(f"{role}-{name}-{scheme}", to)


def take_for_readme(browser: Browser, server: LiveServer, token: str) -> None:
    """Take README's picture: the upper part of the squad's page."""
    with window(browser, server, "desktop", "light") as seen:
        _enter(seen, token)
        width, _ = SIZES["desktop"]
        seen.page.set_viewport_size({"width": width, "height": README_HEIGHT})
        _open(seen, "")
        seen.page.screenshot(path=README_PICTURE)


def _open(seen: Screen, path: str) -> None:
    """Open a page and wait until all of it is drawn."""
    seen.open(path)
    seen.settle()


def _enter(seen: Screen, token: str) -> None:
    cookie = {"name": SESSION_COOKIE, "value": token, "url": seen.address}
    seen.page.context.add_cookies([cookie])


def main() -> None:
    """Take the pictures that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--size", action="append", choices=SIZES)
    parser.add_argument("--scheme", action="append", choices=SCHEMES)
    parser.add_argument("--readme", action="store_true", help="take README's picture anew as well")
    parser.add_argument("--docs", action="store_true", help="take those of docs/pages.md as well")
    asked = parser.parse_args()
    with TemporaryDirectory() as name, chromium() as browser:
        store = demo_store(Path(name) / "demo.duckdb", print)
        fit_all(store, "pictures")
        tokens = {person.role: open_session(store, person) for person in list_people(store)}
        with serving(store.path) as server:
            if asked.folder:
                asked.folder.mkdir(parents=True, exist_ok=True)
                for size, scheme in product(asked.size or SIZES, asked.scheme or SCHEMES):
                    take_all(browser, server, tokens, size, scheme, asked.folder)
            if asked.readme:
                take_for_readme(browser, server, tokens["director"])
            if asked.docs:
                take_for_docs(browser, server, store, tokens, _open)


if __name__ == "__main__":
    main()
