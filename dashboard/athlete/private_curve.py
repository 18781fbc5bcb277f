"""One athlete's curve for whoever holds a private link: a page without script or sign-in."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from dashboard.core import cautions
from dashboard.core.numbers import estimated_volume, number, volume
from dashboard.core.reader import Reader, preferred_locale, written_for
from dashboard.curve import account_words, words
from dashboard.fits.curve_rows import CurveRow, curve_rows
from dashboard.fits.lengths import responses
from dashboard.fits.usual_terms import curves, latest_fit, usual_terms
from dashboard.rules import status_words
from dashboard.rules.standing import blocked_codes
from dashboard.screen import units
from dashboard.screen.web_sessions import running_store, session_id
from dashboard.serving.gate import LINK_PATH
from dashboard.serving.own_pages import page
from db.file.settings import get_setting
from db.file.store import Store
from db.fits.results import KeptFit
from db.people.accounts import Person
from db.people.private_links import athlete_of_link, keep_link
from db.people.sight import in_sight, sight_of
from db.roster.athletes import list_athletes
from db.roster.measures import Measure, list_measures

LONGEST_DAYS = 90
WIDTH, HEIGHT, LEFT, FOOT = 360.0, 220.0, 52.0, 40.0
FEWEST_SHOWN_PCT = 5.0


@dataclass(frozen=True)
class Drawing:
    """One measure's curve as the page draws it: points of a picture 360 wide and 220 high.

    Attributes
    ----------
    title, headline : str
        The measure, and the message of the curve.
    band, line : str
        Points of the 90 % band and of the curve.
    best_x, standard_x : float
        Where the best volume and the standard stand.
    ticks_x, ticks_y : list of (float, str)
        Places and labels of the axes.
    unit : str
        Volume unit.
    best : str
        Best volume with its interval.
    sentences : list of str
        What it means, in plain words.
    usual : str
        In which circumstances the volumes are meant, empty where nothing is known of them.
    """

    title: str
    headline: str
    band: str
    line: str
    best_x: float
    standard_x: float
    ticks_x: list[tuple[float, str]]
    ticks_y: list[tuple[float, str]]
    unit: str
    best: str
    sentences: list[str]
    usual: str


def make_link(store: Store, athlete: str, days: int, person: str) -> str:
    """Make a private link that opens for some days and return its path; it is told only once."""
    token = secrets.token_urlsafe(32)
    until = datetime.now(UTC) + timedelta(days=min(max(days, 1), LONGEST_DAYS))
    keep_link(store, athlete, session_id(token), until, person)
    return f"{LINK_PATH}{token}"


async def show_curve(request: Request) -> Response:
    """Show the curves of the athlete whom a link is for, or say that it opens nothing."""
    token, liked = str(request.path_params["token"]), request.headers.get("accept-language", "")
    return await run_in_threadpool(_answer, token, liked)


def _answer(token: str, liked: str) -> Response:
    store = running_store()
    athlete = athlete_of_link(store, session_id(token), datetime.now(UTC))
    if athlete is None:
        return page(
            "trouble.html",
            404,
            heading="This link opens nothing",
            sentence="It has expired, was revoked, or is not whole. Ask your coach for a new one.",
        )
    # The page is worked out from the store as that athlete's own account would see it.
    holder = Person("private link", "", "athlete", athlete)
    own = in_sight(store, sight_of(holder))
    reader = Reader(preferred_locale(liked), units.kept_system(store))
    with own.reading(), written_for(reader):
        names = list_athletes(own).set_index("athlete")["name"]
        drawings = [
            drawing
            for measure in list_measures(own)
            if (drawing := _drawing(own, measure, athlete))
        ]
        return page(
            "curve.html",
            club=get_setting(store, "club_name", ""),
            name=names.get(athlete, athlete),
            drawings=drawings,
            width=WIDTH,
            height=HEIGHT,
            left=LEFT,
            foot=FOOT,
            caution=cautions.CAUTION,
            blocked=status_words.ASK_STAFF if athlete in blocked_codes(own) else "",
        )


def _drawing(store: Store, measure: Measure, athlete: str) -> Drawing | None:
    fit, rows = latest_fit(store, measure.code), responses(store, measure.code, athlete)
    if fit is None or rows.empty or not rows["sessions"].iloc[0]:
        return None
    row = curve_rows(rows)[0]
    terms = usual_terms(store, measure.code)
    usual = account_words.usual_sentence(terms) if terms else ""
    return _lay_out(curves(store, measure.code, athlete), row, measure, fit, usual)


def _lay_out(
    curve: pd.DataFrame, row: CurveRow, measure: Measure, fit: KeptFit, usual: str
) -> Drawing:
    most = max(1.2 * row["best_volume_high"], 1.3 * fit.standard_volume)
    seen = curve[curve["volume"] <= most].sort_values("volume")
    lowest = min(float(seen["change_pct_low"].min()), -FEWEST_SHOWN_PCT)

    def across(at: float) -> float:
        return round(LEFT + (WIDTH - LEFT - 8.0) * at / most, 1)

    def up(change_pct: float) -> float:
        return round(8.0 + (HEIGHT - FOOT - 8.0) * change_pct / lowest, 1)

    def points(values: pd.Series) -> list[str]:
        return [f"{across(x)},{up(y)}" for x, y in zip(seen["volume"], values, strict=True)]

    step = 10.0 ** np.floor(np.log10(most))
    step = step / 2 if most < 3 * step else step
    unit, standard = measure.volume_unit, fit.standard_volume
    return Drawing(
        title=measure.name,
        headline=words.headline(row, standard, to_athlete=True),
        band=" ".join(points(seen["change_pct_low"]) + points(seen["change_pct_high"])[::-1]),
        line=" ".join(points(seen["change_pct"])),
        best_x=across(row["best_volume"]),
        standard_x=across(standard),
        ticks_x=[(across(at), number(at)) for at in np.arange(0.0, most, step)],
        ticks_y=[(up(at), number(100 + at)) for at in np.arange(0.0, lowest, -5.0)],
        unit=unit,
        best=estimated_volume(row),
        sentences=[
            f"Your length: {volume(row['length'], unit)}.",
            words.own_length_sentence(row, unit),
            *words.own_sentences(row, standard, unit),
        ],
        usual=usual,
    )


routes = [Route(LINK_PATH + "{token}", show_curve, methods=["GET"])]
