"""One athlete's curve on the screen, with the words that go with it."""

from __future__ import annotations

import streamlit as st

from dashboard.core import terms
from dashboard.curve import account_words, words
from dashboard.curve.chart import athlete_figure
from dashboard.fits.curve_rows import CurveRow
from dashboard.fits.usual_terms import curves, placed_efforts, usual_terms
from dashboard.screen import pictures, units
from dashboard.screen.elements import quiet, screen_palette
from dashboard.screen.reads import ask
from db.fits.results import KeptFit
from db.roster.measures import Measure


def show_curve(row: CurveRow, measure: Measure, fit: KeptFit, to_athlete: bool = False) -> None:
    """Show one athlete's curve: message, how to read it, picture, and the same in words."""
    unit, standard = measure.volume_unit, fit.standard_volume
    st.header(
        words.headline(row, standard, to_athlete),
        help=f"{terms.meaning('call')}\n\n{terms.meaning('curve')}",
    )
    quiet(words.how_to_read_curve(row))
    points = ask(placed_efforts, measure, row["athlete"])
    pictures.show(
        pictures.draw(
            athlete_figure,
            ask(curves, measure.code, row["athlete"]),
            points.assign(told=units.told(points["value"], measure.unit)),
            row,
            standard,
            unit,
            screen_palette(),
        ),
        key=f"curve_{measure.code}_{row['athlete']}",
        alt=words.curve_in_words(row, standard, unit),
    )
    usual_note(measure)


def usual_note(measure: Measure) -> None:
    """Say which circumstances the volumes on a page stand for."""
    terms = ask(usual_terms, measure.code)
    if terms is not None:
        quiet(account_words.usual_sentence(terms))
