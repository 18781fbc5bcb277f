"""The colours of every chart, one set for a light screen and one for a dark one."""

from __future__ import annotations

from dataclasses import dataclass

CALLS = ("long", "either", "short", "not known")


@dataclass(frozen=True)
class Palette:
    """Colours of one screen, as `#RRGGBB`; short to long runs from cool to warm."""

    background: str
    text: str
    quiet: str
    grid: str
    short: str
    long: str
    either: str
    not_known: str
    volume: str

    def call(self, call: str) -> str:
        """Return the colour of a call: one of `CALLS`."""
        colours = dict(
            zip(CALLS, (self.long, self.either, self.short, self.not_known), strict=True)
        )
        return colours[call]


LIGHT = Palette(
    background="#FFFFFF",
    text="#1B2530",
    quiet="#5D6B79",
    grid="#E3E7EB",
    short="#1F6FB2",
    long="#B4560B",
    either="#4A5866",
    not_known="#6B7785",
    volume="#5B4BC4",
)
DARK = Palette(
    background="#11161C",
    text="#E8ECF0",
    quiet="#8A97A5",
    grid="#2A323B",
    short="#6FB1E8",
    long="#F2A65A",
    either="#C9D1D9",
    not_known="#8A97A5",
    volume="#9C8CF0",
)


def palette_of(theme: str | None) -> Palette:
    """Return the colours for the screen's theme, `light` unless it is known to be `dark`."""
    return DARK if theme == "dark" else LIGHT


def see_through(colour: str, share: float) -> str:
    """Return `#RRGGBB` as an rgba colour that covers `share` (0 to 1) of what is behind it."""
    red, green, blue = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"
