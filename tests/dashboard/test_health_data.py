"""What people type or tick about somebody's health never leaves the staff's pages.

A store holds a marker in every text that people type freely, a different one for each athlete, and
readiness and pain for every session. The tests make everything that the program can hand out from
it, and search that. `MAY_HOLD` lists what may hold a marker, with the reason.
"""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import partial
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
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.app.routes import ROUTES
from dashboard.athlete.private_links import make_link
from dashboard.screen.menu import file_of
from dashboard.screen.web_sessions import open_session, session_id
from dashboard.serving.gate import OWN_PATH, SESSION_COOKIE, Gate
from dashboard.serving.own_pages import exception_handlers
from db.efforts.effort_changes import exclude_effort, include_effort
from db.efforts.rows import efforts
from db.file.rewriting import Rewrite, rewrite
from db.file.store import Store
from db.fits.export_names import EXPORTS
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.imports.undo import take_back_import
from db.people.accounts import get_person
from db.plans.games import save_game
from db.plans.lengths import PlanEntry, save_choice
from db.privacy.identity import text_columns
from tests.dashboard.app.test_commands_nobody_in import COMMANDS
from tests.dashboard.conftest import ROUTER
from tests.dashboard.full_store import DAY, GAME_DAY, HEADER, full_store, game_of
from tests.dashboard.test_nobody_in import FOLDER, PAGES, SEEN_BY, everything, offered
from tests.patience import PATIENCE_SECONDS

PEOPLE = ("dora", "carl", "yara", "long.one")


def soon_day() -> date:
    return date.today() + timedelta(days=1)


OWNERS = {
    "athlete": "{t}.athlete",
    "session_id": "(SELECT o.athlete FROM session o WHERE o.session_id = {t}.session_id)",
    "effort_id": "(SELECT o.athlete FROM effort_detail o WHERE o.effort_id = {t}.effort_id)",
    "finding_id": "(SELECT o.athlete FROM finding o WHERE o.finding_id = {t}.finding_id)",
    "session_plan_id": "(SELECT o.athlete FROM session_plan o "
    "WHERE o.session_plan_id = {t}.session_plan_id)",
}
TYPED = (
    "athlete.position",
    "athlete_status.reason",
    "audit.detail",
    "effort.excluded",
    "effort_change.new_excluded",
    "effort_change.old_excluded",
    "effort_change.reason",
    "finding_decision.reason",
    "import_batch.file",
    "plan.reason",
    "session.note",
    "session_method.device",
    "session_plan.name",
    "session_plan.note",
    "set_aside_row.cells_json",
    "set_aside_row.reason",
    "set_aside_row.row_text",
    "set_aside_row.value",
    "taken_back_effort.excluded",
    "taken_back_import.reason",
    "test_limit.reason",
    "test_run.ended_because",
)
"""Texts that people type freely."""
SAME = {"effort_change.new_excluded": "effort.excluded"}
"""Columns whose text the store itself checks to be the same as another's."""
NOT_TYPED = {
    "athlete_merge.other_athlete": "a code",
    "athlete_squad.squad": "the name of a squad",
    "exercise.name": "of the library",
    "filled_fact.fact": "a name of ours",
    "finding.other_athlete": "a code",
    "invitation.made_by": "an account's name, as in every column person",
    "merged_row.row_key": "numbers of rows",
    "fit.data_basis": "one of two words of ours",
    "fit.warnings": "sentences of ours",
    "mapping.mapping": "the name of a reading of files",
    "mapping.mapping_json": "columns and units of files",
    "mapping_athlete.mapping": "the name of a reading of files",
    "mapping_athlete.written": "a name",
    "measure.name": "of the squad's tests",
    **{
        f"measure_protocol.{part}": "how everybody does a test"
        for part in "effort arms depth ball beginning surface shoes".split()
    },
    "person_squad.squad": "the name of a squad",
    "set_aside_row.athlete": "a code as written",
    "set_aside_row.effort": "a number as written",
    "set_aside_row.measure": "a code as written",
    "set_aside_row.started_at": "a time as written",
    "setting.value": "of the whole store",
    "test_run.ended_by": "a sign-in name",
}
ANSWERS = {
    "athlete_status": {"status": ("'fit'", "'modified'")},
    "session": {
        "freshness": ("2.25", "9.75"),
        "joints": ("3.25", "8.75"),
        "mobility": ("4.25", "7.75"),
        "pain": ("false", "true"),
    },
    "session_plan": {"stiff": ("false", "true")},
    "session_readiness": {
        name: ("false", "true") for name in ("joints", "positions", "fresh", "peak")
    },
}
"""Answers about health that are not text: their columns, with two values for each."""
NO_ANSWERS = {
    "athlete.active",
    "athlete_merge.was_active",
    "best_volume_change.tellable",
    "exercise.active",
    "exercise.built_in",
    "finding.stays",
    "game_athlete.own_length",
    "game_course.rolling",
    "lifted_set.struck_out",
    "outcome_manner.assumed",
    "person.active",
    "planned_exercise.being_learned",
    "planned_exercise.on_bar",
    "trial_session.is_second",
}
"""The other yes-or-no columns."""
ALL, OWN = "all athletes", "the own athlete"


@dataclass(frozen=True)
class May:
    """What an output may hold, about whom, and why; `answers` are readiness and pain."""

    who: tuple[str, ...]
    columns: tuple[str, ...]
    whose: str
    why: str
    answers: bool = False


MAY_HOLD = {
    "/download/sheet.pdf": May(
        ("dora", "carl", "yara"), ("athlete.position",), ALL, "printed beside the athlete's name"
    ),
    "/download/training.pdf": May(
        ("dora", "carl", "yara"), ("athlete.position",), ALL, "printed beside the athlete's name"
    ),
    "/download/export/efforts": May(
        ("dora",),
        ("session.note", "effort.excluded"),
        ALL,
        "the director's rows as they are stored, to work on and to import again",
        answers=True,
    ),
    "/download/export/set-aside": May(
        ("dora",),
        tuple(name for name in TYPED if name.startswith("set_aside_row.")) + ("import_batch.file",),
        ALL,
        "rows as a file had them, for the director to put right",
    ),
    "/download/athlete.zip": May(
        ("dora",), TYPED, OWN, "all that is stored about one athlete, to hand to them", answers=True
    ),
    "/download/my-data.zip": May(
        ("long.one",), TYPED, OWN, "all that is stored about oneself", answers=True
    ),
    OWN_PATH: May(
        ("long.one",), ("plan.reason",), OWN, "why the coach set a game's length, to oneself alone"
    ),
    "/download/session-plan.pdf": May(
        ("dora", "carl", "yara"), ("session_plan.name",), ALL, "the title that the coach gave it"
    ),
    "/download/week.pdf": May(
        ("dora",), ("import_batch.file",), ALL, "which file to look at again"
    ),
}
NOT_HANDED_OUT = {
    **dict.fromkeys(
        ("demo", "serve", "import", "athletes", "fit", "status", "backup", "restore", "measure")
        + ("protocol", "test-days", "upgrade"),
        "works on the store and tells whoever owns its file",
    ),
    "learned export": "rounded numbers of the squad, of no athlete",
    **dict.fromkeys(("learned pool", "overview"), "reads files that it is given, and no store"),
    "simulate": "reads noise and the smallest worthwhile change of a measure, and no athlete",
    **dict.fromkeys(
        (
            *(f"person {what}" for what in ("add", "password", "role", "email")),
            *("person activate", "person deactivate"),
            *(f"privacy {what}" for what in ("erase", "keep", "apply")),
        ),
        "changes the store",
    ),
}


Answers = list[tuple[str, int, str]]
"""Address, status and text of each."""


@dataclass(frozen=True)
class Made:
    """Two stores that differ only in readiness and pain, what opens them, and their answers."""

    store: Store
    other: Store
    tokens: Mapping[str, str]
    links: Mapping[str, str]
    told: dict[tuple[Path, str], Answers] = field(default_factory=dict)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("health")
    store = full_store(folder / "club.duckdb")
    with store.kept_open():
        add_what_is_typed(store)
        people = {name: get_person(store, name) for name in PEOPLE}
        tokens = {name: open_session(store, person) for name, person in people.items() if person}
        links = {code: make_link(store, code, 7, "carl") for code in ("A1", "A3")}
    other = Store(shutil.copy(store.path, folder / "other.duckdb"))
    for which, each in enumerate((store, other)):
        rewrite(each, "test", partial(filled_in, which=which))
    return Made(store, other, tokens, links)


def add_what_is_typed(store: Store) -> None:
    """Add the rows with typed text that `full_store` lacks."""
    soon = datetime.combine(soon_day(), datetime.min.time()) + timedelta(hours=19)
    game = game_of(("A1", "A2", "A3"))
    plans = [replace(player.plan, day=soon_day()) for player in game.players]
    players = tuple(
        replace(player, plan=plan) for player, plan in zip(game.players, plans, strict=True)
    )
    save_game(store, replace(game, day=soon_day(), starts=(soon,), players=players), "test")
    for code in ("A1", "A3"):
        after = soon_day() + timedelta(days=1)
        plan = PlanEntry(after, code, "jump_height", "best", 1, 40.0, 15.0, 35.0, "why")
        save_choice(store, plan, "test")
        number = int(efforts(store, "jump_height", code)["effort_id"].iloc[3])
        exclude_effort(store, number, "why", "test")
        include_effort(store, number, "not so", "test")
        exclude_effort(store, number, "why", "test")
    often = [
        f"A{number},2026-04-0{day}T09:00,jump_height,1,{40 + number + (7 * day + 3 * number) % 5},5"
        for number in (1, 2, 3)
        for day in range(1, 6)
    ]
    import_efforts(store, read_table("\n".join([HEADER, *often]).encode(), "o.csv"), "test")
    header = f"{HEADER},excluded"
    rows = [f"{code},2026-03-20T10:00,jump_height,1,40,1,why" for code in ("A1", "A3")]
    report = import_efforts(
        store, read_table("\n".join([header, *rows]).encode(), "more.csv"), "test"
    )
    take_back_import(store, report.batch_id, "test", "why")
    wrong = [f"{code},2026-03-14T11:00,jump_height,1,999,1" for code in ("A1", "A3")]
    import_efforts(store, read_table("\n".join([HEADER, *wrong]).encode(), "x.csv"), "dora")


def filled_in(root: duckdb.DuckDBPyConnection, which: int) -> Rewrite:
    """Put each athlete's marker into every typed text, and fill in one set of answers."""
    found = {
        table: {column: values[which] for column, values in columns.items()}
        for table, columns in ANSWERS.items()
    }
    for name in TYPED:
        table, column = name.split(".")
        columns = {
            each
            for (each,) in root.execute(
                "SELECT column_name FROM duckdb_columns() WHERE table_name = ?", [table]
            ).fetchall()
        }
        owner = next((OWNERS[key] for key in OWNERS if key in columns), "'X0'").format(t=table)
        marker = f"'zq{TYPED.index(SAME.get(name, name))}' || coalesce({owner}, 'X0') || 'zq'"
        if column in ("detail", "row_text"):  # the athletes that it names must stay
            marker = f"{column} || ' ' || {marker}"
        if "excluded" in column:
            marker = f"CASE WHEN {column} IS NOT NULL THEN {marker} END"
        found.setdefault(table, {})[column] = marker
    found["session_plan"]["general_minutes"] = "9"  # usual only for somebody stiff
    return Rewrite("fill in", "", {}, found)


def markers(text: str) -> set[tuple[str, str]]:
    """Find the markers in a text: column, and code of the athlete."""
    found = re.findall(r"zq(\d+)([A-Z]\d)zq", text, re.IGNORECASE)
    return {(TYPED[int(number)], code.upper()) for number, code in found}


def readable(content: bytes) -> str:
    """Return all text in a file: tables, zip files, and PDFs with their title and author."""
    if content.startswith(b"%PDF"):
        document = pypdfium2.PdfDocument(content)
        pages = [page.get_textpage().get_text_range() for page in document]
        return "\n".join([*pages, str(document.get_metadata_dict())])
    if content.startswith(b"PK"):
        with ZipFile(io.BytesIO(content)) as packed:
            return "\n".join(f"{name}\n{readable(packed.read(name))}" for name in packed.namelist())
    if content.startswith(b"PAR1"):
        return str(pd.read_parquet(io.BytesIO(content)).to_csv())
    return content.decode("utf-8", "replace").replace("\r\n ", "")  # folded lines of calendars


ADDRESSES = [
    *(
        "/healthz",
        "/join/x",
        "/signin",
        "/signout",
        "/signin/club",
        "/signin/club/return?code=x&state=y",
    ),
    *(f"/download/export/{what}.{ending}" for what in EXPORTS for ending in ("csv", "parquet")),
    "/download/export/unknown.csv",
    f"/download/sheet.pdf?day={DAY}&measure=jump_height",
    f"/download/sheet.pdf?day={GAME_DAY}&measure=jump_height",
    "/download/sheet.pdf?day=x&measure=y",
    *(
        f"/download/{whose}.{ending}?day={GAME_DAY}&measure=jump_height"
        for whose in ("game", "my-game")
        for ending in ("csv", "html", "ics", "zip")
    ),
    *(
        f"/download/training.{ending}?day={DAY}&measure=jump_height"
        for ending in ("pdf", "html", "csv")
    ),
    "/download/session-plan.pdf?plan=1",
    "/download/session-plan.pdf?plan=x",
    f"/download/week.pdf?measure=jump_height&week={DAY}",
    "/download/week.pdf?measure=jump_height&week={today}",
    "/download/exercises.csv",
    "/download/sample-efforts.csv",
    "/download/athlete.zip?athlete=A1",
    "/download/athlete.zip?athlete=x",
    "/download/my-curve.csv",
    "/download/my-data.zip",
    *(OWN_PATH + what for what in ("", "/copy.html", "/app.webmanifest", "/icon.png")),
    "/curve/" + "x" * 43,
]
ASKED_BY = ("long.one", "nobody")
"""Who opens the private links, which answer everybody alike."""


def answers(made: Made, store: Store, name: str, monkeypatch: pytest.MonkeyPatch) -> Answers:
    """Return what every address answers a person, or nobody; each is asked once."""
    if (store.path, name) not in made.told:
        monkeypatch.setenv("WARMCURVE_DB", str(store.path))
        with store.kept_open():
            made.told[store.path, name] = list(_asked(made, name))
    return made.told[store.path, name]


def _asked(made: Made, name: str) -> Iterator[tuple[str, int, str]]:
    routes = Starlette(
        routes=ROUTES,
        middleware=[Middleware(Gate)],
        exception_handlers=exception_handlers,
    )
    with TestClient(routes, follow_redirects=False, headers={"Accept": "*/*"}) as client:
        if name in made.tokens:
            client.cookies.set(SESSION_COOKIE, made.tokens[name])
        links = made.links.values() if name in ASKED_BY else ()
        for address in [*ADDRESSES, *links]:
            answer = client.get(address.replace("{today}", str(date.today())))
            headers = "\n".join(answer.headers.values())
            yield address, answer.status_code, f"{headers}\n{readable(answer.content)}"


def shape(address: str) -> str:
    """Return the part of an address that `MAY_HOLD` knows."""
    path = address.partition("?")[0]
    return path.rpartition(".")[0] if path.startswith("/download/export/") else path


def allowed(name: str, address: str, own: str) -> set[tuple[str, str]]:
    may = MAY_HOLD.get(shape(address))
    if may is None or name not in may.who:
        return set()
    codes = {own, "X0"} if may.whose == OWN else {*SEEN_BY[name], "X0"}
    return {(column, code) for column in may.columns for code in codes}


def test_every_column_of_texts_and_answers_is_listed(made: Made) -> None:
    """A new column fails here until somebody has thought about who may see it."""
    with made.store.reading() as cursor:
        texts = {f"{table}.{column}" for table, column in text_columns(cursor)}
        ticks = {
            f"{table}.{column}"
            for table, column in cursor.execute(
                "SELECT table_name, column_name FROM duckdb_columns() JOIN duckdb_tables() "
                "USING (database_name, table_name) WHERE data_type = 'BOOLEAN'"
            ).fetchall()
        }
        for table, columns in ANSWERS.items():
            for column, (first, _) in columns.items():
                [(same,)] = cursor.execute(
                    f"SELECT bool_and({column} = {first}) FROM {table}"
                ).fetchall()
                assert same, (table, column)
        stored = "\n".join(
            str(cursor.execute(f"SELECT {column} FROM {table}").fetchall())
            for table, column in (name.split(".") for name in TYPED)
        )
    assert {name for name in texts if not name.endswith(".person")} == {*TYPED, *NOT_TYPED}
    answered = {f"{table}.{column}" for table, columns in ANSWERS.items() for column in columns}
    assert ticks - answered == NO_ANSWERS
    assert {column for column, _ in markers(stored)} == {*TYPED} - {*SAME}
    nobody_s = {"audit.detail", "import_batch.file", "taken_back_import.reason"}
    for code in ("A1", "A3"):
        filled = {column for column, whose in markers(stored) if whose == code}
        assert {*TYPED} - {*SAME} - nobody_s - filled <= {"finding_decision.reason"}


def test_every_address_and_command_is_searched_or_listed() -> None:
    """A new route, export or command fails here until it is searched, or is in `NOT_HANDED_OUT`."""
    paths = {address.partition("?")[0] for address in ADDRESSES} | {"/curve/x"}
    for route in ROUTES:
        pattern = re.sub(r"\\{.*?\\}", "[^/]+", re.escape(route.path))
        assert any(re.fullmatch(pattern, path) for path in paths), route.path
    made_by = {
        " ".join(words[:2]) if words[0] in ("person", "privacy") else words[0] for words in WORDS
    }
    assert made_by | {*NOT_HANDED_OUT} == {*COMMANDS}
    assert {words[1] for words in WORDS if words[0] == "export"} == {*EXPORTS}


@pytest.mark.parametrize("name", ["dora", "yara", "long.one", "nobody"])
def test_the_server_answers_nobody_with_text_that_is_not_for_them(
    made: Made, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], name: str
) -> None:
    found: dict[str, set[tuple[str, str]]] = {}
    for address, status, text in answers(made, made.store, name, monkeypatch):
        may = allowed(name, address, "A1")
        assert markers(text) <= may, (address, status)
        if may and status == 200:
            found.setdefault(address.partition("?")[0], set()).update(markers(text))
    assert [path for path, held in found.items() if not held] == [], "hold nothing of what they may"
    logged = capfd.readouterr()
    assert not markers(logged.out + logged.err)


@pytest.mark.parametrize("name", ["dora", "long.one"])
def test_readiness_and_pain_change_nothing_that_is_handed_out(
    made: Made, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Not even by a number, other words, or another order."""
    told = [answers(made, store, name, monkeypatch) for store in (made.store, made.other)]
    for (address, *first), (_, *second) in zip(*told, strict=True):
        if not address.startswith(("/download/", "/curve/", OWN_PATH)):
            continue
        may = MAY_HOLD.get(shape(address))
        differs = may is not None and may.answers and name in may.who and first[0] == 200
        assert (first != second) == differs, address


WORDS = (
    *(["export", what] for what in EXPORTS),
    ["sheet", "--date", f"{GAME_DAY}", "--start", "19:30", "--measure", "jump_height"],
    ["advise", "--athlete", "A1", "--measure", "jump_height", "--json"],
    ["check"],
    ["person", "list"],
    ["privacy", "export", "A1"],
)
"""Commands whose output may be handed on."""
FILES = {
    "export": ["{}/x.csv"],
    "sheet": ["--out", "{0}/x.pdf", "--csv", "{0}/x.csv", "--ics", "{0}/ics"],
    "privacy": ["{}/x.zip"],
}


@pytest.mark.parametrize("words", WORDS, ids=" ".join)
def test_no_command_hands_out_text_that_it_must_not_hold(
    made: Made, tmp_path: Path, words: list[str]
) -> None:
    files = [word.format(tmp_path) for word in FILES.get(words[0], [])]
    shown = CliRunner().invoke(application, [*words, *files, "--db", str(made.store.path)])
    made_files = [path for path in tmp_path.rglob("*") if path.is_file()]
    told = "\n".join([shown.output, *(readable(path.read_bytes()) for path in made_files)])
    assert shown.exit_code == 0 and len(made_files) >= bool(files), shown.output
    same = {"export": f"/download/export/{words[-1]}.csv", "privacy": "/download/athlete.zip"}
    may = allowed("dora", same.get(words[0], ""), "A1")
    assert markers(told) <= may and bool(markers(told)) == bool(may)


def sitting(made: Made, name: str, script: Path = ROUTER) -> AppTest:
    seat = AppTest.from_file(script, default_timeout=PATIENCE_SECONDS)
    seat.user = {"sid": session_id(made.tokens[name])}
    return seat


def test_no_page_shows_an_athlete_what_was_typed(
    made: Made, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    told: dict[str, list[str]] = {page: [] for page in PAGES}
    for store in (made.store, made.other):
        monkeypatch.setenv("WARMCURVE_DB", str(store.path))
        with store.kept_open():
            menu = sitting(made, "long.one").run()
            for page in offered("long.one"):
                told[page].append(everything(menu.switch_page(file_of(page)).run()))
            for page in {*PAGES} - {*offered("long.one")}:
                script = sitting(made, "long.one", FOLDER / file_of(page))
                told[page].append(everything(script.run()))
    for page, (one, other) in told.items():
        assert not markers(one) and one == other, page
    assert str(soon_day().day) in told["my_warm_up"][0]
    logged = capfd.readouterr()
    assert not markers(logged.out + logged.err)


def test_no_address_on_a_page_holds_what_was_typed(
    made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Addresses stay in browsers' histories and proxies' logs."""
    monkeypatch.setenv("WARMCURVE_DB", str(made.store.path))
    seen, addresses = "", ""
    with made.store.kept_open():
        menu = sitting(made, "carl").run()
        for page in offered("carl"):
            script = menu.switch_page(file_of(page)).run()
            sent = everything(script)
            seen += sent
            found = re.findall(r'(?:url|page|href|query_string): "[^"]*"|/download/[^"\\\s]*', sent)
            addresses += "\n".join([*found, str(script.query_params)])
    assert "/download/" in addresses and "query_string" in addresses
    assert markers(seen) and not markers(addresses)
