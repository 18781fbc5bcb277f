"""The form that erases an athlete: what goes, which texts may mention them, and a last check."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from dashboard.club import privacy_words
from dashboard.club.known_copies import known_copies
from dashboard.screen import elements
from dashboard.screen.reads import ask
from db.errors import StoreError
from db.file.store import Store
from db.privacy.erasing import erase_athlete
from db.privacy.mentions import Mention, mentions

KEEP, CLEAR, CHOOSE = "Keep all", "Clear all", "Choose"


def erase_form(store: Store, athlete: str, person: str) -> str:
    """Show what erasing means and ask to confirm; return what was done, empty until then."""
    st.write(
        "This removes sessions, efforts, lengths, results and the account. In the trail and in"
        " rows set aside a made-up word stands for the athlete. It cannot be undone. The squad's"
        " fits stay and say that an athlete was erased."
    )
    st.write(privacy_words.copies_sentence(known_copies(store)))
    texts = ask(mentions, athlete)
    chosen = _texts_to_clear(texts, athlete) if texts else []
    with st.form(f"erase_{athlete}"):
        typed = st.text_input(f"Type the code {athlete} to confirm", key=f"erase_code_{athlete}")
        if not st.form_submit_button("Erase"):
            return ""
    if typed.strip() != athlete:
        st.error(f"That is not the code {athlete}. Nothing was erased.")
        return ""
    if chosen is None:
        st.error("First choose whether to keep or clear the texts above. Nothing was erased.")
        return ""
    try:
        token = erase_athlete(store, athlete, person, chosen)
    except StoreError as error:
        st.error(f"{error.title}. {error.message}")
        return ""
    return privacy_words.erased_sentence(token, known_copies(store), len(chosen))


def _texts_to_clear(texts: Sequence[Mention], athlete: str) -> list[str] | None:
    """Show texts that may mention the athlete; return the keys to clear, None until chosen."""
    st.write(privacy_words.mentions_sentence(len(texts), athlete))
    said = st.segmented_control("These texts", [KEEP, CLEAR, CHOOSE], key=f"texts_{athlete}")
    table, alt = privacy_words.mentions_table(texts), f"Texts that may mention {athlete}"
    if said != CHOOSE:
        st.dataframe(table, hide_index=True, alt=alt)
        return {KEEP: [], CLEAR: [text.key for text in texts]}.get(said or "")
    elements.quiet("Mark the texts to clear. The others stay.")
    marked = st.dataframe(
        table,
        key=f"mentions_{athlete}_{len(texts)}",
        on_select="rerun",
        selection_mode="multi-row",
        hide_index=True,
        alt=alt,
    )
    return [texts[row].key for row in marked["selection"]["rows"]]
