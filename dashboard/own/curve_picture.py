"""An athlete's curve for a page without script: the coordinates of a small SVG."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.core.numbers import between, number
from dashboard.fits.curve_rows import CurveRow
from db.fits.results import KeptFit

WIDTH, HEIGHT, LEFT, HEAD, FOOT = 340.0, 250.0, 46.0, 26.0, 40.0
LABEL = 84.0
FEWEST_SHOWN_PCT = 5.0
EFFORTS_A_DOT = 16

Point = tuple[float, float]


@dataclass(frozen=True)
class Mark:
    """A volume with its label: the place of its point, the text and the text's anchor."""

    x: float
    y: float
    label: str
    anchor: str


@dataclass(frozen=True)
class CurvePicture:
    """Points of a picture `WIDTH` wide and `HEIGHT` high.

    Attributes
    ----------
    band, line : str
        Points of the 90 % band and of the curve.
    dots : tuple of (float, float)
        Each is the mean of some of the athlete's efforts.
    dot_of : int
        About how many efforts a dot stands for.
    good : tuple of float or None
        Ends of the good range, None if there is none.
    good_label : Mark or None
    length, standard : Mark or None
        `length` is None if there is none; `standard` is None if it is the same as the length.
    ticks_x, ticks_y : tuple of (float, str)
        Places and labels of the ticks.
    """

    band: str
    line: str
    dots: tuple[Point, ...]
    dot_of: int
    good: Point | None
    good_label: Mark | None
    length: Mark | None
    standard: Mark | None
    ticks_x: tuple[tuple[float, str], ...]
    ticks_y: tuple[tuple[float, str], ...]


def curve_picture(
    curve: pd.DataFrame,
    points: pd.DataFrame,
    row: CurveRow,
    fit: KeptFit,
    length: float | None,
    planned: float | None = None,
) -> CurvePicture:
    """Lay a curve out.

    Parameters
    ----------
    curve : DataFrame
        One athlete's, from `dashboard.fits.usual_terms.curves`.
    points : DataFrame
        From `dashboard.fits.usual_terms.placed_efforts`.
    row : mapping
        From `dashboard.fits.lengths.responses`.
    fit : KeptFit
    length, planned : float or None
        What the athlete does on a usual day, and for the next game. If both are known and differ,
        the game's is marked.
    """
    label = "yours"
    if length is not None and planned is not None and number(planned) != number(length):
        length, label = planned, "game"
    most = max(1.2 * row["best_volume_high"], 1.3 * fit.standard_volume, 1.1 * (length or 0.0))
    seen = curve[curve["volume"] <= most].sort_values("volume")
    dots, dot_of = _dots(points[points["volume"] <= most])
    highest = max([2.0, *(change for _, change in dots)])
    lowest = min([float(seen["change_pct_low"].min()), *(y for _, y in dots), -FEWEST_SHOWN_PCT])

    def across(at: float) -> float:
        return round(LEFT + (WIDTH - LEFT - 8.0) * at / most, 1)

    def up(change_pct: float) -> float:
        return round(HEAD + (HEIGHT - FOOT - HEAD) * (highest - change_pct) / (highest - lowest), 1)

    def mark(at: float, what: str, other: float | None) -> Mark:
        x = across(at)
        height = float(np.interp(at, seen["volume"], seen["change_pct"]))
        # The label points away from the other mark if there is room.
        left = other is not None and at < other and x > LEFT + LABEL
        anchor = "end" if left or x > WIDTH - LABEL else "start"
        return Mark(x, up(height), f"{what} {number(at)}", anchor)

    good = None
    if row["good_from"] is not None and not np.isnan(row["good_from"]):
        good = (row["good_from"], min(row["good_to"], most))
    is_standard = length is not None and number(length) == number(fit.standard_volume)
    return CurvePicture(
        band=" ".join(
            [
                *_points(seen, "change_pct_low", across, up),
                *_points(seen, "change_pct_high", across, up)[::-1],
            ]
        ),
        line=" ".join(_points(seen, "change_pct", across, up)),
        dots=tuple((across(x), up(y)) for x, y in dots),
        dot_of=dot_of,
        good=None if good is None else (across(good[0]), across(good[1])),
        good_label=None if good is None else _good_label(across, *good),
        length=None if length is None else mark(length, label, fit.standard_volume),
        standard=None if is_standard else mark(fit.standard_volume, "standard", length),
        ticks_x=tuple((across(at), number(at)) for at in np.arange(0.0, most, _step(most))),
        ticks_y=tuple((up(at), number(100 + at)) for at in np.arange(0.0, lowest, -5.0)),
    )


def _good_label(across: Callable[[float], float], low: float, high: float) -> Mark:
    middle = (across(low) + across(high)) / 2.0
    anchor = "end" if middle > 0.75 * WIDTH else "start" if middle < 0.35 * WIDTH else "middle"
    return Mark(middle, HEAD - 10.0, f"good {between(low, high)}", anchor)


def _dots(points: pd.DataFrame) -> tuple[list[Point], int]:
    """Average neighbouring efforts to make the shape visible; say how many a dot stands for."""
    if points.empty:
        return [], 0
    rows = points.sort_values("volume")
    groups = np.array_split(np.arange(len(rows)), max(round(len(rows) / EFFORTS_A_DOT), 1))
    volume, change = rows["volume"].to_numpy(), rows["share_pct"].to_numpy() - 100.0
    dots = [(float(volume[own].mean()), float(change[own].mean())) for own in groups]
    return dots, round(len(rows) / len(groups))


def _points(
    rows: pd.DataFrame, column: str, across: Callable[[float], float], up: Callable[[float], float]
) -> list[str]:
    return [f"{across(x)},{up(y)}" for x, y in zip(rows["volume"], rows[column], strict=True)]


def _step(most: float) -> float:
    """Choose the distance between tick labels, for about 3 to 7 of them."""
    step = float(10.0 ** np.floor(np.log10(most)))
    return step / 2.0 if most < 3 * step else 2.0 * step if most >= 7 * step else step
