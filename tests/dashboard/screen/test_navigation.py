"""The menu has few entries, and the pages of one link to each other with what is chosen."""

from __future__ import annotations

import pytest

from dashboard.screen.menu import OWN, PLACES, places_of
from db.file.store import Store
from tests.dashboard.conftest import SignIn

MENU = {
    "director": "Squad Today Athletes Tests Lifting Results Data Trust Club".split(),
    "coach": "Squad Today Athletes Tests Lifting Results Data Trust".split(),
    "athlete": ["My warm-up"],
}


@pytest.mark.parametrize(("role", "entries"), MENU.items())
def test_the_menu_has_few_entries_and_leads_to_every_page(role: str, entries: list[str]) -> None:
    groups = places_of(role)
    assert list(groups) == [*entries, OWN]
    assert [place for members in groups.values() for place in members] == [
        place for place in PLACES if role in place.roles
    ]


def links(application: object) -> dict[str, tuple[str, str]]:
    """Return the links to other pages by label: path, and what the address chooses."""
    return {
        link.proto.label: (link.proto.page, link.proto.query_string)
        for link in application.get("page_link")
    }


def test_the_athlete_pages_link_to_each_other_and_keep_the_athlete(
    shown_store: Store, sign_in: SignIn
) -> None:
    application = sign_in(shown_store, "carl", "athlete")
    application.selectbox(key="athlete").set_value("A2").run()
    application.run()
    found = links(application)
    assert found["Advice for today"] == ("advice", "athlete=A2")
    assert found["History"] == ("athlete-history", "athlete=A2")
    assert "Athlete" not in found


def test_a_group_of_one_page_has_no_row_of_links(shown_store: Store, sign_in: SignIn) -> None:
    application = sign_in(shown_store, "carl", "reliability")
    assert not {"How sure", "Reliability"} & set(links(application))
    application = sign_in(shown_store, "dora", "reliability")
    assert links(application)["How sure"][0] == "how-sure"
