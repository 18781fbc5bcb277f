from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import date

import pandas as pd
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient

from dashboard.app import downloads
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from db.file.store import Store
from db.people.accounts import get_person, set_role
from db.plans.games import save_game
from db.plans.lengths import PlanEntry, save_choice
from tests.dashboard.conftest import add_routine_sessions, fill, new_store
from tests.db.plans.test_games import GAME

RESPONSE_COLUMNS = (
    "athlete, measure, volume_unit, sessions, efforts, last_session, best_volume, "
    "best_volume_low, best_volume_high, gain_pct, gain_pct_low, gain_pct_high, hold_volume, "
    "hold_volume_low, hold_volume_high, advised_volume, loss_at_standard_pct, "
    "loss_at_standard_pct_low, loss_at_standard_pct_high, chance_short, chance_long, "
    "chance_either, call, reach"
).split(", ")

USUAL_COLUMNS = ["usual_general_minutes", "usual_rest_minutes", "usual_ambient_c", "usual_hour"]


@pytest.fixture(scope="module")
def made_store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("downloads") / "club.duckdb")
    fill(store)
    add_routine_sessions(store)
    return store


@pytest.fixture
def store(made_store: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setenv("WARMCURVE_DB", str(made_store.path))
    return made_store


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    application = Starlette(
        routes=downloads.routes(),
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    with store.kept_open(), TestClient(application, headers={"Accept": "*/*"}) as client:
        yield client


def enter_as(client: TestClient, store: Store, name: str) -> None:
    person = get_person(store, name)
    assert person is not None
    client.cookies.set(SESSION_COOKIE, open_session(store, person))


def csv(content: bytes) -> pd.DataFrame:
    return pd.read_csv(io.BytesIO(content))


@pytest.mark.parametrize(
    "what",
    ["responses", "curves", "bands", "reliability", "next-tests", "squad", "efforts", "set-aside"],
)
def test_director_takes_every_export(store: Store, client: TestClient, what: str) -> None:
    enter_as(client, store, "dora")
    response = client.get(f"/download/export/{what}.csv")
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/csv; charset=utf-8"
    assert response.headers["cache-control"] == "no-store"
    assert response.headers["content-disposition"].startswith("attachment;")
    assert f"{what}.csv" in response.headers["content-disposition"]


def test_responses_have_the_columns_of_the_interface(store: Store, client: TestClient) -> None:
    enter_as(client, store, "dora")
    frame = csv(client.get("/download/export/responses.csv?measure=jump_height").content)
    assert list(frame)[: len(RESPONSE_COLUMNS)] == RESPONSE_COLUMNS
    more = list(frame)[len(RESPONSE_COLUMNS) :]
    assert more[:3] == ["good_from", "good_to", "length"] and more[-4:] == USUAL_COLUMNS
    assert all(name.endswith("_in_effect") for name in more[3:-4])
    assert frame["athlete"].tolist() == ["A1", "A2", "A3", "A4", "A5"]


def test_the_squad_has_every_constant_of_the_account_even_one_that_no_fit_learns(
    store: Store, client: TestClient
) -> None:
    enter_as(client, store, "dora")
    frame = csv(client.get("/download/export/squad.csv").content)
    names = [f"recovery_half_life_minutes{end}" for end in ("", "_low", "_high", "_status")]
    assert frame[names].to_numpy().tolist() == [[3.0, 1.1, 8.0, "default"]] * len(frame)


def test_parquet_holds_the_same_rows(store: Store, client: TestClient) -> None:
    enter_as(client, store, "carl")
    parquet = client.get("/download/export/curves.parquet").content
    frame = pd.read_parquet(io.BytesIO(parquet))
    assert len(frame) == len(csv(client.get("/download/export/curves.csv").content))


@pytest.mark.parametrize(
    ("what", "status"),
    [
        ("responses", 200),
        ("curves", 200),
        ("next-tests", 200),
        ("squad", 403),
        ("efforts", 403),
        ("set-aside", 403),
    ],
)
def test_coach_takes_what_plans_are_made_from(
    store: Store, client: TestClient, what: str, status: int
) -> None:
    enter_as(client, store, "carl")
    assert client.get(f"/download/export/{what}.csv").status_code == status


@pytest.mark.parametrize(
    "path", ["export/responses.csv", "export/curves.parquet", "sheet.pdf?day=2026-03-14"]
)
def test_athlete_takes_nothing_of_the_squad(store: Store, client: TestClient, path: str) -> None:
    enter_as(client, store, "long.one")
    response = client.get(f"/download/{path}")
    assert response.status_code == 403
    assert "not for this account" in response.text


def test_an_athlete_takes_only_their_own_curve(store: Store, client: TestClient) -> None:
    enter_as(client, store, "long.one")
    for address in ("/download/my-curve.csv", "/download/my-curve.csv?athlete=A1"):
        assert set(csv(client.get(address).content)["athlete"]) == {"A1"}
    response = client.get("/download/my-curve.csv?athlete=A2")
    assert response.status_code == 403
    assert "your own data only" in response.text


def test_staff_have_no_own_curve(store: Store, client: TestClient) -> None:
    enter_as(client, store, "dora")
    assert client.get("/download/my-curve.csv").status_code == 403


def test_the_store_is_asked_for_the_role_each_time(store: Store, client: TestClient) -> None:
    enter_as(client, store, "carl")
    forged = {"X-Warmcurve-Person": "dora", "X-Warmcurve-Role": "director"}
    assert client.get("/download/export/efforts.csv", headers=forged).status_code == 403
    set_role(store, "carl", "director", "test")
    assert client.get("/download/export/efforts.csv").status_code == 401
    enter_as(client, store, "carl")
    assert client.get("/download/export/efforts.csv").status_code == 200
    set_role(store, "carl", "coach", "test", sees_all=True)


def test_only_the_director_takes_everything_held_about_an_athlete(
    store: Store, client: TestClient
) -> None:
    address = "/download/athlete.zip?athlete=A1"
    assert client.get(address).status_code == 401
    for name in ("carl", "long.one"):
        enter_as(client, store, name)
        assert client.get(address).status_code == 403
    enter_as(client, store, "dora")
    response = client.get(address)
    assert response.headers["content-type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(response.content)) as archive:
        assert len(csv(archive.read("effort.csv"))) == 75
    assert "There is no athlete" in client.get("/download/athlete.zip?athlete=none").text


def test_only_the_director_takes_the_sheet_of_a_week(store: Store, client: TestClient) -> None:
    address = "/download/week.pdf?measure=jump_height&week=2026-03-12"
    for name in ("carl", "long.one"):
        enter_as(client, store, name)
        assert client.get(address).status_code == 403
    enter_as(client, store, "dora")
    response = client.get(address)
    assert response.headers["content-type"] == "application/pdf"
    assert "week-2026-03-09-jump_height.pdf" in response.headers["content-disposition"]
    against = client.get(f"{address}&against=2026-03-03").content
    assert against == response.content
    assert "is not a date" in client.get(address.replace("2026-03-12", "now")).text


def test_nothing_is_taken_without_signing_in(client: TestClient) -> None:
    assert client.get("/download/export/responses.csv").status_code == 401
    assert client.get("/download/my-curve.csv").status_code == 401


@pytest.mark.parametrize("path", ["export/people.csv", "export/responses.xlsx"])
def test_unknown_export_is_not_found(store: Store, client: TestClient, path: str) -> None:
    enter_as(client, store, "dora")
    assert client.get(f"/download/{path}").status_code == 404


def test_an_unknown_measure_or_day_is_reported(store: Store, client: TestClient) -> None:
    enter_as(client, store, "dora")
    response = client.get("/download/export/curves.csv?measure=javelin")
    assert response.status_code == 400
    assert "There is no measure" in response.text
    response = client.get("/download/sheet.pdf?day=tomorrow&measure=jump_height")
    assert response.status_code == 400
    assert "is not a date such as 2026-03-14" in response.text


def test_sheet_is_a_pdf_of_the_day(store: Store, client: TestClient) -> None:
    entry = PlanEntry(date(2026, 3, 14), "A1", "jump_height", "best", 1, 40.0, 15.0, 35.0)
    save_choice(store, entry, "test")
    enter_as(client, store, "carl")
    response = client.get("/download/sheet.pdf?day=2026-03-14&measure=jump_height")
    assert response.status_code == 200
    assert response.headers["content-type"] == "application/pdf"
    assert response.content.startswith(b"%PDF-")


def test_a_training_plan_has_its_own_files_even_on_the_day_of_a_game(
    store: Store, client: TestClient
) -> None:
    save_game(store, GAME, "test")
    entry = PlanEntry(GAME.day, "A1", "jump_height", "best", 1, 40.0, 15.0, 35.0)
    save_choice(store, entry, "test")
    asked = "day=2026-03-01&measure=jump_height"
    enter_as(client, store, "carl")
    kinds = {"pdf": "application/pdf", "html": "text/html", "csv": "text/csv"}
    for ending, kind in kinds.items():
        answer = client.get(f"/download/training.{ending}?{asked}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(kind)
        assert (
            client.get(f"/download/training.{ending}?{asked.replace('day', 'on')}").status_code
            == 400
        )
    sheets = [client.get(f"/download/{what}.pdf?{asked}") for what in ("sheet", "training")]
    assert len({sheet.content for sheet in sheets}) == 2
    assert client.get(f"/download/training.ics?{asked}").status_code == 404
    enter_as(client, store, "long.one")
    assert client.get(f"/download/training.html?{asked}").status_code == 403


def test_staff_take_the_files_of_a_game_and_athletes_only_their_own_line(
    store: Store, client: TestClient
) -> None:
    save_game(store, GAME, "test")
    asked = "day=2026-03-01&measure=jump_height"
    kinds = {
        "csv": "text/csv",
        "html": "text/html",
        "ics": "text/calendar",
        "zip": "application/zip",
    }
    enter_as(client, store, "carl")
    for ending, kind in kinds.items():
        answer = client.get(f"/download/game.{ending}?{asked}")
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(kind)
    sheet = client.get(f"/download/sheet.pdf?{asked}")
    assert sheet.content.startswith(b"%PDF-")
    assert client.get(f"/download/game.pdf?{asked}").status_code == 404
    assert client.get(f"/download/my-game.ics?{asked}").status_code == 403
    enter_as(client, store, "long.one")
    assert client.get(f"/download/game.ics?{asked}").status_code == 403
    own = client.get(f"/download/my-game.ics?{asked}").text
    # 38 were saved, but a length that nobody set by hand is capped at the day's most, 25.
    assert "Warm-up: 25 efforts" in own and own.count("BEGIN:VEVENT") == 1
    page = client.get(f"/download/my-game.html?{asked}").text
    assert "Long One" in page and "Short Two" not in page
    assert client.get(f"/download/my-game.ics?{asked}&athlete=A2").status_code == 403
    assert client.get("/download/my-game.ics?day=2026-03-02&measure=jump_height").status_code == 400
