"""Put what libraries log into the server's own log."""

from __future__ import annotations

import logging

from dashboard.core.events import is_logging, log_event
from dashboard.core.failures import log_failure

LIBRARIES = ("uvicorn", "uvicorn.error")
"""Loggers that may log before the others exist."""


EARLY = "streamlit.runtime.caching.cache_data_api"
"""It warns that it caches in memory until the runtime has started, which does no harm here."""


def log_libraries() -> None:
    """Turn what loaded libraries log into events; if there is no log, leave it as it is."""
    logging.getLogger(EARLY).addFilter(_concerns_somebody)
    if not is_logging():
        return
    known = [name for name in logging.root.manager.loggerDict if name.startswith("streamlit")]
    for name in (*LIBRARIES, *known):
        logging.getLogger(name).addFilter(_as_event)


def _concerns_somebody(record: logging.LogRecord) -> bool:
    return "No runtime found" not in record.getMessage()


def _as_event(record: logging.LogRecord) -> bool:
    """Log a record as an event, and its error as a traceback that names nobody."""
    number = None
    if record.exc_info and record.exc_info[1]:
        number = log_failure(record.exc_info[1])
    log_event(record.levelname.lower(), of=record.name, text=record.getMessage(), fault=number)
    return False
