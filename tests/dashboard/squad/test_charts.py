from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import plotly.io
import pytest

from dashboard.core import figures, numbers
from dashboard.core.palette import CALLS, LIGHT
from dashboard.curve.chart import athlete_figure
from dashboard.squad.chart import squad_figure
from dashboard.squad.chart_columns import LINE_HEIGHT
from tests.dashboard import artificial

ROWS = artificial.responses()


def squad(narrow: bool = False) -> go.Figure:
    return squad_figure(ROWS, artificial.STANDARD, "efforts", LIGHT, narrow)


def traces(figure: go.Figure) -> dict[str, object]:
    return {trace.name: trace for trace in figure.data}


def texts(figure: go.Figure) -> list[str]:
    return [plain(note.text) for note in figure.layout.annotations]


def plain(text: str) -> str:
    return re.sub(r"<[^>]*>", "", text)


def columns(figure: go.Figure) -> dict[str, list[str]]:
    """Return the cells beside the rows from the top down, by the heading above them."""
    beside = figure.layout.annotations[1:]
    return {
        heading.text: [plain(cell) for cell in cells.text.split("<br>")]
        for heading, cells in zip(beside[::2], beside[1::2], strict=True)
    }


def of_call(call: str) -> pd.DataFrame:
    """The rows of a call from the top down."""
    return ROWS[ROWS["call"] == call].sort_values("best_volume", ascending=False)


def in_groups() -> pd.DataFrame:
    """Return the rows from the top down as in the figure, with a heading above each group."""
    fine = ROWS[ROWS["call"].isin(("either", "not known"))]
    groups = (of_call("long"), fine.sort_values("best_volume", ascending=False), of_call("short"))
    return pd.concat([pd.concat([pd.DataFrame([{}]), rows]) for rows in groups])


def test_marks_of_the_squad_are_in_three_groups_longest_on_top() -> None:
    figure = squad()
    labels = dict(zip(figure.layout.yaxis.tickvals, figure.layout.yaxis.ticktext, strict=True))
    for call in CALLS:
        mine, marks = of_call(call), traces(figure)[call]
        assert list(marks.customdata) == mine["athlete"].tolist()
        assert np.expm1(marks.x) == pytest.approx(mine["best_volume"].to_numpy())
        assert [labels[at] for at in marks.y] == mine["name"].tolist()
    down = [plain(labels[at]) for at in sorted(labels, reverse=True)]
    headings = ["Longer than 15 (1)", "Standard 15 (3)", "Shorter than 15 (1)"]
    names = in_groups()["name"].tolist()
    assert down == [headings.pop(0) if pd.isna(name) else name for name in names]


@pytest.mark.parametrize(
    ("low", "high"),
    [("best_volume_low", "best_volume_high"), ("good_from", "good_to")],
)
def test_lines_of_the_squad_run_from_quantile_to_quantile(low: str, high: str) -> None:
    figure = squad()
    for call in CALLS:
        strokes = np.expm1(traces(figure)[f"{call} {low} {high}"].x).reshape(-1, 3)
        assert strokes[:, 0] == pytest.approx(of_call(call)[low].to_numpy(), nan_ok=True)
        assert strokes[:, 1] == pytest.approx(of_call(call)[high].to_numpy(), nan_ok=True)
        assert np.isnan(strokes[:, 2]).all()


def test_columns_of_the_squad_show_call_advice_and_loss_from_the_top_down() -> None:
    figure = squad()
    down = in_groups()
    heading, lost = down["call"].isna(), down["loss_at_standard_pct"]
    written = {
        "call": down["call"],
        "length": down["length"].map(numbers.number),
        "lost at standard": lost.map(numbers.percent),
    }
    assert columns(figure) == {
        name: cells.mask(heading, "\u00a0").tolist() for name, cells in written.items()
    }
    assert texts(figure)[0] == "standard 15"


def test_a_line_of_a_column_is_as_high_as_a_row() -> None:
    layout = squad().layout
    rows = layout.yaxis.range[1] - layout.yaxis.range[0]
    row_px = (layout.height - layout.margin.t - layout.margin.b) / rows
    for cells in layout.annotations[2::2]:
        assert cells.font.size * LINE_HEIGHT == pytest.approx(row_px)
        assert cells.y == (len(in_groups()) - 1) / 2


def test_words_in_columns_keep_their_colours() -> None:
    cells = squad().layout.annotations[2].text.split("<br>")
    for cell, call in zip(cells, columns(squad())["call"], strict=True):
        if call == "\u00a0":
            continue
        assert f"color: {LIGHT.call(call)};" in cell
        assert ("bold" in cell) == (call in ("short", "long"))


def test_standard_is_a_line_at_its_volume() -> None:
    line = squad().layout.shapes[0]
    assert line.x0 == line.x1 == pytest.approx(np.log1p(15))


def test_a_phone_gets_names_and_calls_only() -> None:
    figure = squad(narrow=True)
    assert "L. One" in figure.layout.yaxis.ticktext
    assert set(columns(figure)) == {"call"}


def test_one_athlete_is_a_squad_too() -> None:
    figure = squad_figure(ROWS.head(1), 15, "efforts", LIGHT)
    assert [trace.name for trace in figure.data if trace.mode == "markers"] == ["long"]


def athlete(code: str = "A1", points: pd.DataFrame | None = None) -> go.Figure:
    row = ROWS[ROWS["athlete"] == code].iloc[0].to_dict()
    curve = artificial.curves().query("athlete == @code")
    given = artificial.points(code) if points is None else points
    return athlete_figure(curve, given, row, artificial.STANDARD, "efforts", LIGHT)


def test_curve_and_band_of_an_athlete_match_the_rows() -> None:
    drawn = traces(athlete())
    curve = artificial.curves().query("athlete == 'A1'")
    for name, column in (
        ("curve", "change_pct"),
        ("change_pct_low", "change_pct_low"),
        ("change_pct_high", "change_pct_high"),
    ):
        assert list(drawn[name].x) == curve["volume"].tolist()
        assert drawn[name].y == pytest.approx(100 + curve[column].to_numpy())


def test_every_effort_of_an_athlete_is_a_point() -> None:
    points = artificial.points()
    drawn = traces(athlete())["efforts"]
    assert list(drawn.x) == points["volume"].tolist()
    assert drawn.y == pytest.approx(points["share_pct"].to_numpy())
    assert set(drawn.customdata) == {"14 March 2026"}


def test_best_volume_and_loss_are_written_with_their_intervals() -> None:
    figure = athlete()
    assert list(traces(figure)["best volume interval"].x) == pytest.approx([28, 56])
    assert list(traces(figure)["best volume"].x) == [40]
    shown = texts(figure)
    assert "best after 40 (28 to 56)" in shown
    loss = numbers.estimated_percent(ROWS.iloc[0].to_dict(), "loss_at_standard_pct")
    assert f"standard 15{loss} below the peak" in shown


def test_arrow_of_the_loss_runs_from_the_peak_to_the_curve() -> None:
    arrow = next(note for note in athlete().layout.annotations if note.text == "")
    assert (arrow.x, arrow.ay) == (15, 100)
    loss = float(ROWS.iloc[0]["loss_at_standard_pct"])
    assert arrow.y == pytest.approx(100 - loss)


def test_no_arrow_where_nothing_is_lost() -> None:
    assert all(note.text for note in athlete("A3").layout.annotations)


def test_a_curve_is_drawn_only_as_far_as_it_concerns_the_athlete() -> None:
    drawn = traces(athlete("A2"))["curve"]
    assert max(drawn.x) < 60
    assert max(drawn.x) >= 30


def test_an_athlete_without_efforts_has_a_curve_and_no_points() -> None:
    figure = athlete("A5", artificial.points().head(0))
    assert "efforts" not in traces(figure)
    assert "curve" in traces(figure)


def test_small_curves_share_their_volumes_and_follow_the_rows() -> None:
    small = figures.small_curves(artificial.curves())
    assert set(small.index) == set(artificial.ATHLETES)
    assert {len(curve) for curve in small} == {figures.SMALL_CURVE_POINTS}
    assert small["A1"][0] == pytest.approx(-6.0)
    volumes = np.expm1(np.linspace(0, np.log1p(60), figures.SMALL_CURVE_POINTS))
    assert volumes[int(np.argmax(small["A2"]))] == pytest.approx(4, abs=1)


@pytest.mark.parametrize("figure", [squad, athlete])
def test_a_browser_has_no_reason_to_draw_a_figure_twice(
    figure: Callable[[], go.Figure], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plotly.io.templates, "default", "plotly")
    layout = figure().to_dict()["layout"]
    assert "template" not in layout
    assert layout["datarevision"] == 1
    # An array that was packed into bytes counts as a new one each time it is unpacked.
    assert "bdata" not in str(layout)


def test_names_find_room_before_the_browser_measures_them() -> None:
    longest = max(map(plain, squad().layout.yaxis.ticktext), key=len)
    assert squad().layout.margin.l > 6 * len(longest)
    assert squad(narrow=True).layout.margin.l < squad().layout.margin.l


def test_figures_are_transparent_and_cannot_be_dragged() -> None:
    for figure in (squad(), athlete()):
        assert figure.layout.paper_bgcolor == figure.layout.plot_bgcolor == "rgba(0,0,0,0)"
        assert figure.layout.dragmode is False
        assert figure.layout.xaxis.fixedrange and figure.layout.yaxis.fixedrange
