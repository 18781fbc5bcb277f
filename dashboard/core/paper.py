"""Text on printed sheets, in the fonts of the program, which have every European letter."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

ASSETS = Path(__file__).parents[1] / "assets"
REGULAR, BOLD = "DejaVuSans", "DejaVuSans-Bold"


@cache
def register_fonts() -> None:
    """Make the fonts known to reportlab; once is enough."""
    for name in (REGULAR, BOLD):
        pdfmetrics.registerFont(TTFont(name, str(ASSETS / f"{name}.ttf")))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD)


def paragraph(markup: str, size: float, font: str = REGULAR) -> Paragraph:
    """Return text that wraps; escape `<`, `>` and `&` that are not markup first."""
    style = ParagraphStyle("text", fontName=font, fontSize=size, leading=size * 1.25)
    return Paragraph(markup, style)


def place_text(
    canvas: Canvas, markup: str, size: float, left: float, top: float, width: float
) -> float:
    """Place a paragraph below a height, and return the height at which it ends.

    `markup` may hold `<b>`; everything else in it must be escaped.
    """
    placed = paragraph(markup, size)
    _, height = placed.wrap(width, A4[1])
    placed.drawOn(canvas, left, top - height)
    return float(top - height)
