"""The colours: legible on light and dark screens, and distinct with colour vision deficiency."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import dashboard
from dashboard.core.palette import CALLS, DARK, LIGHT, Palette, palette_of, see_through
from dashboard.squad.chart import SHAPES, squad_figure
from tests.dashboard import artificial

CONFIG = Path(dashboard.__file__).parent / ".streamlit" / "config.toml"

SEEN_BY = {
    "all colours": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
"""Linear RGB as each kind of colour vision sees it: Machado, Oliveira and Fernandes 2009, IEEE
Transactions on Visualization and Computer Graphics 15(6), severity 1."""

XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
"""Linear RGB to CIE XYZ (IEC 61966-2-1, white D65)."""

LEAST_DIFFERENCE = 10.0
"""In CIE 1976 units of colour, about four times what can just be noticed (2.3; Mahy, Van Eycken
and Oosterlinck 1994)."""


def linear(colour: str) -> np.ndarray:
    """Return linear RGB, by the formula of WCAG and IEC."""
    parts = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(first: str, second: str) -> float:
    """Return the WCAG 2.2 contrast ratio of two colours."""
    dark, light = sorted(float(linear(each) @ [0.2126, 0.7152, 0.0722]) for each in (first, second))
    return (light + 0.05) / (dark + 0.05)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of linear RGB."""
    share = XYZ @ rgb / XYZ.sum(axis=1)
    root = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def difference(first: str, second: str, seen_by: str) -> float:
    """Return the CIE 1976 difference of two colours for one kind of colour vision."""
    seen = [lab(np.clip(SEEN_BY[seen_by] @ linear(each), 0, 1)) for each in (first, second)]
    return float(np.linalg.norm(seen[0] - seen[1]))


def test_contrast_of_black_on_white_is_the_published_21() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.01)


def test_lab_of_red_and_white_is_the_published_one() -> None:
    # Lindbloom's calculator: sRGB red and white, D65.
    assert lab(linear("#FF0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.01)
    assert lab(linear("#FFFFFF")) == pytest.approx([100, 0, 0], abs=0.01)


@pytest.mark.parametrize("kind", list(SEEN_BY))
def test_greys_look_the_same_to_all(kind: str) -> None:
    assert np.sum(SEEN_BY[kind], axis=1) == pytest.approx([1, 1, 1], abs=1e-5)


@pytest.mark.parametrize(
    ("pair", "lost_to"),
    [
        (("#C62828", "#2E7D32"), {"protanopia", "deuteranopia"}),
        (("#00798C", "#0072B2"), {"tritanopia"}),
    ],
    ids=["red and green", "blue and blue-green"],
)
def test_colours_that_are_mixed_up_are_found(pair: tuple[str, str], lost_to: set[str]) -> None:
    whole = difference(*pair, "all colours")
    assert {kind for kind in SEEN_BY if difference(*pair, kind) < whole / 4} == lost_to


@pytest.mark.parametrize("palette", [LIGHT, DARK])
@pytest.mark.parametrize("use", ["text", "quiet", "short", "long", "either", "not_known", "volume"])
def test_every_colour_of_text_reaches_wcag_aa(palette: Palette, use: str) -> None:
    assert contrast(getattr(palette, use), palette.background) >= 4.5


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("kind", list(SEEN_BY))
@pytest.mark.parametrize("pair", list(combinations((*CALLS, "standard"), 2)), ids=" and ".join)
def test_calls_can_be_told_apart_with_any_colour_vision(
    palette: Palette, kind: str, pair: tuple[str, str]
) -> None:
    first, second = (palette.volume if each == "standard" else palette.call(each) for each in pair)
    assert difference(first, second, kind) > LEAST_DIFFERENCE


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_calls_differ_in_shape_and_word_where_there_is_no_colour(palette: Palette) -> None:
    figure = squad_figure(artificial.responses(), artificial.STANDARD, "efforts", palette)
    marks = {trace.name: trace.marker for trace in figure.data if trace.mode == "markers"}
    looks = {call: (marks[call].symbol, marks[call].color == palette.background) for call in CALLS}
    assert len(set(looks.values())) == len(CALLS) == len(SHAPES)
    written = " ".join(note.text for note in figure.layout.annotations)
    assert all(f">{call}<" in written for call in CALLS)


def test_palettes_have_the_backgrounds_of_the_configuration() -> None:
    colours = re.findall(r'^backgroundColor = "(#\w+)"', CONFIG.read_text("utf-8"), re.MULTILINE)
    assert colours == [LIGHT.background, DARK.background]


def test_palette_follows_the_theme() -> None:
    assert palette_of("dark") is DARK
    assert palette_of("light") is palette_of(None) is LIGHT
    assert see_through("#FF8000", 0.5) == "rgba(255,128,0,0.5)"
