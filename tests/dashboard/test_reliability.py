"""The page `Reliability`: what it says, draws and keeps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dashboard import reliability_words, units
from dashboard.fitting import fit_measure
from dashboard.noise_and_signal import noise_and_signal
from dashboard.palette import DARK, LIGHT, Palette
from dashboard.reliability_charts import agreement_figure, signal_figure, trials_figure
from db.athletes import save_athletes
from db.checks import check
from db.effort_files import read_table
from db.exports import export_frame
from db.imports import import_efforts
from db.measures import Measure, get_measure
from db.people import Person, add_person
from db.reliability import KeptReliability, latest_reliability
from db.results import latest_fit
from db.store import Store
from tests.dashboard.conftest import HASH, SignIn, fill, keep_artificial_fit, new_store, told

HEADER = "athlete,started_at,measure,effort,value,volume_before,kind"


def routine_csv(sessions: int) -> bytes:
    """Routine sessions of three jumps of four athletes, days and efforts drawn at random."""
    random = np.random.default_rng(1)
    rows = [HEADER]
    for code, level in {"A1": 36, "A2": 40, "A3": 44, "A4": 48}.items():
        for session in range(sessions + (code == "A1")):
            day = random.normal(0, 0.02)
            rows += [
                f"{code},2026-05-{session + 1:02d}T10:00,jump_height,{effort + 1},"
                f"{level * (1 + day + random.normal(0, 0.02)):.2f},{14 + effort},routine"
                for effort in range(3)
            ]
    return "\n".join(rows).encode()


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("reliability") / "club.duckdb")
    fill(store, fitted=False)
    import_efforts(store, read_table(routine_csv(4), "routine.csv"), "test")
    fit_measure(store, "jump_height", "test")
    return store


@pytest.fixture(scope="module")
def kept(fitted: Store) -> KeptReliability:
    found = latest_reliability(fitted, "jump_height")
    assert found is not None
    return found


@pytest.fixture(scope="module")
def measure(fitted: Store) -> Measure:
    return get_measure(fitted, "jump_height")


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def test_a_fit_keeps_the_comparison_of_its_routine_sessions(
    fitted: Store, kept: KeptReliability
) -> None:
    assert (kept.athletes, kept.sessions, kept.usual_efforts) == (4, 17, 3)
    frame = export_frame(fitted, "reliability").set_index("basis")
    mean = frame.loc["mean"]
    assert mean["typical_error_low"] < mean["typical_error"] < mean["typical_error_high"]
    # Day noise 2 % and three efforts of 2 %: 2.3 %.
    assert 1.6 < mean["cv_pct"] < 3.4
    assert mean["icc_3_1"] > 0.9
    assert mean["minimal_detectable"] == pytest.approx(1.96 * 2**0.5 * mean["typical_error"], 1e-4)
    assert check(fitted) == []


def test_the_pairs_on_the_page_are_those_of_the_kept_limits(kept: KeptReliability) -> None:
    for basis in ("mean", "best"):
        pairs = reliability_words.session_pairs(kept, basis, "cm")
        found = reliability_words.estimates_of(kept, basis, "cm")
        assert len(pairs) == 8
        assert pairs["difference"].mean() == pytest.approx(found["change_in_mean"][0])
        width = found["upper_limit"][0] - found["lower_limit"][0]
        assert width == pytest.approx(2 * 1.96 * pairs["difference"].std(), rel=1e-4)


def test_every_sentence_has_its_interval(kept: KeptReliability, measure: Measure) -> None:
    found = reliability_words.estimates_of(kept, "mean", "cm")
    sentences = reliability_words.can_and_cannot(found, kept, measure)
    text = plain("\n".join([reliability_words.headline(found, measure), *sentences]))
    low, high = (f"{end:.1f}" for end in found["minimal_detectable"][1:])
    assert f"cm ({low} to {high}) between two sessions cannot be told from noise" in text
    assert "a fifth of the spread between athletes, is" in text
    assert "The team's own setting** is 1.5 %. Two sessions cannot show it." in text
    assert "3 efforts over" in text and "sessions (" in text
    assert "no steady change is seen" in text
    assert "By noise alone the best of 3 efforts lies" in text


def test_what_two_sessions_show_is_judged_by_both_intervals(
    kept: KeptReliability, measure: Measure
) -> None:
    found = dict(reliability_words.estimates_of(kept, "mean", "cm"))
    for change, verdict in (
        ((1.0, 0.8, 1.4), "Two sessions can show it."),
        ((1.5, 1.2, 1.9), "not clear from these data"),
        ((3.0, 2.5, 3.9), "Two sessions cannot show it."),
    ):
        told_now = reliability_words.can_and_cannot(
            found | {"minimal_detectable_pct": change}, kept, measure
        )
        assert verdict in told_now[2]


def test_no_spread_between_athletes_leaves_the_team_s_own_setting(
    kept: KeptReliability, measure: Measure
) -> None:
    found = dict(reliability_words.estimates_of(kept, "mean", "cm"))
    none = found | {"smallest_worthwhile": (0.0, 0.0, 0.4)}
    unknown = kept.needs.assign(smallest_sessions=np.nan)
    sentences = reliability_words.can_and_cannot(none, replace(kept, needs=unknown), measure)
    assert "cannot be worked out" in sentences[1]
    assert plain(sentences[3]).endswith("would show 1.5 %.")
    table = reliability_words.needs_table(replace(kept, needs=unknown), measure)
    assert set(table["sessions to show the smallest worthwhile"]) == {"not known"}


def test_learning_is_named(kept: KeptReliability, measure: Measure) -> None:
    found = dict(reliability_words.estimates_of(kept, "mean", "cm")) | {
        "trend_pct": (0.9, 0.4, 1.4)
    }
    sentences = reliability_words.can_and_cannot(found, kept, measure)
    assert "changed by 0.90 % (0.40 to 1.40): learning" in plain(sentences[4])


def test_many_sessions_are_not_counted_in_hundreds(kept: KeptReliability, measure: Measure) -> None:
    many = kept.needs.assign(setting_sessions=300.0, setting_sessions_high=500.0)
    table = reliability_words.needs_table(replace(kept, needs=many), measure)
    assert set(table.iloc[:, 3]) == {"more than 99"}


def test_the_table_has_every_quantity_with_its_interval(
    fitted: Store, kept: KeptReliability, measure: Measure
) -> None:
    fit = latest_fit(fitted, "jump_height")
    assert fit is not None
    found = reliability_words.estimates_of(kept, "mean", "cm")
    table = reliability_words.numbers_table(found, measure, fit, None)
    rows = table.set_index("what")
    assert list(rows.columns) == ["value, cm", "value, %"]
    error = found["typical_error"]
    shown = f"{error[0]:.1f} ({error[1]:.1f} to {error[2]:.1f})"
    assert rows.loc["typical error", "value, cm"] == shown
    filled = rows.drop(index="the team's own setting").agg("".join, axis=1)
    assert filled.str.contains(" to ").all()


@pytest.mark.parametrize("palette", [LIGHT, DARK])
def test_figures_draw_noise_before_what_is_to_be_seen(fitted: Store, palette: Palette) -> None:
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


def test_limits_are_drawn_with_their_intervals(kept: KeptReliability, measure: Measure) -> None:
    pairs = reliability_words.session_pairs(kept, "best", "cm")
    found = reliability_words.estimates_of(kept, "best", "cm")
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


def test_trials_are_drawn_with_their_counts(kept: KeptReliability) -> None:
    trials = kept.trials[kept.trials["basis"] == "mean"]
    assert trials["trial"].tolist() == [1, 2, 3, 4]
    figure = trials_figure(trials, LIGHT)
    assert list(figure.data[0].y) == trials["change_pct"].tolist()
    assert "session 4, 4 athletes" in figure.data[0].text[3]
    assert "session 2" in reliability_words.trials_in_words(trials)


# The page


def test_a_coach_reads_what_the_measure_can_bear(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "carl", "reliability")
    text = plain(told(page))
    assert "between two sessions cannot be told from noise" in text
    assert "Compared: 17 routine sessions of 4 athletes" in text
    assert len(page.get("plotly_chart")) == 3
    mean = page.table[0].value.to_csv()
    page.button_group[0].set_value("best").run()
    assert not page.exception
    assert page.table[0].value.to_csv() != mean


def test_values_are_shown_in_the_units_of_the_club(filled_store: Store, sign_in: SignIn) -> None:
    page = sign_in(filled_store, "carl", "reliability")
    metric = page.table[0].value.set_index("what")
    units.keep_system(filled_store, "imperial", "dora")
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
    filled_store: Store, sign_in: SignIn
) -> None:
    squads = pd.DataFrame({"athlete": ["A1", "A2"], "squad": "First"})
    save_athletes(filled_store, squads, "test")
    yara = Person("yara", "Yara Y", "coach", squads=("First",))
    add_person(filled_store, yara, HASH, by="test")
    text = told(sign_in(filled_store, "yara", "reliability"))
    assert "Compared: 11 routine sessions of 2 athletes" in text
    assert "The numbers are those of all athletes, the counts and dots those of yours." in text


def test_curves_of_an_earlier_version_are_worked_out_again(
    unfitted_store: Store, sign_in: SignIn
) -> None:
    assert "The curves have not been worked out yet" in told(
        sign_in(unfitted_store, "dora", "reliability")
    )
    keep_artificial_fit(unfitted_store, checked=False)
    text = told(sign_in(unfitted_store, "dora", "reliability"))
    assert "did not compare sessions with each other" in text


@pytest.mark.parametrize(("athletes", "who"), [(0, "Nobody has"), (1, "One athlete has")])
def test_too_few_routine_sessions_are_said_with_what_to_do(
    unfitted_store: Store, sign_in: SignIn, athletes: int, who: str
) -> None:
    """Fade tests alone, and one athlete's routine sessions beside them."""
    if athletes:
        lines = [line for line in routine_csv(3).decode().splitlines() if "A1" in line]
        content = "\n".join([HEADER, *lines]).encode()
        import_efforts(unfitted_store, read_table(content, "one.csv"), "test")
    fit_measure(unfitted_store, "jump_height", "test")
    page = sign_in(unfitted_store, "carl", "reliability")
    text = told(page)
    assert f"{who} two routine sessions that can be compared" in text
    assert "Enter a few efforts at the usual volume on ordinary days" in text
    assert not page.get("plotly_chart")
    assert export_frame(unfitted_store, "reliability").empty
