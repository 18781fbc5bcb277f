"""Each role's week in a real browser: from signing in to deciding, printing or downloading."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from io import BytesIO

import pandas as pd
from playwright.sync_api import Browser, Locator, expect

from db.efforts.rows import efforts
from db.file.store import Store
from db.plans.kept_games import kept_games
from db.plans.lengths import plans
from tests.dashboard import artificial
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.game.test_game import text_of
from tests.dashboard.live_server import LiveServer
from tests.dashboard.screens import Screen, window
from tests.dashboard.screens import browser as browser  # the fixtures
from tests.dashboard.screens import club as club
from tests.dashboard.screens import server as server


@contextmanager
def signed_in(browser: Browser, server: LiveServer, name: str, size: str) -> Iterator[Screen]:
    """Sign in by hand on a screen of one of `SIZES`, and out again at the end."""
    with window(browser, server, size) as seen:
        page = seen.page
        page.goto(server.address)
        page.get_by_role("textbox", name="Sign-in name").fill(name)
        page.get_by_role("textbox", name="Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        yield seen
        page.get_by_role("button", name="Sign out").click()
        page.get_by_role("textbox", name="Sign-in name").wait_for()
        assert seen.errors == []


def heading(seen: Screen, title: str) -> None:
    seen.page.locator("h1", has_text=title).wait_for()
    seen.wait()


def in_page(seen: Screen, role: str, name: str) -> Locator:
    return seen.page.get_by_test_id("stMain").get_by_role(role, name=name).first


def shown(seen: Screen, text: str) -> None:
    seen.page.get_by_text(text).first.wait_for()


def unfold(seen: Screen, label: str) -> None:
    seen.page.locator("summary", has_text=label).click()


def taken(seen: Screen, link: str) -> bytes:
    """Return what the person at the screen downloads from a link on the page."""
    target = in_page(seen, "link", link).get_attribute("href")
    answer = seen.page.request.get(f"{seen.address}{target}")
    assert answer.status == 200, answer.text()
    return answer.body()


def test_a_director_sees_what_to_do_and_opens_the_athlete_concerned(
    browser: Browser, server: LiveServer
) -> None:
    with signed_in(browser, server, "dora", "desktop") as seen:
        heading(seen, "Squad")
        shown(seen, "2 of 5 need another length: 1 shorter, 1 longer")
        seen.turn_to("This week", "This week")
        seen.wait()
        _, printed = text_of(taken(seen, "Squad and week on paper (PDF)"))
        assert "Test Club" in printed and "Jump height" in printed
        in_page(seen, "link", "Tests to do").click()
        heading(seen, "Tests to do")
        listed = pd.read_csv(BytesIO(taken(seen, "Tests to do (CSV)")))
        code = listed.sort_values("worth_pct", ascending=False)["athlete"].iloc[0]
        worthiest = artificial.ATHLETES[code][0]
        seen.turn_to("This week", "This week")
        in_page(seen, "link", worthiest).click()
        heading(seen, "Athlete")
        expect(seen.page.get_by_role("combobox", name="Athlete")).to_have_value(worthiest)


def test_a_coach_plans_a_game_prints_it_and_says_what_was_done(
    browser: Browser, server: LiveServer, club: Store
) -> None:
    today = date.today()
    with signed_in(browser, server, "carl", "tablet") as seen:
        heading(seen, "Today")
        in_page(seen, "button", "Change").click()
        whistle = seen.page.get_by_role("textbox", name="First whistle, or several")
        whistle.fill("23:59")
        whistle.press("Enter")
        shown(seen, "ready 23:54")
        seen.page.keyboard.press("Escape")
        length = seen.page.get_by_role("textbox", name="Long One, efforts")
        length.fill("23")
        length.press("Enter")
        shown(seen, "lost at 23")
        with seen.page.expect_download() as handed_over:
            seen.page.get_by_role("button", name="Save and print").click()
        printed = " ".join(text_of(handed_over.value.path().read_bytes()))
        shown(seen, "5 athletes here. Saved.")
        assert "first whistle 23:59" in printed
        assert all(name in printed for name in ("Long One", "Short Two", "Untested Five"))
        [kept] = kept_games(club, today, "jump_height")
        assert kept.person == "carl"
        seen.page.get_by_test_id("stMain").get_by_text("After", exact=True).click()
        did = seen.page.get_by_role("textbox", name="Either Three did, efforts")
        did.fill("9")
        did.press("Enter")
        seen.page.get_by_role("button", name="late").click()
        shown(seen, "1 of 5 saved, 1 changed.")
    done = plans(club, today, "jump_height").set_index("athlete")["done_volume"].dropna()
    assert done.to_dict() == {"A3": 9.0}


def test_an_athlete_sees_their_own_curve_and_downloads_their_own_data(
    browser: Browser, server: LiveServer, club: Store
) -> None:
    with signed_in(browser, server, "long.one", "phone") as seen:
        seen.page.get_by_role("link", name="Another goal, the cold, a wait").click()
        heading(seen, "My warm-up")
        shown(seen, "Warm up longer: you are still getting better at 15")
        seen.page.locator(".scatterlayer .point").first.wait_for()
        unfold(seen, "What to do today")
        shown(seen, "Do today")
        curve = pd.read_csv(BytesIO(taken(seen, "Take my curve with me")))
        assert set(curve["athlete"]) == {"A1"}
        seen.page.get_by_test_id("stExpandSidebarButton").click()
        seen.page.get_by_role("link", name="My account").click()
        heading(seen, "My account")
        with zipfile.ZipFile(BytesIO(taken(seen, "Take my data with me"))) as packed:
            own = pd.read_csv(packed.open("effort.csv"))
            text = " ".join(packed.read(name).decode() for name in packed.namelist())
    assert len(own) == len(efforts(club, "jump_height", "A1"))
    assert "Short Two" not in text
