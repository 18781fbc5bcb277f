"""The page `Reliability` and its export: what they say and draw, with and without curves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.app.exports import CannotCompare, export_rows
from dashboard.core.palette import DARK, LIGHT, Palette
from dashboard.fits.fitting import fit_measure
from dashboard.fits.reliability_frames import MeasureReliability, measure_reliability
from dashboard.screen import units
from dashboard.trust import reliability_numbers, reliability_tables, reliability_words
from dashboard.trust.noise_and_signal import noise_and_signal
from dashboard.trust.reliability_charts import agreement_figure, signal_figure, trials_figure
from db.file.store import Store
from db.fits.results import latest_fit
from db.imports.effort_files import read_table
from db.imports.storing import import_efforts
from db.people.accounts import Person, add_person
from db.roster.athletes import save_athletes
from db.roster.measures import Measure, get_measure, save_measure
from tests.dashboard import artificial
from tests.dashboard.conftest import HASH, SignIn, add_routine_sessions, fill, new_store, told

# Weir (2005), data set A: 1RM squat in kg on two days, as in `modeling/repeat/test_reliability.py`.
WEIR = {1: (146, 148, 170, 90, 157, 156, 176, 205), 2: (140, 152, 152, 99, 145, 153, 167, 218)}


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("reliability") / "club.duckdb")
    fill(store, fitted=False)
    add_routine_sessions(store)
    fit_measure(store, "jump_height", "test")
    return store


@pytest.fixture(scope="module")
def kept(fitted: Store) -> MeasureReliability:
    return measure_reliability(fitted, "jump_height")


@pytest.fixture
def compared_store(filled_store: Store) -> Store:
    """The artificial athletes with a fit, and routine sessions since."""
    add_routine_sessions(filled_store)
    return filled_store


@pytest.fixture
def weir(empty_store: Store) -> Store:
    """Sixteen values at one volume, never fitted."""
    save_measure(empty_store, Measure("squat", "Squat", "kg", "higher", worthwhile_pct=5.0), "test")
    rows = [
        f"W{athlete},2026-05-{day:02d}T10:00,squat,1,{value},5"
        for day, values in WEIR.items()
        for athlete, value in enumerate(values)
    ]
    import_rows(empty_store, *rows)
    return empty_store


@pytest.fixture(scope="module")
def measure(fitted: Store) -> Measure:
    return get_measure(fitted, "jump_height")


def import_rows(store: Store, *lines: str) -> None:
    """Import rows of efforts with a volume before each."""
    content = "\n".join(["athlete,started_at,measure,effort,value,volume_before", *lines]).encode()
    import_efforts(store, read_table(content, "rows.csv"), "test", add_athletes=True)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def test_a_published_example_needs_no_curve(weir: Store) -> None:
    mean, best = export_rows(weir, "reliability", "squat").to_dict("records")
    assert {**mean, "basis": "best"} == best
    assert (mean["athletes"], mean["sessions"]) == (8, 16)
    # Weir (2005), p. 236: SEM 7.6; minimal difference and correlations follow from it.
    assert mean["typical_error"] == pytest.approx(7.556927, abs=1e-6)
    assert mean["minimal_detectable"] == pytest.approx(20.946732, abs=1e-3)
    assert mean["icc_3_1"] == pytest.approx(0.947016, abs=1e-6)
    assert mean["icc_2_1"] == pytest.approx(0.949975, abs=1e-6)
    assert mean["change_in_mean"] == pytest.approx(153.25 - 156)


def test_the_page_of_a_published_example_needs_no_curve(weir: Store, sign_in: SignIn) -> None:
    page = sign_in(weir, "carl", "reliability")
    text = plain(told(page))
    assert "A change of less than 20.9 kg" in text
    assert "Compared: 16 routine sessions of 8 athletes" in text
    assert "From the noise of these sessions" in text
    assert "1 effort over 17 sessions" in text
    assert page.table[1].value["efforts in a session"].tolist() == [1]
    assert len(page.get("plotly_chart")) == 3 and not page.exception


def test_noise_comes_from_the_sessions_before_a_fit_and_from_the_fit_after_it(
    unfitted_store: Store, fitted: Store
) -> None:
    """Days and efforts were drawn with 2 %: three efforts show 2.80 sqrt(2 (4 + 4 / 3)) %."""
    add_routine_sessions(unfitted_store)
    alone = measure_reliability(unfitted_store, "jump_height")
    model = measure_reliability(fitted, "jump_height")
    assert (alone.by_model, model.by_model) == (False, True)
    pd.testing.assert_frame_equal(alone.estimates, model.estimates)
    for found in (alone, model):
        assert found.needs["efforts"].tolist() == [1, 2, 3, 5, 10]
        assert found.needs["detectable_pct"].is_monotonic_decreasing
    three = alone.needs.set_index("efforts").loc[3]
    assert three["detectable_pct_low"] < 9.15 < three["detectable_pct_high"]
    fit = latest_fit(fitted, "jump_height")
    assert fit is not None
    by_model = 2.8016 * (2 * (fit.day_noise_pct**2 + fit.effort_noise_pct**2)) ** 0.5
    assert model.needs["detectable_pct"][0] == pytest.approx(by_model, rel=1e-4)


def test_nothing_to_compare_is_a_sentence_and_not_an_empty_file(
    unfitted_store: Store, tmp_path: Path
) -> None:
    file = tmp_path / "out.csv"
    words = ["export", "reliability", str(file), "--db", str(unfitted_store.path)]
    done = CliRunner().invoke(application, words)
    assert (done.exit_code, file.exists()) == (1, False)
    assert "Jump height: Nobody has two routine sessions" in done.stderr
    assert "At least two athletes need two sessions each" in done.stderr


def test_a_store_without_efforts_has_nothing_to_export(empty_store: Store) -> None:
    with pytest.raises(CannotCompare, match="There are no efforts yet"):
        export_rows(empty_store, "reliability")


def test_a_measure_that_cannot_be_compared_is_named_beside_those_that_can(weir: Store) -> None:
    rows = (
        b"athlete,started_at,measure,effort,value,volume_before\nW1,2026-05-01,throw_speed,1,20,5"
    )
    rows = rows.replace(b"05-01", b"05-01T10:00")
    import_efforts(weir, read_table(rows, "throws.csv"), "test")
    left_out: list[str] = []
    assert set(export_rows(weir, "reliability", say=left_out.append)["measure"]) == {"squat"}
    assert len(left_out) == 1 and left_out[0].startswith("Throw speed: Nobody has two")


def test_a_new_session_counts_at_once(compared_store: Store) -> None:
    before = measure_reliability(compared_store, "jump_height")
    import_rows(compared_store, "A2,2026-06-01T10:00,jump_height,1,41,15")
    after = measure_reliability(compared_store, "jump_height")
    assert (before.sessions, after.sessions) == (17, 18)


def test_routine_sessions_are_compared_with_each_other(
    fitted: Store, kept: MeasureReliability
) -> None:
    assert (kept.athletes, kept.sessions, kept.usual_efforts) == (4, 17, 3)
    frame = export_rows(fitted, "reliability").set_index("basis")
    mean = frame.loc["mean"]
    assert mean["typical_error_low"] < mean["typical_error"] < mean["typical_error_high"]
    # Day noise 2 % and three efforts of 2 %: 2.3 %.
    assert 1.6 < mean["cv_pct"] < 3.4
    assert mean["icc_3_1"] > 0.9
    assert mean["minimal_detectable"] == pytest.approx(1.96 * 2**0.5 * mean["typical_error"], 1e-4)
    assert list(frame.reset_index()) == (
        "basis, measure, athletes, sessions, typical_error, typical_error_low, "
        "typical_error_high, cv_pct, icc_3_1, icc_2_1, change_in_mean, smallest_worthwhile, "
        "minimal_detectable"
    ).split(", ")


def test_the_pairs_on_the_page_match_the_limits(kept: MeasureReliability) -> None:
    for basis in ("mean", "best"):
        pairs = reliability_numbers.session_pairs(kept, basis, "cm")
        found = reliability_numbers.estimates_of(kept, basis, "cm")
        assert len(pairs) == 8
        assert pairs["difference"].mean() == pytest.approx(found["change_in_mean"][0])
        width = found["upper_limit"][0] - found["lower_limit"][0]
        assert width == pytest.approx(2 * 1.96 * pairs["difference"].std(), rel=1e-4)


def test_every_sentence_has_its_interval(kept: MeasureReliability, measure: Measure) -> None:
    found = reliability_numbers.estimates_of(kept, "mean", "cm")
    sentences = reliability_words.can_and_cannot(found, kept, measure)
    text = plain("\n".join([reliability_words.headline(found, measure), *sentences]))
    low, high = (f"{end:.1f}" for end in found["minimal_detectable"][1:])
    assert f"cm ({low} to {high}) between two sessions may be noise" in text
    assert "a fifth of the spread between athletes, is" in text
    assert "The team's own setting** is 1.5 %. Too small to see in two sessions." in text
    assert "3 efforts over" in text and "sessions (" in text
    assert "no steady change is seen" in text
    assert "By noise alone the best of 3 efforts lies" in text


def test_what_two_sessions_show_is_judged_by_both_intervals(
    kept: MeasureReliability, measure: Measure
) -> None:
    found = dict(reliability_numbers.estimates_of(kept, "mean", "cm"))
    for change, verdict in (
        ((1.0, 0.8, 1.4), "Large enough to see in two sessions."),
        ((1.5, 1.2, 1.9), "Not known yet whether two sessions"),
        ((3.0, 2.5, 3.9), "Too small to see in two sessions."),
    ):
        told_now = reliability_words.can_and_cannot(
            found | {"minimal_detectable_pct": change}, kept, measure
        )
        assert verdict in told_now[2]


def test_no_spread_between_athletes_leaves_the_team_s_own_setting(
    kept: MeasureReliability, measure: Measure
) -> None:
    found = dict(reliability_numbers.estimates_of(kept, "mean", "cm"))
    none = found | {"smallest_worthwhile": (0.0, 0.0, 0.4)}
    unknown = kept.needs.assign(smallest_sessions=np.nan)
    sentences = reliability_words.can_and_cannot(none, replace(kept, needs=unknown), measure)
    assert "not known yet" in sentences[1]
    assert plain(sentences[3]).endswith("would show 1.5 %.")
    table = reliability_tables.needs_table(replace(kept, needs=unknown), measure)
    assert set(table["sessions to show the smallest worthwhile"]) == {"not known"}


def test_learning_is_named(kept: MeasureReliability, measure: Measure) -> None:
    found = dict(reliability_numbers.estimates_of(kept, "mean", "cm")) | {
        "trend_pct": (0.9, 0.4, 1.4)
    }
    sentences = reliability_words.can_and_cannot(found, kept, measure)
    assert "changed by 0.90 % (0.40 to 1.40): the athletes learn" in plain(sentences[4])


def test_many_sessions_are_not_counted_in_hundreds(
    kept: MeasureReliability, measure: Measure
) -> None:
    many = kept.needs.assign(setting_sessions=300.0, setting_sessions_high=500.0)
    table = reliability_tables.needs_table(replace(kept, needs=many), measure)
    assert set(table.iloc[:, 3]) == {"more than 99"}


def test_the_table_has_every_quantity_with_its_interval(
    fitted: Store, kept: MeasureReliability, measure: Measure
) -> None:
    fit = latest_fit(fitted, "jump_height")
    assert fit is not None
    found = reliability_numbers.estimates_of(kept, "mean", "cm")
    table = reliability_tables.numbers_table(found, measure, fit, None)
    rows = table.set_index("what")
    assert list(rows.columns) == ["value, cm", "value, %"]
    error = found["typical_error"]
    shown = f"{error[0]:.1f} ({error[1]:.1f} to {error[2]:.1f})"
    assert rows.loc["typical error", "value, cm"] == shown
    filled = rows.drop(index="the team's own setting").agg("".join, axis=1)
    assert filled.str.contains(" to ").all()


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_figures_draw_noise_before_the_signal(fitted: Store, palette: Palette) -> None:
    rows = noise_and_signal(fitted, "mean")
    assert rows["name"].tolist() == [
        "effort to effort",
        "day to day",
        "typical error",
        "a fifth of the spread",
        "the team's setting",
    ]
    figure = signal_figure(rows, palette)
    noise, signal = figure.data
    assert list(noise.x) == rows["size"].tolist()[:3]
    assert list(signal.y) == [4, 5]
    assert figure.layout.yaxis.ticktext[0] == "<b>Jump height</b>"
    assert signal.marker.color == palette.text
    words = plain(reliability_words.signal_in_words(rows))
    assert "Jump height: effort to effort" in words and "the team's setting 1.5 %." in words


def test_limits_are_drawn_with_their_intervals(kept: MeasureReliability, measure: Measure) -> None:
    pairs = reliability_numbers.session_pairs(kept, "best", "cm")
    found = reliability_numbers.estimates_of(kept, "best", "cm")
    figure = agreement_figure(pairs, found, "cm", LIGHT)
    lines = [shape.y0 for shape in figure.layout.shapes if shape.type == "line"]
    assert lines == [found[q][0] for q in ("upper_limit", "change_in_mean", "lower_limit")]
    bands = [(shape.y0, shape.y1) for shape in figure.layout.shapes if shape.type == "rect"]
    assert bands[0] == found["upper_limit"][1:]
    low, high = figure.layout.yaxis.range
    assert low < found["lower_limit"][1] and high > found["upper_limit"][2]
    assert "8 pairs of sessions; mean difference" in reliability_words.pairs_in_words(
        pairs, found, measure
    )


def test_trials_are_drawn_with_their_counts(kept: MeasureReliability) -> None:
    trials = kept.trials[kept.trials["basis"] == "mean"]
    assert trials["trial"].tolist() == [1, 2, 3, 4]
    figure = trials_figure(trials, LIGHT)
    assert list(figure.data[0].y) == trials["change_pct"].tolist()
    assert "session 4, 4 athletes" in figure.data[0].text[3]
    assert "session 2" in reliability_words.trials_in_words(trials)


# The page


def test_a_coach_reads_how_far_to_trust_the_measure(compared_store: Store, sign_in: SignIn) -> None:
    page = sign_in(compared_store, "carl", "reliability")
    text = plain(told(page))
    assert "between two sessions may be noise" in text
    assert "Compared: 17 routine sessions of 4 athletes" in text
    assert len(page.get("plotly_chart")) == 3
    mean = page.table[0].value.to_csv()
    page.button_group[0].set_value("best").run()
    assert not page.exception
    assert page.table[0].value.to_csv() != mean


def test_values_are_shown_in_the_units_of_the_club(compared_store: Store, sign_in: SignIn) -> None:
    page = sign_in(compared_store, "carl", "reliability")
    metric = page.table[0].value.set_index("what")
    units.keep_system(compared_store, "imperial", "dora")
    page.run()
    assert not page.exception
    shown = page.table[0].value.set_index("what")
    assert "\u00a0in (" in page.header[0].value and "\u00a0cm" not in told(page)
    of_error = [
        float(table.loc["typical error", f"value, {unit}"].partition(" ")[0])
        for table, unit in ((metric, "cm"), (shown, "in"))
    ]
    assert of_error[1] == pytest.approx(of_error[0] / 2.54, abs=0.03)
    assert shown["value, %"].tolist() == metric["value, %"].tolist()


def test_a_coach_of_a_squad_is_told_whose_numbers_they_are(
    compared_store: Store, sign_in: SignIn
) -> None:
    squads = pd.DataFrame({"athlete": ["A1", "A2"], "squad": "First"})
    save_athletes(compared_store, squads, "test")
    yara = Person("yara", "Yara Y", "coach", squads=("First",))
    add_person(compared_store, yara, HASH, by="test")
    text = told(sign_in(compared_store, "yara", "reliability"))
    assert "Compared: 9 routine sessions of 2 athletes" in text
    assert "The numbers are of all athletes, the counts and dots of yours." in text


@pytest.mark.parametrize(("athletes", "who"), [(0, "Nobody has"), (1, "One athlete has")])
def test_with_too_few_routine_sessions_the_page_says_what_to_do(
    unfitted_store: Store, sign_in: SignIn, athletes: int, who: str
) -> None:
    """With fade tests alone, and with one athlete's routine sessions as well."""
    if athletes:
        lines = artificial.routine_csv().decode().splitlines()
        content = "\n".join(line for line in lines if line.startswith(("athlete", "A1"))).encode()
        import_efforts(unfitted_store, read_table(content, "one.csv"), "test")
    page = sign_in(unfitted_store, "carl", "reliability")
    text = told(page)
    assert f"{who} two routine sessions that can be compared" in text
    assert "Enter a few efforts at the usual volume on ordinary days" in text
    assert not page.get("plotly_chart")
