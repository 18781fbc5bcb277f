from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest

from db.errors import BadInput
from db.file.store import Store
from db.people.private_links import athlete_of_link, keep_link, private_links, revoke_link
from db.roster.athletes import save_athletes

SECRET = "c" * 64


@pytest.fixture
def linked(store: Store) -> Store:
    save_athletes(store, pd.DataFrame({"athlete": ["A1"]}), "coach")
    keep_link(store, "A1", SECRET, datetime.now(UTC) + timedelta(days=3), "coach")
    return store


def test_a_link_opens_until_it_expires(linked: Store) -> None:
    now = datetime.now(UTC)
    assert athlete_of_link(linked, SECRET, now) == "A1"
    assert athlete_of_link(linked, SECRET, now + timedelta(days=4)) is None
    assert athlete_of_link(linked, "d" * 64, now) is None


def test_a_revoked_link_opens_nothing(linked: Store) -> None:
    [number] = private_links(linked, "A1")["link_id"]
    revoke_link(linked, int(number), "coach")
    assert athlete_of_link(linked, SECRET, datetime.now(UTC)) is None
    assert private_links(linked, "A1").empty
    with pytest.raises(BadInput, match="revoked before"):
        revoke_link(linked, int(number), "coach")


def test_nobody_gets_a_link_to_an_unknown_athlete(linked: Store) -> None:
    with pytest.raises(BadInput, match="no athlete 'A77'"):
        keep_link(linked, "A77", "e" * 64, datetime.now(UTC) + timedelta(days=1), "coach")
