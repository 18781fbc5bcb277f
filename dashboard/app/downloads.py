"""Files to download, each for the roles that may have it.

Each route looks up who is asking in the store. A file is made from the store as that person sees
it, without athletes who are out of their sight.

Streamlit's own download addresses answer anybody who is signed in, so only files for everybody
go through them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from urllib.parse import quote

import pandas as pd
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from dashboard.app.exports import export_rows
from dashboard.core.dates import FIRST_DAY, LAST_DAY
from dashboard.core.numbers import whole_number
from dashboard.screen.web_sessions import person_of, running_store
from dashboard.serving.gate import SID_HEADER
from db.errors import BadInput
from db.file.store import Store
from db.fits.export_names import ExportName
from db.fits.exports import export_bytes
from db.people.accounts import Person
from db.people.sight import in_sight, sight_of
from db.plans.exercises import exercises_csv
from db.plans.kept_games import kept_games
from db.privacy.held_data import athlete_zip
from db.roster.measures import get_measure
from demo_team.sample import sample_efforts

MEDIA_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "html": "text/html; charset=utf-8",
    "ics": "text/calendar; charset=utf-8",
    "parquet": "application/vnd.apache.parquet",
    "pdf": "application/pdf",
    "zip": "application/zip",
}
EXPORTS: dict[ExportName, tuple[str, ...]] = {
    "responses": ("director", "coach"),
    "curves": ("director", "coach"),
    "bands": ("director",),
    "reliability": ("director", "coach"),
    "next-tests": ("director", "coach"),
    "squad": ("director",),
    "efforts": ("director",),
    "set-aside": ("director",),
}


@dataclass(frozen=True)
class File:
    """A file to download: its name, whose ending says what it is, and its bytes."""

    name: str
    content: bytes


@dataclass(frozen=True)
class Download:
    """One address: who may ask, and what makes the file for them."""

    path: str
    roles: tuple[str, ...]
    make: Callable[[Store, Person, Request], File]


def export(store: Store, person: Person, request: Request) -> File:
    """Return an export as CSV or Parquet, of one measure or of all.

    `EXPORTS` says which role gets which; a coach gets them for the athletes in sight. `efforts`
    hold answers about pain and joints and free notes, and `set-aside` whatever a file held by
    mistake, so both are for directors only.
    """
    what, ending = request.path_params["what"], request.path_params["ending"]
    if what not in EXPORTS or ending not in {"csv", "parquet"}:
        raise HTTPException(404, f"There is no export {what}.{ending}.")
    if person.role not in EXPORTS[what]:
        raise HTTPException(403, f"The export of {what} is not for this account.")
    measure = _asked_measure(store, request)
    name = "-".join(part for part in (what, measure) if part)
    return _table_file(export_rows(store, what, measure), f"{name}.{ending}")


def sheet(store: Store, _person: Person, request: Request) -> File:
    """Return the warm-up sheet of a day and measure: the game's if there is one, else training's.

    On the day of a game, `training.pdf` is the sheet of the saved plan without the game's times.
    """
    from dashboard.game.files import game_files
    from dashboard.today.training_plan import plan_sheet

    day, measure = _day_and_measure(request)
    if kept_games(store, day, measure):
        content = game_files(store, day, measure).pdf()
    else:
        content = plan_sheet(store, day, measure)
    return File(f"warm-up-{day}-{measure}.pdf", content)


def game(store: Store, _person: Person, request: Request) -> File:
    """Return a game's table, phone view, the staff's calendar, or everybody's calendars."""
    from dashboard.game.files import game_files

    day, measure = _day_and_measure(request)
    files = game_files(store, day, measure)
    make = {"csv": files.csv, "html": files.phone, "ics": files.calendar, "zip": files.calendars}
    ending = request.path_params["ending"]
    if ending not in make:
        raise HTTPException(404, f"There is no file of a game that ends in .{ending}.")
    return File(f"warm-up-{day}-{measure}.{ending}", make[ending]())


def training(store: Store, _person: Person, request: Request) -> File:
    """Return a training day's sheet, phone view or table, whether or not there is a game too."""
    from dashboard.today.training_plan import plan_phone, plan_sheet, plan_table

    day, measure = _day_and_measure(request)
    make = {"pdf": plan_sheet, "html": plan_phone, "csv": plan_table}
    ending = request.path_params["ending"]
    if ending not in make:
        raise HTTPException(404, f"There is no file of a training day that ends in .{ending}.")
    return File(f"training-{day}-{measure}.{ending}", make[ending](store, day, measure))


def own_game(store: Store, person: Person, request: Request) -> File:
    """Return an athlete's own line of a game, for a phone or a calendar."""
    from dashboard.game.files import game_files

    code = _own_code(person, request)
    day, measure = _day_and_measure(request)
    files = game_files(store, day, measure)
    make = {"html": files.phone, "ics": files.calendar}
    ending = request.path_params["ending"]
    if ending not in make:
        raise HTTPException(404, f"There is no file of your own that ends in .{ending}.")
    return File(f"my-warm-up-{day}.{ending}", make[ending](code))


def session_plan(store: Store, _person: Person, request: Request) -> File:
    """Return the sheet of a session plan."""
    from dashboard.lifting.paper import session_sheet

    number = whole_number(request.query_params.get("plan", ""))
    if number is None:
        raise BadInput("The address names no plan by its number. Open the page 'Session plan'.")
    return File(f"session-plan-{number}.pdf", session_sheet(store, number))


def week(store: Store, _person: Person, request: Request) -> File:
    """Return the squad and the week of a day, against another week or the one before."""
    from dashboard.squad.sheet import squad_sheet
    from dashboard.week.fit_moments import Week

    asked = request.query_params
    shown = Week.of(_day(asked.get("week", "")))
    against = Week.of(_day(asked["against"])) if "against" in asked else shown.before
    content = squad_sheet(store, asked.get("measure", ""), shown, against)
    return File(f"week-{shown.first}-{asked['measure']}.pdf", content)


def exercises(store: Store, _person: Person, _request: Request) -> File:
    """Return the library of exercises."""
    return File("exercises.csv", exercises_csv(store).encode())


def sample(_store: Store, _person: Person, _request: Request) -> File:
    """Return a small file of an invented squad's efforts, to try an import with."""
    return File("sample-efforts.csv", sample_efforts().encode())


def own_curve(store: Store, person: Person, request: Request) -> File:
    """Return an athlete's own curves; asking for anybody else's is refused."""
    _own_code(person, request)
    curves = export_rows(store, "curves", _asked_measure(store, request))
    return _table_file(curves[curves["athlete"] == person.athlete], "my-curve.csv")


def own_data(store: Store, person: Person, request: Request) -> File:
    """Return an athlete's own data, without rows of others that only mention them."""
    return File("my-data.zip", athlete_zip(store, _own_code(person, request)))


def athlete_data(store: Store, _person: Person, request: Request) -> File:
    """Return everything the store holds about one athlete."""
    code = request.query_params.get("athlete", "")
    return File(f"athlete-{code}.zip", athlete_zip(store, code))


def _own_code(person: Person, request: Request) -> str:
    """Return the athlete's own code; asking for anybody else's is refused."""
    asked = [request.query_params.getlist(name) for name in ("athlete", "code")]
    if any(code != person.athlete for codes in asked for code in codes):
        raise HTTPException(403, "You may take your own data only.")
    return str(person.athlete)


OFFERED = [
    Download("/download/export/{what}.{ending}", ("director", "coach"), export),
    Download("/download/sheet.pdf", ("director", "coach"), sheet),
    Download("/download/game.{ending}", ("director", "coach"), game),
    Download("/download/training.{ending}", ("director", "coach"), training),
    Download("/download/my-game.{ending}", ("athlete",), own_game),
    Download("/download/session-plan.pdf", ("director", "coach"), session_plan),
    Download("/download/week.pdf", ("director",), week),
    Download("/download/exercises.csv", ("director", "coach"), exercises),
    Download("/download/sample-efforts.csv", ("director", "coach"), sample),
    Download("/download/athlete.zip", ("director",), athlete_data),
    Download("/download/my-curve.csv", ("athlete",), own_curve),
    Download("/download/my-data.zip", ("athlete",), own_data),
]


def routes() -> list[Route]:
    """Return a guarded route for everything in `OFFERED`."""
    return [_route(download) for download in OFFERED]


def _route(download: Download) -> Route:
    def answer(request: Request) -> Response:
        store = running_store()
        with store.kept_open():  # a sheet asks dozens of questions, and opening costs 10 ms
            person = person_of(store, request.headers.get(SID_HEADER, ""))
            if person is None or person.role not in download.roles:
                raise HTTPException(403, "This file is not for this account.")
            return _attachment(download.make(in_sight(store, sight_of(person)), person, request))

    return Route(download.path, answer, methods=["GET"])


def _attachment(file: File) -> Response:
    ending = file.name.rpartition(".")[2]
    headers = {
        "Content-Disposition": f"attachment; filename*=UTF-8''{quote(file.name)}",
        "Cache-Control": "no-store",
    }
    return Response(file.content, media_type=MEDIA_TYPES[ending], headers=headers)


def _table_file(frame: pd.DataFrame, name: str) -> File:
    return File(name, export_bytes(frame, Path(name).suffix))


def _day_and_measure(request: Request) -> tuple[date, str]:
    asked = request.query_params
    return _day(asked.get("day", "")), asked.get("measure", "")


def _asked_measure(store: Store, request: Request) -> str | None:
    """Return the measure that is asked for, or None for all."""
    measure = request.query_params.get("measure")
    if measure is not None:
        get_measure(store, measure)
    return measure


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = date.max
    if FIRST_DAY <= day <= LAST_DAY:
        return day
    raise BadInput(
        f"The day '{text}' is not a date such as 2026-03-14, from {FIRST_DAY:%Y} to {LAST_DAY:%Y}."
    )
