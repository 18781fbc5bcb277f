"""Every page has its picture in the documentation."""

from __future__ import annotations

from dashboard.screen.menu import PLACES
from tests.dashboard.page_pictures import FOLDER, TEXT, pages_text, shots


def test_the_documentation_shows_every_page_under_its_current_title() -> None:
    text = TEXT.read_text("utf-8")
    assert text == pages_text(), "Take the pictures anew, which writes the text."
    for place in PLACES:
        assert f"### {place.title}\n" in text
        assert f"![{place.title}](pages/{place.script}.png)" in text
    pictures = {f"{shot.name}.png" for shot in shots()}
    assert {path.name for path in FOLDER.iterdir()} == pictures
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 3_000_000
