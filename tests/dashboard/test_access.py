from __future__ import annotations

from streamlit.testing.v1 import AppTest

from db.file.store import Store
from db.people.accounts import close_web_session, set_active
from tests.dashboard.conftest import open_session
from tests.patience import PATIENCE_SECONDS


def staff_page() -> None:
    import streamlit as st

    from dashboard.screen.access import require

    person = require("director", "coach")
    st.title(f"Hello {person.display_name}")


def athletes_page() -> None:
    import streamlit as st

    from dashboard.screen.access import require_athlete, sign_out_form, signed_in

    person = signed_in()
    require_athlete(person, st.query_params["athlete"])
    st.title("The curve")
    sign_out_form()


def seen_by(sid: str | None, **query: str) -> AppTest:
    page = AppTest.from_function(
        athletes_page if query else staff_page, default_timeout=PATIENCE_SECONDS
    )
    page.user = {"person": "anybody", "sid": sid}
    for name, value in query.items():
        page.query_params[name] = value
    return page.run()


def title(page: AppTest) -> str:
    assert not page.exception
    return str(page.title[0].value)


def test_page_greets_the_person_of_the_session_and_no_other_name(empty_store: Store) -> None:
    assert title(seen_by(open_session(empty_store, "carl"))) == "Hello Carl Coach"


def test_other_role_sees_nothing(shown_store: Store) -> None:
    page = seen_by(open_session(shown_store, "long.one"))
    assert title(page) == "Not for this account"
    assert "This page is for directors and coaches." in page.markdown[0].value


def test_nobody_and_strangers_are_signed_out(empty_store: Store) -> None:
    for sid in (None, "", "0" * 64):
        assert title(seen_by(sid)) == "You are signed out"


def test_sign_out_and_deactivation_act_on_the_next_run(empty_store: Store) -> None:
    carl, dora = open_session(empty_store, "carl"), open_session(empty_store, "dora")
    pages = [seen_by(carl), seen_by(dora)]
    close_web_session(empty_store, dora)
    set_active(empty_store, "carl", False, "test")
    assert [title(page.run()) for page in pages] == ["You are signed out"] * 2


def test_athlete_sees_only_their_own_data(shown_store: Store) -> None:
    sid = open_session(shown_store, "long.one")
    page = seen_by(sid, athlete="A1")
    assert title(page) == "The curve"
    assert sid not in page.get("html")[0].value
    assert title(seen_by(sid, athlete="A2")) == "Not for this account"
    assert title(seen_by(open_session(shown_store, "carl"), athlete="A2")) == "The curve"
