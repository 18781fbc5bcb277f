"""A private link opens one athlete's curve, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from urllib.parse import urljoin

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient

from dashboard.athlete.private_links import make_link
from dashboard.core import dates
from dashboard.core.numbers import number
from dashboard.fits.lengths import responses
from dashboard.game.advice import usual_game
from dashboard.own import routes as own_routes
from dashboard.own.home_screen import ICON_PATH, MANIFEST_PATH
from dashboard.own.routes import COPY_PATH
from dashboard.screen.units import keep_system
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import LINK_PATH, OWN_PATH, SESSION_COOKIE, Gate
from db.file.store import Store
from db.people.accounts import get_person
from db.people.private_links import private_links, revoke_link
from db.plans.games import GameWave, Player, save_game
from db.plans.lengths import PlanEntry, save_choice
from db.roster.statuses import set_status


@pytest.fixture
def client(filled_store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    monkeypatch.setenv("WARMCURVE_DB", str(filled_store.path))
    app = Starlette(routes=own_routes.routes, middleware=[Middleware(Gate)])
    yield TestClient(app, follow_redirects=False)


def test_a_link_shows_one_curve_without_signing_in(client: TestClient, filled_store: Store) -> None:
    path = make_link(filled_store, "A1", 7, "coach")
    assert path.startswith(LINK_PATH) and path.rpartition("/")[2] not in str(
        private_links(filled_store, "A1").to_dict()
    )
    answer = client.get(path)
    assert answer.status_code == 200 and answer.headers["Cache-Control"] == "no-store"
    assert "Long One" in answer.text and "Your length:" in answer.text
    assert answer.text.count("<svg") == 2  # the sign of the club, and the curve
    assert "Short Two" not in answer.text and "<script" not in answer.text
    assert "stop, whatever the screen says" in answer.text
    assert "(4.1 to 8.2)" in answer.text
    for kept_to_the_athlete in ("Your sessions", "What the club keeps", "Sign out", "/download/"):
        assert kept_to_the_athlete not in answer.text


def test_a_link_uses_the_browsers_locale_and_the_clubs_units(
    client: TestClient, filled_store: Store
) -> None:
    keep_system(filled_store, "imperial", "dora")
    liked = {"Accept-Language": "en;q=0.4, de-DE, de;q=0.9"}
    text = client.get(make_link(filled_store, "A1", 7, "coach"), headers=liked).text
    assert "(4,1 to 8,2)" in text and "4.1 to 8.2" not in text
    assert re.search(r'points="\d+\.\d,\d+\.\d ', text), "a picture's points are no reader's"
    assert "at 68\u00a0°F" in text


def test_a_link_that_was_revoked_or_guessed_opens_nothing(
    client: TestClient, filled_store: Store
) -> None:
    path = make_link(filled_store, "A2", 7, "coach")
    [number] = private_links(filled_store, "A2")["link_id"]
    revoke_link(filled_store, int(number), "coach")
    for closed in (path, path[:-1] + "x"):
        answer = client.get(closed)
        assert answer.status_code == 404 and "opens nothing" in answer.text
        assert "Short Two" not in answer.text


@pytest.mark.parametrize("path", ["", "short", "a" * 30 + "/more", "%2e%2e/%2e%2e/" + "a" * 30])
def test_no_other_address_there_is_open(client: TestClient, path: str) -> None:
    assert client.get(LINK_PATH + path).status_code in {401, 404}


def test_an_untested_athlete_is_told_what_to_do(client: TestClient, filled_store: Store) -> None:
    answer = client.get(make_link(filled_store, "A5", 7, "coach"))
    assert answer.status_code == 200 and "Ask your coach for a fade test" in answer.text


def signed_in(client: TestClient, store: Store, name: str) -> TestClient:
    person = get_person(store, name)
    assert person is not None
    client.cookies.set(SESSION_COOKIE, open_session(store, person))
    return client


PAGE = {"Accept": "text/html"}


def test_signing_in_as_an_athlete_leads_to_the_page_without_script(
    client: TestClient, filled_store: Store
) -> None:
    browser = signed_in(client, filled_store, "long.one")
    answer = browser.get("/", headers=PAGE)
    assert (answer.status_code, answer.headers["Location"]) == (303, OWN_PATH)
    text = browser.get(OWN_PATH, headers=PAGE).text
    assert "<script" not in text and len(text.encode()) <= 60_000
    for told in ("Long One", "Your length:", "Your sessions", "What the club keeps", "Sign out"):
        assert told in text
    assert "Short Two" not in text
    assert not re.findall(r'(?:src|href)="(?!/|data:)', text), "nothing comes from elsewhere"


@pytest.mark.parametrize("name", ["dora", "carl"])
def test_staff_have_no_page_there(client: TestClient, filled_store: Store, name: str) -> None:
    browser = signed_in(client, filled_store, name)
    assert browser.get(OWN_PATH, headers=PAGE).status_code == 403
    assert browser.get("/", headers=PAGE).status_code == 404, "staff pass on to Streamlit"


def test_nobody_sees_it_without_signing_in(client: TestClient) -> None:
    answer = client.get(OWN_PATH, headers=PAGE)
    assert answer.headers["Location"].startswith("/signin?next=")


def test_an_athlete_who_is_out_gets_no_length(client: TestClient, filled_store: Store) -> None:
    set_status(filled_store, "A1", "out", date.today(), "an ankle", "dora")
    text = signed_in(client, filled_store, "long.one").get(OWN_PATH, headers=PAGE).text
    assert "Your length:" not in text and "There is no length for you" in text
    assert "an ankle" not in text


def test_a_saved_copy_says_when_it_was_fetched_and_holds_no_more_than_a_link(
    client: TestClient, filled_store: Store
) -> None:
    browser = signed_in(client, filled_store, "long.one")
    copy = browser.get(COPY_PATH, headers=PAGE)
    assert copy.headers["Content-Disposition"].startswith("attachment")
    assert copy.headers["Cache-Control"] == "no-store"
    assert f"Fetched on {dates.weekday(date.today())}. It may have changed since." in copy.text
    linked = browser.get(make_link(filled_store, "A1", 7, "coach")).text
    told = [each.partition("<h2>")[2].partition("</main>")[0] for each in (copy.text, linked)]
    assert told[0] == told[1] and "Your length:" in told[0]
    assert "<form" not in copy.text and 'href="/' not in copy.text


def test_the_page_can_be_put_on_a_home_screen_and_a_link_cannot(
    client: TestClient, filled_store: Store
) -> None:
    path = make_link(filled_store, "A1", 7, "coach")
    assert "manifest" not in client.get(path).text
    assert client.get(MANIFEST_PATH).status_code == client.get(ICON_PATH).status_code == 401
    browser = signed_in(client, filled_store, "long.one")
    found = re.search(r'rel="manifest" href="([^"]+)"', browser.get(OWN_PATH, headers=PAGE).text)
    assert found is not None
    said = browser.get(found[1])
    assert said.headers["Content-Type"] == "application/manifest+json"
    assert urljoin(MANIFEST_PATH, said.json()["start_url"]) == OWN_PATH
    assert urljoin(MANIFEST_PATH, said.json()["icons"][0]["src"]) == ICON_PATH
    assert browser.get(ICON_PATH).content.startswith(b"\x89PNG")


@pytest.mark.parametrize("name", ["dora", "carl"])
def test_staff_cannot_save_a_copy(client: TestClient, filled_store: Store, name: str) -> None:
    assert signed_in(client, filled_store, name).get(COPY_PATH).status_code == 403


def game_day() -> date:
    return date.today() + timedelta(days=3)


@pytest.mark.parametrize("signed", [True, False])
def test_a_game_says_when_to_start_and_only_the_athlete_reads_the_reason(
    client: TestClient, filled_store: Store, signed: bool
) -> None:
    plan = PlanEntry(game_day(), "A1", "jump_height", "best", 1, 6.0, 15.0, 9.0, "a sore knee")
    starts = datetime.combine(game_day(), datetime.min.time()) + timedelta(hours=19)
    game = replace(
        usual_game("jump_height", game_day(), (starts,), {}),
        waves=(GameWave(1, 1, 12.0, 5.0),),
        players=(Player(plan, "starts", 1, 1, True, 6.0),),
    )
    save_game(filled_store, game, "carl")
    if signed:
        text = signed_in(client, filled_store, "long.one").get(OWN_PATH, headers=PAGE).text
    else:
        text = client.get(make_link(filled_store, "A1", 7, "coach")).text
    assert "Start at " in text and "then 9 " in text
    assert "your coach set 9, which loses" in " ".join(text.split())
    assert ("a sore knee" in text) is signed
    assert ("/download/my-game.ics" in text) is signed
    usual = number(responses(filled_store, "jump_height", "A1")["length"].item())
    assert f"your usual length is {usual}. For this game" in " ".join(text.split())
    assert f"For the game 9, on a usual day {usual}" in text and ">game 9<" in text


@pytest.mark.parametrize("signed", [True, False])
def test_an_unusual_length_for_a_day_comes_with_its_reason(
    client: TestClient, filled_store: Store, signed: bool
) -> None:
    plan = PlanEntry(game_day(), "A1", "jump_height", "best", 1, 6.0, 15.0, 9.0, "a sore knee")
    save_choice(filled_store, plan, "carl")
    if signed:
        text = signed_in(client, filled_store, "long.one").get(OWN_PATH, headers=PAGE).text
    else:
        text = client.get(make_link(filled_store, "A1", 7, "coach")).text
    told = " ".join(text.replace("\u00a0", " ").split())
    assert "9 efforts. Your usual length is" in told and "your coach set this one." in told
    assert ("The reason given: a sore knee." in told) is signed
    assert "*" not in re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
