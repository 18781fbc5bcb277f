"""A link that lets somebody choose their own password, once."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import httpx2 as httpx
import pytest
from argon2 import PasswordHasher
from starlette.testclient import TestClient

from dashboard.serving.gate import INVITED_PATH
from dashboard.sign_in import accounts, invited, pages
from dashboard.sign_in.accounts import person_with_password
from dashboard.sign_in.attempts import Attempts
from dashboard.sign_in.invited import LINK_DAYS, make_invitation, unusable_hash
from db.errors import BadInput
from db.file.store import Store
from db.people.accounts import Person, add_person, set_active
from db.people.invitations import open_invitations
from db.privacy.trail import trail
from tests.dashboard.sign_in.test_sign_in import at_the_gate

CHOSEN = "kettle-lamp-orchard"
ORIGIN = "http://testserver"


@pytest.fixture
def store(empty_store: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    quick = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
    monkeypatch.setattr(accounts, "HASHER", quick)
    monkeypatch.setattr(pages, "attempts", Attempts())
    add_person(empty_store, Person("nina", "Nina New", "coach"), unusable_hash(), "dora")
    return empty_store


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    with at_the_gate(store, [*invited.routes, *pages.routes]) as client:
        yield client


def choose(
    client: TestClient, link: str, password: str = CHOSEN, repeated: str | None = None
) -> httpx.Response:
    form = re.search(r'name="form_token" value="([^"]+)"', client.get(link).text)
    fields = {"password": password, "repeated": password if repeated is None else repeated}
    return client.post(link, data={"form_token": form[1] if form else "", **fields})


def test_a_link_sets_the_password_and_lets_in_once(client: TestClient, store: Store) -> None:
    link = make_invitation(store, "nina", "dora")
    shown = client.get(link)
    assert "Welcome, Nina New" in shown.text and 'content="no-referrer"' in shown.text
    assert client.get(link).status_code == 200, "Looking does not use it up."
    assert client.get("/page").headers["location"].startswith("/signin")
    assert choose(client, link).status_code == 303
    assert client.get("/page").text == "home"
    assert person_with_password(store, "nina", CHOSEN) is not None
    again = choose(client, link, "paddle-quartz-lantern")
    assert again.status_code == 410 and "It was used, has expired" in again.text
    assert person_with_password(store, "nina", CHOSEN) is not None
    lines = trail(store)
    taken = lines[lines["action"] == "take invitation"]
    assert taken[["person", "detail"]].to_numpy().tolist() == [["nina", "nina"]]


@pytest.mark.parametrize(
    ("password", "repeated", "sentence"),
    [
        ("short", "short", "needs at least 12"),
        (CHOSEN, CHOSEN + "s", "do not match"),
        ("nina-new-nina", "nina-new-nina", "among the first that are guessed"),
    ],
)
def test_a_password_that_cannot_be_used_leaves_the_link_open(
    client: TestClient, store: Store, password: str, repeated: str, sentence: str
) -> None:
    link = make_invitation(store, "nina", "dora")
    response = choose(client, link, password, repeated)
    assert response.status_code == 400 and sentence in response.text
    assert choose(client, link).status_code == 303


def test_expired_or_replaced_links_open_nothing(client: TestClient, store: Store) -> None:
    long_ago = datetime.now(UTC) - timedelta(days=LINK_DAYS + 1)
    old = make_invitation(store, "nina", "dora", long_ago)
    replaced = make_invitation(store, "nina", "dora")
    newest = make_invitation(store, "nina", "dora")
    unknown = INVITED_PATH + secrets.token_urlsafe(32)
    for link in (old, replaced, unknown):
        assert client.get(link).status_code == choose(client, link).status_code == 410
    assert client.get(newest).status_code == 200
    set_active(store, "nina", False, "dora")
    assert client.get(newest).status_code == 410
    with pytest.raises(BadInput, match="may not sign in"):
        make_invitation(store, "nina", "dora")
    with pytest.raises(BadInput, match="There is no account 'nobody'"):
        make_invitation(store, "nobody", "dora")


def test_a_form_of_another_site_sets_no_password(client: TestClient, store: Store) -> None:
    link = make_invitation(store, "nina", "dora")
    fields = {"password": CHOSEN, "repeated": CHOSEN, "form_token": "guessed"}
    assert client.post(link, data=fields).status_code == 403
    foreign = client.post(link, data=fields, headers={"Origin": "http://evil.example"})
    assert foreign.status_code == 403
    assert person_with_password(store, "nina", CHOSEN) is None


def test_the_store_does_not_know_the_secret(store: Store) -> None:
    link = make_invitation(store, "nina", "dora")
    assert set(open_invitations(store, datetime.now(UTC))) == {"nina"}
    with store.reading() as cursor:
        rows = cursor.execute("SELECT * FROM invitation").fetchall()
    assert link.rpartition("/")[2] not in str(rows)
