"""The main module that Streamlit runs."""

from __future__ import annotations

# Processes that work out fits run the main module again under another name. They must not show
# a page.
if __name__ == "__main__":
    from dashboard.frame.shown import show_page

    show_page()
