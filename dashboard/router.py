"""What Streamlit runs as the program's main module."""

from __future__ import annotations

# A process that fits is begun by running the main module under another name, which must not
# show a page.
if __name__ == "__main__":
    from dashboard.frame.shown import show_page

    show_page()
