"""A picture of the rooms, from the table in `tests/rooms.py`.

    python -m tests.rooms_picture

writes `docs/rooms.svg`. Each room is one step higher than the one before it; a dot in its row is
a door down to the room at the foot of the dot's column.
"""

from __future__ import annotations

from html import escape
from pathlib import Path

from tests.rooms import AT_THE_DOOR, ROOMS, Room

PICTURE = Path(__file__).parents[1] / "docs" / "rooms.svg"
WIDTH, MARGIN, STEP, BOX, HEADING = 860, 24, 26, 19, 54
LETTER = 7.8
"""Upper bound on the width of a letter in a room's name, in user units; no text is measured."""
STYLE = """
    .paper { fill: #faf9f6 } .ground { stroke: #8a8578; stroke-width: 2 }
    .box { fill: #e9e5da; stroke: #8a8578 } .line { stroke: #c9c3b4 } .door { fill: #4a6b78 }
    text { fill: #2b2a27; font: 12px system-ui, sans-serif } .quiet { fill: #5d5a52 }
    .name { font-weight: 600; text-anchor: middle } .package { font-size: 15px; font-weight: 600 }
    @media (prefers-color-scheme: dark) {
      .paper { fill: #1c1d1f } .ground { stroke: #8d8f92 } .box { fill: #303236; stroke: #8d8f92 }
      .line { stroke: #4a4d52 } .door { fill: #9dc0cd } text { fill: #e8e6e1 }
      .quiet { fill: #b3b1ab }
    }"""
TITLE = "The rooms of each package, from the ground up, with their doors down"


def picture() -> str:
    """Draw all packages, with the one that uses the others on top."""
    parts: list[str] = []
    bottom = 34.0
    for package, rooms in ROOMS.items():
        bottom += HEADING + STEP * len(rooms)
        parts += _package(package, rooms, bottom)
        bottom += STEP
    height = round(bottom + 10)
    key = "A dot is a door: the room of the row imports from the room at the foot of the column."
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
            f'width="{WIDTH}" height="{height}" role="img" aria-label="{TITLE}">',
            f"  <title>{TITLE}</title>",
            f"  <style>{STYLE}\n  </style>",
            f'  <rect class="paper" width="{WIDTH}" height="{height}" rx="8"/>',
            _text(MARGIN, 30, key, "quiet"),
            *parts,
            "</svg>\n",
        ]
    )


def _package(package: str, rooms: tuple[Room, ...], bottom: float) -> list[str]:
    """Draw one package; its lowest room stands on the ground at `bottom`."""
    column = {room.name: MARGIN + STEP * place for place, room in enumerate(rooms)}
    row = {room.name: bottom - STEP * (place + 0.5) for place, room in enumerate(rooms)}
    lines, dots, boxes = [], [], []
    for room in rooms:
        x, y = column[room.name], row[room.name]
        above = [row[other.name] for other in rooms if room.name in other.doors_to]
        if above:
            lines.append(_line(x + BOX / 2, y, x + BOX / 2, min(above)))
        if room.doors_to:
            lines.append(_line(min(column[name] for name in room.doors_to) + BOX / 2, y, x, y))
        dots += [_dot(column[name] + BOX / 2, y) for name in room.doors_to]
        width = 12 + LETTER * len(room.name)
        boxes += [
            f'  <rect class="box" x="{x}" y="{y - BOX / 2:g}" width="{width:.0f}" '
            f'height="{BOX}" rx="4"/>',
            _text(x + width / 2, y + 4, room.name, "name"),
            _text(x + width + 9, y + 4, room.holds, "quiet"),
        ]
    top = bottom - STEP * len(rooms) - 14
    ground = f"Outside the rooms, for all of them: {', '.join(sorted(AT_THE_DOOR[package]))}"
    return [
        _text(MARGIN, top, package, "package"),
        *lines,
        *dots,
        *boxes,
        _line(MARGIN, bottom + 2, WIDTH - MARGIN, bottom + 2, "ground"),
        _text(MARGIN, bottom + 18, ground, "quiet"),
    ]


def _text(x: float, y: float, words: str, kind: str) -> str:
    return f'  <text class="{kind}" x="{x:.0f}" y="{y:g}">{escape(words)}</text>'


def _line(x: float, y: float, to_x: float, to_y: float, kind: str = "line") -> str:
    return f'  <line class="{kind}" x1="{x:g}" y1="{y:g}" x2="{to_x:g}" y2="{to_y:g}"/>'


def _dot(x: float, y: float) -> str:
    return f'  <circle class="door" cx="{x:g}" cy="{y:g}" r="4"/>'


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
