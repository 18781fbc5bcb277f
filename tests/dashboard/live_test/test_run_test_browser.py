"""Running a test in a browser: by keyboard alone, with a lost server, with buttons in place."""

from __future__ import annotations

import re
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, WebSocketRoute, expect

from db.efforts.live_tests import efforts_in, open_tests
from db.efforts.new_rounds import Method, NewLiveTest, NewTest, StopRule, begin_live_test
from db.efforts.rows import efforts
from db.file.checks import check
from db.file.store import Store
from tests.dashboard.conftest import fill, new_store
from tests.dashboard.live_server import LiveServer, serving
from tests.dashboard.screens import SIZES, Screen, screen
from tests.dashboard.screens import browser as browser  # the fixture


def type_efforts(page: Page, first: int, values: list[str]) -> None:
    for number, value in enumerate(values, start=first):
        field = page.get_by_label(f"Long One, effort {number}, in cm")
        expect(field).to_be_focused()
        page.keyboard.type(value)
        page.keyboard.press("Enter")


def tab_to(seen: Screen, role: Any, name: str) -> None:
    """Press Tab until a field has the focus, and give up after going all round the page."""
    wanted = seen.page.get_by_role(role, name=name)
    wanted.wait_for()
    for _ in range(80):
        if wanted.evaluate("field => field === document.activeElement"):
            return
        seen.page.keyboard.press("Tab")
    raise AssertionError(f"The Tab key does not lead to {name}.")


def begin(seen: Screen) -> None:
    page = seen.page
    tab_to(seen, "combobox", "Athletes, in the order of turns")
    page.keyboard.type("Long One")
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    tab_to(seen, "radio", "No pain")
    page.keyboard.press("Space")
    seen.wait()
    tab_to(seen, "checkbox", "I confirm")
    page.keyboard.press("Space")
    seen.wait()
    tab_to(seen, "button", "Begin the test")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"test=1"))


def stored(store: Store) -> list[float]:
    rows = efforts(store, "jump_height", "A1")
    session = open_tests(store)["session_id"].iloc[0]
    return list(rows[rows["session_id"] == session]["value"])


def go_on(server: LiveServer, browser: Browser) -> None:
    """Continue the test on another server, bring it to the stop, and read what it showed."""
    with screen(browser, server, "carl", "tablet") as seen:
        seen.open("run-test?test=1")
        type_efforts(seen.page, 4, ["35.5", "35,9", "36"])
        expect(seen.page.get_by_text("Long One: 35.5")).to_be_visible()
        seen.page.keyboard.press("Alt+e")
        expect(seen.page.get_by_text("Efforts to fade: 6.")).to_be_visible()
        expect(seen.page.get_by_text("Percentage decrement")).to_be_visible()
        assert seen.errors == []


def swallow_once(page: Page, part: bytes) -> list[bytes]:
    """Lose the first message of a page that contains `part`; the returned list will hold it."""
    swallowed: list[bytes] = []

    def pass_on(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(socket.send)

        def send(message: str | bytes) -> None:
            if not swallowed and isinstance(message, bytes) and part in message:
                swallowed.append(message)
            else:
                server.send(message)

        socket.on_message(send)

    page.route_web_socket("**/stream", pass_on)
    return swallowed


def test_a_fade_test_by_keyboard_survives_a_lost_message_and_a_lost_server(
    browser: Browser, tmp_path: Path
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store)
    with serving(store.path) as server, screen(browser, server, "carl", "tablet") as seen:
        swallowed = swallow_once(seen.page, b"40.5")
        seen.open("run-test")
        begin(seen)
        expect(seen.page.get_by_role("heading", name="Run a test")).to_be_in_viewport(ratio=1)
        seen.page.keyboard.type("4")
        seen.page.keyboard.press("Enter")
        expect(seen.page.get_by_text("4 cannot be a value of jump height")).to_be_visible()
        # The refused number is selected, so the next digit replaces it.
        refused = seen.page.get_by_label("Long One, effort 1, in cm").element_handle()
        seen.page.wait_for_function(
            "field => field.selectionEnd > field.selectionStart", arg=refused
        )
        type_efforts(seen.page, 1, ["40", "41.2", "40.5"])
        field = seen.page.get_by_label("Long One, effort 4, in cm")
        expect(field).to_be_focused()
        assert len(swallowed) == 1, "the number was sent again"
        assert stored(store) == [40, 41.2, 40.5]
        server.process.kill()
        server.process.join()
        seen.page.keyboard.type("35.5")
        seen.page.keyboard.press("Enter")
        expect(seen.page.get_by_text("Not saved yet: the server does not answer")).to_be_visible()
        expect(field).to_have_value("35.5")
        assert stored(store) == [40, 41.2, 40.5], "what was accepted, and not the one being typed"
    with serving(store.path) as server:
        go_on(server, browser)
    assert check(store) == []


def test_ending_at_once_keeps_the_last_number_and_the_next_form_is_empty(
    browser: Browser, tmp_path: Path
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store)
    with serving(store.path) as server, screen(browser, server, "carl", "tablet") as seen:
        page = seen.page
        seen.open("run-test")
        begin(seen)
        begun = open_tests(store)["session_id"].iloc[0]
        type_efforts(page, 1, ["40", "41"])
        page.get_by_role("button", name="End the test of Long One").click()
        expect(page.get_by_text("The test of Long One is ended.")).to_be_visible()
        rows = efforts(store, "jump_height", "A1")
        assert list(rows[rows["session_id"] == begun]["value"]) == [40, 41]
        page.get_by_role("button", name="To the list of tests").click()
        expect(page.get_by_role("button", name="Begin the test")).to_be_visible()
        seen.settle()
        expect(page.get_by_placeholder("Choose one, or several")).to_be_visible()
        expect(page.get_by_role("radio", name="No pain")).to_have_count(0)


def answer_slowly(page: Page, slow: bytes, lost: bytes) -> list[bytes]:
    """Hold back answers to `slow` until the page sends it again, and lose the first `lost` message.

    The second `slow` message reaches the server in place of the lost one; the list holds it.
    """
    twice: list[bytes] = []
    held: list[str | bytes] = []
    gone: list[bytes] = []
    seen: list[bytes] = []

    def pass_on(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()

        def answer(message: str | bytes) -> None:
            if seen and not twice:
                held.append(message)
            else:
                socket.send(message)

        def send(message: str | bytes) -> None:
            assert isinstance(message, bytes)
            if slow in message and seen and not twice:
                twice.append(message)
                for each in held:
                    socket.send(each)
            elif lost in message and not gone:
                gone.append(message)
                server.send(twice[0])
            else:
                seen.extend([message] if slow in message else [])
                server.send(message)

        server.on_message(answer)
        socket.on_message(send)

    page.route_web_socket("**/stream", pass_on)
    return twice


def test_a_late_answer_to_one_number_is_not_taken_for_the_next(
    browser: Browser, tmp_path: Path
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store)
    with serving(store.path) as server, screen(browser, server, "carl", "tablet") as seen:
        twice = answer_slowly(seen.page, b"41.2", b"40.5")
        seen.open("run-test")
        begin(seen)
        type_efforts(seen.page, 1, ["40", "41.2", "40.5"])
        expect(seen.page.get_by_label("Long One, effort 4, in cm")).to_be_focused()
        assert len(twice) == 1
        assert stored(store) == [40, 41.2, 40.5]


PRESSED = (
    "[data-key=accept]",
    ".st-key-test_take_back button",
    ".st-key-test_end .stButton button",
)


def places(seen: Screen, *sizes: str) -> dict[str, list[list[float]]]:
    """Return where the buttons lie on the page, for some sizes of screen."""
    found = {}
    for size in sizes:
        with seen.resized(size) if size != seen.size else nullcontext():
            found[size] = [
                seen.page.locator(each).locator("visible=true").evaluate(LIES) for each in PRESSED
            ]
    return found


LIES = """element => {
  const main = document.querySelector('[data-testid=stMain]');
  const { x, y, width, height } = element.getBoundingClientRect();
  return [x, y + main.scrollTop, width, height].map(Math.round);
}"""


def take_turns(page: Page, *turns: tuple[str, int, str]) -> None:
    for name, effort, value in turns:
        field = page.get_by_label(f"{name}, effort {effort}, in cm")
        expect(field).to_be_focused()
        page.keyboard.type(value)
        page.keyboard.press("Enter")


def asked_and_answered_by_keyboard(seen: Screen, store: Store) -> None:
    """Refuse a slip that is asked about, reload the page, and then accept it all the same."""
    page = seen.page
    question = page.get_by_role("alertdialog", name="93.6 cm is more than twice the 39.8 cm before")
    again = page.get_by_role("button", name="No, type it again")
    expect(again).to_be_focused()
    # Pressing Enter twice without looking saves nothing.
    page.keyboard.press("Enter")
    field = page.get_by_label("Short Two, effort 3, in cm")
    expect(field).to_be_focused()
    page.reload()
    expect(field).to_be_focused()
    expect(field).to_have_value("93.6")
    page.keyboard.press("Enter")
    expect(question).to_be_visible()
    expect(again).to_be_focused()
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Long One, effort 4, in cm")).to_be_focused()
    assert 93.6 in efforts_in(store, 1)["value"].tolist()


def test_buttons_stay_in_place_and_keys_do_what_the_page_shows(
    browser: Browser, tmp_path: Path
) -> None:
    store = new_store(tmp_path / "club.duckdb")
    fill(store)
    tests = tuple(NewTest(code, {"pain": False}) for code in ("A1", "A2"))
    now = datetime(2026, 11, 28, 10)
    begin_live_test(
        store, NewLiveTest("jump_height", now, tests, Method(), StopRule(0.9, 3)), "carl"
    )
    with serving(store.path) as server, screen(browser, server, "carl", "tablet") as seen:
        page, taken = seen.page, "93.6 cm of Short Two is taken back"
        seen.open("run-test?test=1")
        expect(page.get_by_label("Long One, effort 1, in cm")).to_be_focused()
        begun = places(seen, *SIZES)
        take_turns(page, ("Long One", 1, "37.1"), ("Short Two", 1, "39"), ("Long One", 2, "38.4"))
        take_turns(page, ("Short Two", 2, "39.8"), ("Long One", 3, "39"), ("Short Two", 3, "93.6"))
        expect(page.get_by_role("alertdialog")).to_be_visible()
        asked = places(seen, "tablet")
        asked_and_answered_by_keyboard(seen, store)
        expect(page.get_by_role("button", name="Take back 93.6 cm of Short Two")).to_be_visible()
        slipped = places(seen, *SIZES)
        page.keyboard.press("Alt+u")
        expect(page.get_by_role("button", name=taken)).to_be_disabled()
        page.keyboard.press("Alt+u")
        take_turns(page, ("Short Two", 3, "0"))
        expect(page.get_by_text("'0' is not a number above 0")).to_be_visible()
        warned = places(seen, "tablet")
        page.keyboard.press("Escape")
        take_turns(page, ("Short Two", 3, "34.6"), ("Long One", 4, "39.1"), ("Short Two", 4, "34"))
        take_turns(page, ("Long One", 5, "39.3"), ("Short Two", 5, "33.5"))
        expect(page.get_by_text("Stop, Short Two", exact=True)).to_be_visible()
        expect(page.get_by_label("Long One, effort 6, in cm")).to_be_focused()
        stopped = places(seen, *SIZES)
        end = page.locator(".st-key-test_stops button")
        offered = end.evaluate(LIES)
        take_turns(page, ("Long One", 6, "0"))
        expect(page.get_by_text("'0' is not a number above 0")).to_be_visible()
        assert end.evaluate(LIES) == offered
        page.keyboard.press("Alt+e")
        expect(page.get_by_text("The test of Short Two is ended.")).to_be_visible()
        expect(page.get_by_text("Stop, Short Two", exact=True)).to_be_hidden()
        ended = places(seen, "tablet")
        for later in (asked, slipped, warned, stopped, ended):
            assert later == {size: begun[size] for size in later}
        assert open_tests(store)["athlete"].tolist() == ["A1"], "the one who was to stop"
        assert efforts_in(store, 1)["value"].tolist() == [
            *(37.1, 38.4, 39, 39.1, 39.3),
            *(39, 39.8, 34.6, 34, 33.5),
        ]
        assert seen.errors == []
