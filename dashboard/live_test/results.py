"""What an ended test showed: the best, the fade, what noise alone would do, the curve before."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
import streamlit as st

from dashboard.core.numbers import counted, figures, measured, percent
from dashboard.curve import words as curve_words
from dashboard.fits.curve_rows import CurveRow, curve_row
from dashboard.fits.fitting import CannotFit
from dashboard.fits.folded_sessions import fold_session
from dashboard.fits.usual_terms import curves, latest_fit, responses, squad_curve
from dashboard.live_test import words
from dashboard.live_test.charts import before_and_after_figure
from dashboard.live_test.state import Standing
from dashboard.rules.protocol_words import rest_as_done
from dashboard.screen import elements, pictures
from dashboard.screen.reads import ask
from db.efforts.live_tests import earlier_methods
from db.roster.measures import Measure
from db.roster.protocols import protocol_of
from modeling.testing.fade import decrement_pct
from modeling.testing.false_stop import chance_of_false_stop, chance_of_low_effort


def show_results(one: Standing, measure: Measure) -> None:
    """Show what the test of one athlete showed."""
    st.header(f"{one.test['name']}: {measure.name.lower()}")
    if one.test["ended_because"] == words.ENDED_BECAUSE[3]:
        st.warning(words.UNWELL)
    if not one.usable:
        st.info("No usable effort was saved in this test, so there is nothing to say of it.")
        return
    st.write(words.fade_sentence(one))
    warning = words.other_methods(
        one.test["name"],
        one.method,
        ask(earlier_methods, one.test["athlete"], measure.code, one.session_id),
    )
    if warning:
        st.warning(warning)
    higher = measure.better == "higher"
    told = [
        f"Raw best: {measured(one.state.best or 0.0, measure.unit)}, of"
        f" {counted(len(one.usable), 'usable effort')}; the best of many noisy efforts is"
        " flattered by noise.",
        "Percentage decrement, how far the mean lies from the best:"
        f" {percent(decrement_pct(one.usable, higher_is_better=higher))} over"
        f" {counted(len(one.usable), 'effort')}.",
    ]
    if pd.notna(rest := one.test["effort_rest_seconds"]):
        told.append(rest_as_done(float(rest), ask(protocol_of, measure)))
    try:
        with st.spinner("Adding the test to the curve"):
            fold = ask(fold_session, measure, str(one.test["athlete"]), one.session_id)
    except CannotFit as error:
        elements.bullets(told)
        st.info(
            f"{error.message} Work out the curves on the page Athlete; this page then shows the"
            " peak by the model, what noise alone would do, and the curve before and after."
        )
        return
    elements.bullets([_peak(fold.peak, measure), *told, *_noise(one, fold.noise_pct)])
    _show_before_and_after(one, measure, fold.response)


def _peak(peak: Mapping[str, float], measure: Measure) -> str:
    low, high = (figures(peak[end]) for end in ("peak_low", "peak_high"))
    return (
        f"Peak effort by the model, that day: {measured(peak['peak'], measure.unit)}"
        f" (90\u00a0% interval {low} to {high})."
    )


def _noise(one: Standing, noise_pct: float) -> list[str]:
    if one.test["kind"] != "fade":
        return []
    rule, efforts = words.rule_of(one), len(one.usable)
    false_stop = chance_of_false_stop(noise_pct, efforts, share=rule.share, in_a_row=rule.in_a_row)
    low = chance_of_low_effort(noise_pct, efforts, share=rule.share)
    return [words.noise_sentence(false_stop, low, noise_pct, one)]


def _show_before_and_after(one: Standing, measure: Measure, after: CurveRow) -> None:
    athlete, unit = str(one.test["athlete"]), measure.volume_unit
    fold = ask(fold_session, measure, athlete, one.session_id)
    before, kept = ask(curves, measure.code, athlete), ask(responses, measure.code, athlete)
    row, fit = curve_row(kept, athlete), ask(latest_fit, measure.code)
    st.header("The curve, before and with this test")
    if before.empty:
        before = ask(squad_curve, measure.code)
    elements.quiet(
        "dashed, grey: as last worked out"
        + ("" if row is not None and row["sessions"] else ", the squad's own")
        + " · violet: with what was saved since · bands: 90\u00a0%"
    )
    reach = 1.15 * max(after["best_volume_high"], one.efforts["volume"].max())
    in_words = [curve_words.best_sentence(after, unit), curve_words.hold_sentence(after, unit)]
    pictures.show(
        pictures.draw(
            before_and_after_figure,
            before,
            fold.curve,
            float(reach),
            unit,
            elements.screen_palette(),
        ),
        key=f"before_after_{one.session_id}",
        alt=" ".join(in_words),
    )
    elements.bullets(
        [
            f"Before: {curve_words.best_sentence(row, unit)}" if row is not None else "",
            f"With this test: {curve_words.best_sentence(after, unit)}",
            curve_words.length_sentence(after, fit.standard_volume, unit) if fit else "",
            curve_words.loss_sentence(after, fit.standard_volume) if fit else "",
            curve_words.hold_sentence(after, unit),
        ]
    )
    elements.quiet(
        "The squad's curve has not changed. This test counts there once the curves are worked"
        " out again."
    )
