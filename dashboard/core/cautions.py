"""The cautions shown wherever somebody does maximal efforts."""

from __future__ import annotations

CAUTION = "Pain, dizziness or loss of landing control: stop, whatever the screen says."


CAUTIONS = (
    CAUTION,
    "Maximal efforts are for cleared, uninjured, supervised athletes who know the movement.",
    "Not during illness, after a head knock or inside a return-to-play plan without medical"
    " sign-off.",
    "Minors, heat and pregnancy: follow your medical staff and local rules.",
    "The tool supports a decision; it gives no medical advice.",
)


FILL_UP = "Fill up with easy, submaximal efforts."


FADE_TEST_IS = (
    "maximal efforts, one after another, until three in a row are well below the best so far, as"
    " the measure's stop rule says"
)


FADE_TEST = f"a fade test: {FADE_TEST_IS}"
