"""The pictures in the documentation, one for each page, and the text that shows them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser

from dashboard.athlete.private_links import make_link
from dashboard.rules.stop_rules import stop_rule
from dashboard.screen.menu import OWN, PLACES, Place
from dashboard.serving.gate import SESSION_COOKIE
from db.efforts.live_efforts import add_effort
from db.efforts.live_tests import parts_in
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, begin_live_test
from db.file.store import Store
from db.imports.kept_mappings import save_mapping
from db.imports.mappings import ColumnMapping, Source
from db.plans.planned_exercises import PlannedExercise, save_planned_exercises
from db.plans.session_plans import SessionPlan, save_session_plan
from db.roster.measures import get_measure
from tests.dashboard.live_server import LiveServer
from tests.dashboard.screens import PATIENCE_MS, SIZES, Screen, window

DOCS = Path(__file__).parents[2] / "docs"
FOLDER, TEXT = DOCS / "pages", DOCS / "pages.md"
HIGHEST = 1500
OWN_HEADING = "Under one's own name"
LONG_ATHLETE, MEASURE = "H12", "jump_height"
LIFTS = (
    PlannedExercise("power_clean", "power", False, True, 3, 2, 80.0, 95.0),
    PlannedExercise("back_squat", "strength", False, True, 4, 5, 110.0, 140.0),
    PlannedExercise("calf_raise", "growth", False, False, 3, 12),
)
TO_THE_TOP = """() => {
  const main = document.querySelector('[data-testid=stMain]');
  main.scrollTo(0, 0);
  return main.scrollHeight;
}"""
INCHES = """Player,Date,Jump (in),Rep#
H25,03/13/2026 9:30,15.5,1
H25,03/13/2026 9:30,15.75,2
H25,03/13/2026 9:30,15.6,3
H26,03/27/2026 9:30,18.0,1
H26,03/27/2026 9:30,18.2,2
"""
MAT = ColumnMapping(
    {
        "athlete": Source("player"),
        "started_at": Source("day"),
        "measure": Source(fixed="jump_height"),
        "effort": Source("try"),
        "value": Source("metres", unit="m"),
        "kind": Source(fixed="fade"),
    },
    time_form="day first",
    clock="10:00",
)
MEASURED = (38.4, 40.2, 41.3, 40.9)


EXTRAS = (
    (
        "squad_dark",
        "Squad, in the dark",
        "Every page follows the light or dark setting of the device.",
        "director",
        "desktop",
        "dark",
    ),
    (
        "my_warm_up_dark",
        "My warm-up, in the dark",
        "What the athlete opens on the evening of a game.",
        "athlete",
        "phone",
        "dark",
    ),
    (
        "sheet_on_a_phone",
        "The plan of a game on a phone",
        "What each athlete does and when, as a file that opens without a connection.",
        "coach",
        "phone",
        "light",
    ),
    (
        "private_link",
        "A private link",
        "One athlete's curve and length without signing in, until the link ends.",
        "",
        "phone",
        "light",
    ),
    ("sign_in", "Signing in", "The demo's accounts are a click each.", "", "phone", "light"),
    (
        "test_on_a_phone",
        "A test that runs",
        "Each effort is saved as soon as it is typed; the screen says how far it is below the best"
        " and when to stop.",
        "coach",
        "phone",
        "light",
    ),
)
"""Name, title, what it says, role, size and scheme. The test comes last, because it adds efforts
that are not in the curves yet."""


@dataclass(frozen=True)
class Shot:
    """A picture: its file name without extension, title and text, who looks, and on what screen."""

    name: str
    title: str
    says: str
    role: str
    path: str
    size: str = "desktop"
    scheme: str = "light"


def shots(paths: dict[str, str] | None = None) -> Iterator[Shot]:
    """Return every picture; `paths` are addresses, by name, that only a made store has."""
    paths = paths or {}
    for place in PLACES:
        phone = "phone" if place.script == "my_warm_up" else "desktop"
        path = paths.get(place.script, place.address)
        yield Shot(place.script, place.title, place.purpose, _looks(place), path, phone)
    for name, title, says, role, size, scheme in EXTRAS:
        script = name.removesuffix("_dark")
        path = paths.get(script, script.replace("_", "-"))
        yield Shot(name, title, says, role, path, size, scheme)


def pages_text() -> str:
    """Return the text of the documentation that shows every picture."""
    lines = [
        "# The pages",
        "",
        "Pictures of the demo's invented squad, taken by `python -m tests.dashboard.pictures"
        " --docs`, which writes this text as well.",
    ]
    own = {place.script: place for place in PLACES}
    group = ""
    for shot in shots():
        place = own.get(shot.name)
        heading = place.group if place else "On a phone, at the door and in the dark"
        if heading != group:
            lines += ["", f"## {OWN_HEADING if heading == OWN else heading}"]
            group = heading
        whose = f" For: {', '.join(place.roles)}." if place else ""
        lines += ["", f"### {shot.title}", "", f"{shot.says}{whose}", ""]
        lines += [f"![{shot.title}](pages/{shot.name}.png)"]
    return "\n".join(lines) + "\n"


def take_for_docs(
    browser: Browser,
    server: LiveServer,
    store: Store,
    tokens: dict[str, str],
    opened: Callable[[Screen, str], None],
) -> None:
    """Take every picture again and write the text; `opened` opens a page and waits for it."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for shot in shots(_made(store)):
        path = shot.path if shot.name != "test_on_a_phone" else _begun(store)
        with window(browser, server, shot.size, shot.scheme) as seen:
            if shot.role:
                cookie = {"name": SESSION_COOKIE, "value": tokens[shot.role], "url": server.address}
                seen.page.context.add_cookies([cookie])
            if shot.name == "sheet_on_a_phone":
                seen.page.set_content(seen.page.request.get(f"{server.address}/{path}").text())
            elif not shot.role:
                seen.page.goto(f"{server.address}/{path}")
            else:
                opened(seen, path)
                PREPARED.get(shot.name, _leave_as_it_is)(seen)
                _show(seen)
            to = FOLDER / f"{shot.name}.png"
            seen.page.screenshot(path=to)
            _make_small(to)
    TEXT.write_text(pages_text(), "utf-8")


def _looks(place: Place) -> str:
    """Return the role that a page is mostly for."""
    return "coach" if "coach" in place.roles else place.roles[0]


def _made(store: Store) -> dict[str, str]:
    """Make what the demo lacks, such as a session plan and a link; return addresses by name."""
    today = date.today()
    plan = save_session_plan(
        store,
        SessionPlan("Lower body", today, LONG_ATHLETE, MEASURE, plates="25;20;15;10;5;2.5;1.25"),
        "coach",
    )
    save_planned_exercises(store, plan, LIFTS, "coach")
    save_mapping(store, "contact mat", MAT, "coach")
    chosen = f"athlete={LONG_ATHLETE}&measure={MEASURE}"
    return {
        "athlete": f"athlete?{chosen}",
        "athlete_history": f"athlete-history?{chosen}",
        "advice": f"advice?{chosen}",
        "run_test": f"run-test?measure={MEASURE}&test_athletes=H25&test_athletes=H26",
        "sheet_on_a_phone": f"download/game.html?day={today}&measure={MEASURE}",
        "private_link": make_link(store, LONG_ATHLETE, 7, "coach").removeprefix("/"),
        "sign_in": "signin",
    }


def _begun(store: Store) -> str:
    """Begin a test with a few efforts, and return its address."""
    test = NewTest(LONG_ATHLETE, {"pain": False, "freshness": 7})
    now = datetime.now().replace(microsecond=0)
    new = NewLiveTest(
        MEASURE, now, (test,), Method("value", "mat"), stop_rule(store, get_measure(store, MEASURE))
    )
    live_test_id = begin_live_test(store, new, "coach")
    session = int(parts_in(store, live_test_id)["session_id"].iloc[0])
    for number, value in enumerate(MEASURED, 1):
        add_effort(store, session, number, value, number - 1, "coach")
    return f"run-test?test={live_test_id}"


def _keep_a_game(seen: Screen) -> None:
    seen.page.get_by_role("button", name="Change").click()
    whistle = seen.page.get_by_role("textbox", name=re.compile("or several$"))
    whistle.fill("19:30")
    whistle.press("Enter")
    seen.page.get_by_text("ready 19:25").first.wait_for()
    seen.page.keyboard.press("Escape")
    seen.page.get_by_role("button", name="Save and print").click()
    seen.page.get_by_text("here. Saved.").first.wait_for()
    seen.wait()


def _choose_file(seen: Screen, rows: str) -> None:
    file = {"name": "efforts.csv", "mimeType": "text/csv", "buffer": rows.encode()}
    with seen.run_again():
        seen.page.locator("input[type=file]").first.set_input_files(file)


def _import_efforts(seen: Screen) -> None:
    _choose_file(seen, INCHES)
    with seen.run_again():
        seen.page.get_by_text("Tests to the end").click()


def _before_testing(seen: Screen) -> None:
    seen.page.get_by_role("button", name="Simulate").click()
    seen.page.get_by_role("heading", name="Own lengths would bring").wait_for(timeout=PATIENCE_MS)
    seen.settle()


def _leave_as_it_is(_seen: Screen) -> None:
    pass


PREPARED = {
    "before_session": _keep_a_game,
    "before_testing": _before_testing,
    "import_efforts": _import_efforts,
}


def _show(seen: Screen) -> None:
    """Make the window as high as the page, within limits, and go to the page's top."""
    width, lowest = SIZES[seen.size]
    height = seen.page.evaluate(TO_THE_TOP)
    seen.page.set_viewport_size({"width": width, "height": min(max(height, lowest), HIGHEST)})
    seen.settle()


def _make_small(path: Path) -> None:
    """Save a picture with at most 256 colours: a third of the bytes, and no colour is lost."""
    with Image.open(path) as taken:
        few = taken.convert("RGB").quantize(
            method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
        )
    few.save(path, optimize=True)
