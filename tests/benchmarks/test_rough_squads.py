"""Rough squads: each kind can be drawn, is the same every time, and is scored against its truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from modeling.testing.simulation import truth
from tests.benchmarks import rough_squads
from tests.benchmarks.kept_back_shapes import KEPT_BACK, KEPT_BACK_SHAPES
from tests.benchmarks.rough_bars import Asked, good_range
from tests.benchmarks.rough_figure import sessions_figure
from tests.benchmarks.rough_kinds import BY_SESSIONS, KINDS, PIECES, combined, named
from tests.benchmarks.rough_report import by_sessions, report
from tests.benchmarks.rough_scores import length_scores

ALL = named(*KINDS.values(), *BY_SESSIONS.values(), *KEPT_BACK.values())
SMALLEST = "squads of 3"


@pytest.mark.parametrize("name", ALL)
def test_a_seed_always_draws_the_same_squad(name: str) -> None:
    kind = ALL[name]
    kind = replace(kind, squad=replace(kind.squad, athletes=min(kind.squad.athletes, 3)))
    truths, efforts = kind.draw(1)
    again, same = kind.draw(1)
    assert efforts.equals(same) and [t.level for t in truths] == [t.level for t in again]
    assert len(truths) == efforts["athlete"].nunique()
    assert (efforts["value"] > 0).all() and np.isfinite(efforts["value"]).all()
    assert not efforts.equals(kind.draw(2)[1])
    assert kind.squads == 1 or not efforts.equals(kind.draw(1, 1)[1])


@pytest.mark.parametrize("shape", KEPT_BACK_SHAPES)
@pytest.mark.parametrize(("best", "gain", "hold"), [(3.0, 0.04, 8.0), (60.0, 0.1, 50.0)])
def test_a_kept_back_curve_peaks_and_falls_where_its_truth_says(
    shape: str, best: float, gain: float, hold: float
) -> None:
    curve = truth(shape, best, gain, hold, shapes=KEPT_BACK_SHAPES)
    at = np.array([0.0, best, best + curve.hold_volume])
    np.testing.assert_allclose(curve.change(at), [-gain, 0.0, np.log(0.9)], atol=1e-9)
    volume = np.linspace(0.0, best + 2.0 * hold, 5000)
    change = curve.change(volume)
    assert change.max() <= 1e-9
    assert volume[change.argmax()] == pytest.approx(best, rel=0.01)
    assert (change[volume > best + curve.hold_volume] < np.log(0.9)).all()
    assert 0.5 * hold < curve.hold_volume < 2.0 * hold


def test_pure_squads_have_one_shape_each_in_turn() -> None:
    shapes = [KINDS["pure, little"].draw(seed)[0][0].shape for seed in range(5)]
    assert len(set(shapes)) == 5


def test_kinds_by_sessions_share_their_athletes() -> None:
    one, many = (BY_SESSIONS[count].draw(3)[0] for count in (1, 5))
    assert [t.best_volume for t in one] == [t.best_volume for t in many]
    _, efforts = BY_SESSIONS[5].draw(3)
    assert (efforts.groupby("athlete")["session"].nunique() == 5).all()


def test_pieces_that_undo_each_other_are_refused() -> None:
    with pytest.raises(ValueError, match="squads of 8 would undo"):
        combined("squads of 3", "squads of 8")
    assert combined("moving", "noisy").squad.best_log_sd == PIECES["moving"]["best_log_sd"]


def test_a_good_range_is_scored_by_the_true_loss_within_it() -> None:
    athlete = truth("plateau with break", 10.0, 0.07, 20.0)
    response = SimpleNamespace(
        advised_volume=8.0,
        call="not known",
        best_volume=SimpleNamespace(low=5.0, median=9.0, high=12.0),
        reach="inside",
    )
    bare = length_scores(athlete, response, 30.0, np.random.default_rng(0))
    assert np.isnan(bare["good_from_loss_pct"])
    assert (
        bare["length_loss_pct"] == pytest.approx(athlete.loss_pct(15.0))
        and bare["length_loss_pct"] > 0
    )
    response.good_from, response.good_to, response.call = 3.0, 14.0, "short"
    scored = length_scores(athlete, response, 30.0, np.random.default_rng(0))
    # The rise ends at 6, the fall begins at 14: half of the gain is missing at 3.
    assert scored["good_from_loss_pct"] == pytest.approx(-100 * np.expm1(-0.035))
    assert scored["good_to_loss_pct"] == pytest.approx(0.0)
    assert scored["length_loss_pct"] == 0.0 and scored["far_beyond"] == 0.0
    assert length_scores(athlete, response, 5.0, np.random.default_rng(0))["far_beyond"] == 1.0


def test_good_ranges_agree_with_calls_or_not() -> None:
    part = pd.DataFrame(
        {
            "good_from": [10.0, 16.0, np.nan, 15.0],
            "good_to": [20.0, 20.0, np.nan, 15.0],
            "good_from_loss_pct": [1.0, 1.1, np.nan, 0.0],
            "good_to_loss_pct": [0.5, 0.5, np.nan, 0.0],
            "good_inside_loss_pct": [0.0, 0.0, np.nan, 2.0],
            "call": ["either", "long", "either", "either"],
        }
    )
    found = good_range(part)
    assert dict(found) == pytest.approx({"from": 2 / 3, "to": 1, "inside": 2 / 3, "agrees": 0.75})
    assert good_range(part.assign(good_from=np.nan)).isna().all()


def test_a_bar_is_met_up_to_its_edge() -> None:
    asked = Asked()
    asked.within("edge", 0.85, least=0.85, most=0.95)
    asked.within("above", 0.951, least=0.85, most=0.95)
    asked.within("unknown", float("nan"), most=1.0)
    asked.lowest("share", pd.Series({"one": 0.9, "two": 0.5, "none": np.nan}), 0.6)
    frame = asked.frame()
    assert list(frame["met"]) == ["yes", "no", "-", "no"]
    assert frame.loc["share, lowest", "where"] == "two"


def test_a_run_goes_on_where_it_stopped(tmp_path: Path) -> None:
    path = tmp_path / "scores.csv"
    kinds = {SMALLEST: replace(KINDS[SMALLEST], squads=1)}
    first = rough_squads.run(kinds, range(2), [], path, 1)
    assert len(first) == 6
    text = path.read_text()
    path.write_text(text[: text.rindex("A02")])  # stopped while the last squad was written
    again = rough_squads.run(kinds, range(2), [], path, 1)
    same = ["kind", "seed", "athlete", "best_low", "loss_pct", "call"]
    pd.testing.assert_frame_equal(again[same].reset_index(drop=True), first[same])
    written = report(again, kinds, before=first)
    assert f"| {SMALLEST} | 2 |" in written
    assert (
        "| loss to the earlier model's in any other kind, highest | at most 1 | 1.000 |" in written
    )
    assert "| kinds that lose more than they may | at most 0 | 0.000 |  | yes |" in written
    assert len(rough_squads.run(kinds, range(1), [], path, 1)) == 3


def test_the_figure_by_sessions_draws_the_table() -> None:
    scores = pd.DataFrame(
        {
            "kind": [BY_SESSIONS[count].name for count in (1, 1, 30)],
            "responds": 1.0,
            "best": [0.0, 1.0, 1.0],
            "gain": 1.0,
            "hold": [1.0, 1.0, 0.0],
            "loss_pct": [1.0, 0.5, 0.1],
            "length_loss_pct": [2.0, 1.0, 0.2],
            "standard_loss_pct": 3.0,
            "call": "short",
            "true_call": "short",
        }
    )
    found = by_sessions(scores)
    assert list(found["best"]) == [0.5, 1.0] and list(found["loss %"]) == [0.75, 0.1]
    drawn = [list(line.y) for line in sessions_figure(found).data]
    assert drawn == [[0.5, 1], [1, 1], [1, 0], [0.75, 0.1], [1.5, 0.2], [3, 3]]


def test_another_way_is_compared_on_the_same_squads(tmp_path: Path) -> None:
    kinds = {SMALLEST: replace(KINDS[SMALLEST], squads=1)}
    scores = rough_squads.run(kinds, range(1), ["usual rule"], tmp_path / "scores.csv", 1)
    other = scores[scores["peer"] == "usual rule"]
    own = scores[scores["peer"] == "warmcurve"]
    assert list(other["athlete"]) == list(own["athlete"])
    # The model's own scores include what the usual rule loses, worked out without the peer.
    np.testing.assert_allclose(other["loss_pct"], own["usual_loss_pct"])
    theirs, ours = (part["loss_pct"].mean() for part in (other, own))
    written = report(scores, kinds).splitlines()
    (line,) = [line for line in written if line.startswith(f"| usual rule, {SMALLEST} | 1 |")]
    assert f"| {theirs:.3f} | {ours:.3f} |" in line
    assert line.endswith("| yes |" if ours < theirs else "| no |")
