"""Asking for what is not yours: every page, download and table, as everybody and as nobody."""

from __future__ import annotations

import io
import math
import re
import stat
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from functools import cache
from itertools import product
from pathlib import Path
from zipfile import ZipFile

import duckdb
import pandas as pd
import pypdfium2
import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.testclient import TestClient
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Block, Element

import dashboard
from dashboard.app import downloads
from dashboard.screen.menu import PLACES, file_of
from dashboard.screen.web_sessions import open_session
from dashboard.serving.gate import SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from db.efforts.effort_changes import correct_effort
from db.efforts.rows import efforts
from db.efforts.typed_sessions import EffortEntry, SessionEntry, add_session
from db.errors import BadInput, StoreError
from db.file import connection
from db.file.store import Store
from db.fits.export_names import EXPORTS
from db.fits.exports import _QUERIES
from db.imports.effort_files import read_table
from db.imports.storing import check_rows, import_efforts
from db.people.accounts import Person, add_person, get_person
from db.people.sight import Sight, _Relation, _visible, in_sight, sight_of
from db.plans.lengths import PlanEntry, save_choice
from db.roster.athletes import save_athletes
from tests.dashboard.artificial import ATHLETES
from tests.dashboard.conftest import HASH, ROUTER, fill, new_store
from tests.dashboard.full_store import (
    DAY,
    EMPTY_DAY,
    GAME_DAY,
    HEADER,
    SQUADS,
    YOUTH_DAY,
    full_store,
)
from tests.patience import PATIENCE_SECONDS

FOLDER = Path(dashboard.__file__).parent
PAGES = sorted(place.script for place in PLACES)
ROLES_OF = {place.script: place.roles for place in PLACES}
SEEN_BY = {
    "dora": set(SQUADS),
    "carl": set(SQUADS),
    "yara": {"A1", "A2"},
    "long.one": {"A1"},
    "stale": set(),
    "nobody": set(),
}
"""The athletes that each person may see. Yara coaches only the first squad; stale signed out."""
COUNTS_OF_ALL = {"17 sessions", "204 efforts", "5 athletes", "4 athletes", "Few sessions"}
EVERYBODY = list(SEEN_BY)
ROLES = {"dora": "director", "carl": "coach", "yara": "coach", "long.one": "athlete"}


@pytest.fixture(scope="module")
def made_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    store = full_store(tmp_path_factory.mktemp("nobody in") / "the club.duckdb")
    with store.kept_open():
        yield store


@pytest.fixture
def store(made_store: Store, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setenv("WARMCURVE_DB", str(made_store.path))
    monkeypatch.setattr(connection, "LONGEST_STREAK_SECONDS", math.inf)
    return made_store


def token_of(store: Store, name: str) -> str:
    person = get_person(store, name)
    return open_session(store, person) if person else "made up"


def leaks(text: str, name: str) -> list[str]:
    """Return what a text gives away about athletes that a person may not see."""
    found = []
    for code in set(SQUADS) - SEEN_BY[name]:
        shown = ATHLETES[code][0]
        found += re.findall(rf"\b{code}\b|{shown}|of {code}", text)
    if SEEN_BY[name] != set(SQUADS):
        found += [count for count in COUNTS_OF_ALL if re.search(rf"(?<!\d){count}", text)]
    return found


def offered(name: str) -> list[str]:
    """Return the pages that the menu offers somebody."""
    return [page for page in PAGES if ROLES.get(name) in ROLES_OF[page]]


def everything(page: AppTest) -> str:
    """Return all that a page sends to the browser: texts, options, tables, pictures."""
    return "\n".join(_sent(page._tree))


def _sent(node: Block | Element) -> Iterator[str]:
    if isinstance(node, Block):
        for child in node.children.values():
            yield from _sent(child)
    yield str(getattr(node, "proto", ""))
    if node.type in ("arrow_data_frame", "arrow_table"):
        yield node.value.to_csv()


@cache
def sid_of(store: Store, name: str) -> str:
    """Open a web session, one per person."""
    from dashboard.screen.web_sessions import session_id

    return session_id(token_of(store, name))


def entered(store: Store, name: str, script: Path = ROUTER) -> AppTest:
    """Return the application for a person who claims to be the director."""
    application = AppTest.from_file(script, default_timeout=PATIENCE_SECONDS)
    application.user = {"person": "dora", "sid": sid_of(store, name)}
    return application


def by_itself(store: Store, page: str, name: str, hostile: bool) -> AppTest:
    """Open a page without the menu, which may not offer it."""
    script = entered(store, name, FOLDER / file_of(page))
    if hostile:
        for asked in ("athlete", "person", "role", "squad", "test_athletes"):
            script.query_params[asked] = "A3"
        for key in (
            "athlete",
            "plan_athlete",
            "outcome_athlete",
            "entry_0_athlete",
            "accounts_chosen",
            "squad_open",
        ):
            script.session_state[key] = "A3"
        script.query_params["test"] = "1"
        script.session_state["plan_day"] = GAME_DAY
        script.session_state["import_kind"] = "athletes"
    return script.run()


def opened(store: Store, pages: Sequence[str], name: str) -> Iterator[tuple[str, AppTest]]:
    """Open one page after another from the menu."""
    menu = entered(store, name).run()
    for page in pages:
        yield page, menu.switch_page(file_of(page)).run()


@pytest.mark.parametrize("name", ROLES)
def test_pages_tell_nobody_about_athletes_they_may_not_see(store: Store, name: str) -> None:
    for page, script in opened(store, offered(name), name):
        assert not script.exception, page
        assert leaks(everything(script), name) == [], page
        assert script.title[0].value not in ("You are signed out", "Not for this account"), page


@pytest.mark.parametrize(
    ("name", "page", "hostile"),
    [
        (name, page, hostile)
        for name, page, hostile in product(EVERYBODY, PAGES, (False, True))
        if (SEEN_BY[name] != set(SQUADS) if hostile else page not in offered(name))
    ],
)
def test_a_page_by_itself_tells_nobody_about_athletes_they_may_not_see(
    store: Store, name: str, page: str, hostile: bool
) -> None:
    script = by_itself(store, page, name, hostile)
    # A link to another page needs the menu, and a page run by itself has none.
    assert all("Could not find page" in each.message for each in script.exception)
    assert leaks(everything(script), name) == []
    if name not in ROLES:
        assert script.title[0].value == "You are signed out"
    elif page not in offered(name):
        assert script.title[0].value == "Not for this account"
        assert not script.dataframe and not script.get("plotly_chart")
    else:
        assert script.title[0].value not in ("You are signed out", "Not for this account")


def test_the_search_covers_everything_that_a_page_sends(store: Store) -> None:
    """The tests above would find a name in a table, a menu or a picture."""
    pages = ("squad", "before_session", "athlete", "enter_efforts")
    for _, script in opened(store, pages, "dora"):
        assert {"Either Three", "Untested Five"} <= set(leaks(everything(script), "nobody"))
    for _, script in opened(store, ["before_session"], "carl"):
        assert COUNTS_OF_ALL & set(leaks(everything(script), "yara"))


def test_a_coach_of_a_squad_sees_all_of_that_squad(store: Store) -> None:
    ((_, page),) = opened(store, ["before_session"], "yara")
    text = everything(page)
    assert "Long One" in text and "Short Two" in text
    assert "11 sessions" in text and "132 efforts" in text
    assert "Long One" in everything(by_itself(store, "athlete", "yara", hostile=True))


def test_only_the_director_s_pages_reach_the_whole_store() -> None:
    """The exception is everybody's own account page, which is about no athlete."""
    for page in PAGES:
        script = (FOLDER / file_of(page)).read_text("utf-8")
        if "running_store" in script or "Store(" in script:
            assert ROLES_OF[page] == ("director",) or page == "my_account", page


# Downloads

ADDRESSES = [
    *(
        f"/download/export/{what}.{ending}{query}"
        for what, ending, query in product(
            [*downloads.EXPORTS, "people", "../efforts"],
            ["csv", "parquet"],
            ["", "?measure=jump_height&athlete=A3"],
        )
    ),
    f"/download/sheet.pdf?day={DAY}&measure=jump_height&athlete=A3",
    f"/download/sheet.pdf?day={YOUTH_DAY}&measure=jump_height",
    *(
        f"/download/training.{ending}?day={day}&measure=jump_height&athlete=A3"
        for ending, day in product(["pdf", "html", "csv", "ics"], [DAY, YOUTH_DAY, GAME_DAY])
    ),
    f"/download/week.pdf?measure=jump_height&week={DAY}&athlete=A3",
    "/download/session-plan.pdf?plan=1&athlete=A3",
    "/download/session-plan.pdf?plan=2",
    "/download/session-plan.pdf?plan=x",
    "/download/exercises.csv",
    "/download/sample-efforts.csv",
    *(
        f"/download/{whose}.{ending}?day={day}&measure=jump_height{more}"
        for whose, ending, day, more in product(
            ["game", "my-game"],
            ["csv", "html", "ics", "zip"],
            [GAME_DAY, DAY],
            ["", "&athlete=A3"],
        )
    ),
    f"/download/sheet.pdf?day={GAME_DAY}&measure=jump_height",
    "/download/athlete.zip?athlete=A3",
    "/download/athlete.zip?code=A3",
    "/download/my-curve.csv",
    "/download/my-curve.csv?athlete=A3",
    "/download/my-curve.csv?athlete=A3&athlete=A1",
    "/download/my-data.zip",
    "/download/my-data.zip?athlete=A3",
    "/download/my-data.zip?code=A3",
    "/download/my-data.zip?athlete=A1&athlete=A3",
]
REFUSED = {"yara": {403, 400, 404}, "long.one": {400, 403, 404}, "stale": {401}, "nobody": {401}}


@pytest.fixture
def client(store: Store) -> Iterator[TestClient]:
    application = Starlette(
        routes=downloads.routes(),
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    with TestClient(application, headers={"Accept": "*/*"}) as client:
        yield client


def readable(address: str, content: bytes) -> str:
    if content.startswith(b"%PDF"):
        return "\n".join(
            page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(content)
        )
    if content.startswith(b"PK"):
        with ZipFile(io.BytesIO(content)) as packed:
            return "\n".join(packed.read(name).decode() for name in packed.namelist())
    if content.startswith(b"PAR1"):
        return str(pd.read_parquet(io.BytesIO(content)).to_csv())
    return content.decode("latin-1")


def test_every_download_is_tried() -> None:
    paths = {address.partition("?")[0] for address in ADDRESSES}
    for offered in downloads.OFFERED:
        shape = re.sub(r"\\{.*?\\}", "[^/]+", re.escape(offered.path))
        assert any(re.fullmatch(shape, path) for path in paths), offered.path


@pytest.mark.parametrize("name", EVERYBODY)
def test_a_download_tells_nobody_about_athletes_they_may_not_see(
    store: Store, client: TestClient, name: str
) -> None:
    client.cookies.set(SESSION_COOKIE, token_of(store, name))
    for address in ADDRESSES:
        answer = client.get(address, headers={"X-Warmcurve-Person": "dora"})
        assert leaks(readable(address, answer.content), name) == [], address
        assert answer.status_code in {200, *REFUSED.get(name, {400, 403, 404})}
        if not SEEN_BY[name]:
            assert answer.status_code == 401


def test_a_coach_s_files_hold_their_squad(store: Store, client: TestClient) -> None:
    client.cookies.set(SESSION_COOKIE, token_of(store, "yara"))
    rows = pd.read_csv(io.StringIO(client.get("/download/export/responses.csv").text))
    assert rows["athlete"].tolist() == ["A1", "A2"]
    sheet = client.get(f"/download/sheet.pdf?day={DAY}&measure=jump_height").content
    assert "Long One" in readable("", sheet)


def test_an_athlete_downloads_all_their_own_data_and_nobody_elses(
    store: Store, client: TestClient
) -> None:
    client.cookies.set(SESSION_COOKIE, token_of(store, "long.one"))
    for query in ("", "?athlete=A1", "?code=A1"):
        answer = client.get(f"/download/my-data.zip{query}")
        assert answer.status_code == 200
    with ZipFile(io.BytesIO(answer.content)) as packed:
        tables = {name: packed.read(name).decode() for name in packed.namelist()}
    assert {"athlete.csv", "session.csv", "effort.csv", "effort_change.csv", "plan.csv"} <= {
        *tables
    }
    rows = pd.read_csv(io.StringIO(tables["effort.csv"]))
    assert len(rows) == len(efforts(store, "jump_height", "A1"))
    for query in ("athlete=A3", "code=A3", "athlete=A1&athlete=A3", "athlete="):
        refused = client.get(f"/download/my-data.zip?{query}")
        assert (refused.status_code, refused.text) == (403, "You may take your own data only.")


def test_commands_and_downloads_offer_the_same_exports() -> None:
    assert set(downloads.EXPORTS) == set(EXPORTS) == {*_QUERIES, "reliability"}


def test_a_day_of_the_other_squad_looks_like_a_day_without_a_plan(
    store: Store, client: TestClient
) -> None:
    client.cookies.set(SESSION_COOKIE, token_of(store, "yara"))
    answers = [
        client.get(f"/download/sheet.pdf?day={day}&measure=jump_height")
        for day in (YOUTH_DAY, EMPTY_DAY)
    ]
    assert {answer.status_code for answer in answers} == {400}
    other, empty = (answer.text for answer in answers)
    assert other.replace(f"{YOUTH_DAY:%d %B}", f"{EMPTY_DAY:%d %B}") == empty


# The store as they see it


def limited(store: Store, name: str) -> Store:
    person = get_person(store, name)
    assert person is not None
    return in_sight(store, sight_of(person))


@pytest.mark.parametrize("name", ["yara", "long.one"])
def test_no_table_or_view_shows_an_athlete_out_of_sight(store: Store, name: str) -> None:
    with store.reading() as cursor:
        names = [
            row[0]
            for row in cursor.execute(
                "SELECT table_name FROM duckdb_tables() UNION ALL "
                "SELECT view_name FROM duckdb_views() WHERE NOT internal"
            ).fetchall()
        ]
    assert len(names) > 40
    with limited(store, name).reading() as cursor:
        for table in names:
            text = "\n".join(map(str, cursor.execute(f"SELECT * FROM {table}").fetchall()))
            assert leaks(text, name) == [], table
            assert "dora" not in text and "argon2" not in text, table


@pytest.mark.parametrize("name", ["yara", "long.one"])
def test_counts_cover_only_the_athletes_in_sight(store: Store, name: str) -> None:
    mine = ", ".join(f"'{code}'" for code in SEEN_BY[name])
    for table, within in (
        ("athlete", f"athlete IN ({mine})"),
        ("response", f"athlete IN ({mine})"),
        ("curve_point", f"athlete IN ({mine})"),
        ("effort", f"session_id IN (SELECT session_id FROM session WHERE athlete IN ({mine}))"),
        (
            "session_peak",
            f"session_id IN (SELECT session_id FROM session WHERE athlete IN ({mine}))",
        ),
        ("observation", f"athlete IN ({mine})"),
    ):
        with store.reading() as cursor:
            expected = cursor.execute(f"SELECT count(*) FROM {table} WHERE {within}").fetchone()
            everybody = cursor.execute(f"SELECT count(*) FROM {table}").fetchone()
        with limited(store, name).reading() as cursor:
            assert cursor.execute(f"SELECT count(*) FROM {table}").fetchone() == expected
        assert expected != everybody and expected != (0,)


def test_a_table_without_a_rule_is_empty() -> None:
    sight = Sight("yara", None, ("First",))
    query = _visible(_Relation("diary", False, frozenset({"page", "text"})), sight, '"x".main')
    assert query.endswith('FROM "x".main.diary WHERE false')


def test_squad_names_are_not_run_as_sql(store: Store) -> None:
    sight = Sight("yara", None, ("x') OR ('1' = '1", 'y" --'))
    with in_sight(store, sight).reading() as cursor:
        assert cursor.execute("SELECT count(*) FROM athlete").fetchone() == (0,)


def test_an_athletes_account_without_an_athlete_is_refused() -> None:
    with pytest.raises(ValueError, match="names no athlete"):
        sight_of(Person("odd", "Odd", "athlete"))


def test_a_coach_of_one_squad_cannot_copy_the_store(store: Store) -> None:
    with pytest.raises(BadInput, match="cannot copy it"), limited(store, "yara").alone():
        pass


# Writing

Write = Callable[[Store, str], object]


def typed_session(store: Store, code: str) -> None:
    entry = SessionEntry(code, "jump_height", datetime(2026, 4, 1, 10), (EffortEntry(1, 40.0, 5),))
    add_session(store, entry, "yara")


def planned(store: Store, code: str) -> None:
    plan = PlanEntry(DAY, code, "jump_height", "best", 1, None, None, 20.0)
    save_choice(store, plan, "yara")


def imported(store: Store, code: str) -> None:
    row = f"{code},2026-03-10T10:00,jump_height,1,77.7,0"
    table = read_table(f"{HEADER}\n{row}".encode(), "rows.csv")
    check = check_rows(store, table)
    raise BadInput(" ".join(check.set_aside["reason"]))


@pytest.mark.parametrize("write", [typed_session, planned, imported])
def test_a_code_out_of_sight_looks_like_one_that_does_not_exist(store: Store, write: Write) -> None:
    before = store.revision()
    said = []
    for code in ("A3", "Z9"):
        with pytest.raises(BadInput, match=f"no athlete '{code}'") as refused:
            write(limited(store, "yara"), code)
        said.append(refused.value.message.replace(code, "CODE"))
    assert said[0] == said[1]
    assert store.revision() == before


def test_an_effort_out_of_sight_cannot_be_changed(store: Store) -> None:
    theirs = int(efforts(store, "jump_height", "A3")["effort_id"].iloc[1])
    with pytest.raises(BadInput, match=f"There is no effort {theirs}"):
        correct_effort(limited(store, "yara"), theirs, 33.0, "curious", "yara")


def test_a_coach_of_one_squad_cannot_add_athletes(store: Store) -> None:
    before = store.revision()
    frame = pd.DataFrame({"athlete": ["A3", "Z9"], "name": ["Mine now", "New"]})
    with pytest.raises((duckdb.Error, StoreError), match="athlete"):
        save_athletes(limited(store, "yara"), frame, "yara")
    assert store.revision() == before


def test_a_coach_of_a_squad_saves_and_plans_for_that_squad(tmp_path: Path) -> None:
    store = new_store(tmp_path / "own.duckdb")
    fill(store)
    save_athletes(store, pd.DataFrame({"athlete": ["A2"], "squad": ["First"]}), "test")
    add_person(store, Person("yara", "Yara Y", "coach", squads=("First",)), HASH, by="test")
    hers = limited(store, "yara")
    typed_session(hers, "A2")
    planned(hers, "A2")
    rows = [f"{code},2026-05-01T10:00,jump_height,1,40,3" for code in ("A2", "A1")]
    file = "\n".join([HEADER, *rows]).encode()
    report = import_efforts(hers, read_table(file, "mixed.csv"), "yara")
    assert (report.stored, report.set_aside) == (1, 1)
    again = import_efforts(hers, read_table(file, "mixed.csv"), "yara")
    assert again.batch_id == report.batch_id
    assert len(efforts(store, "jump_height", "A2")) == 74


# Files


def test_a_store_is_readable_by_its_owner_only(tmp_path: Path) -> None:
    """Commands ask for no password: anybody who can read the file counts as its owner."""
    store = Store(tmp_path / "folder" / "store.duckdb")
    store.create()
    assert stat.S_IMODE(store.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(store.path.parent.stat().st_mode) == 0o700
