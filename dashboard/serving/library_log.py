"""What libraries log, as lines of the server's own log."""

from __future__ import annotations

import logging

from dashboard.core.events import is_logging, log_event
from dashboard.core.failures import log_failure

LIBRARIES = ("uvicorn", "uvicorn.error")
"""Loggers that speak before all others are known."""


EARLY = "streamlit.runtime.caching.cache_data_api"
"""Warns that it keeps what is read in memory until the runtime has begun, which concerns nobody."""


def log_libraries() -> None:
    """Let libraries that are loaded log events; where there is no log they log as they do."""
    logging.getLogger(EARLY).addFilter(_concerns_somebody)
    if not is_logging():
        return
    known = [name for name in logging.root.manager.loggerDict if name.startswith("streamlit")]
    for name in (*LIBRARIES, *known):
        logging.getLogger(name).addFilter(_as_event)


def _concerns_somebody(record: logging.LogRecord) -> bool:
    return "No runtime found" not in record.getMessage()


def _as_event(record: logging.LogRecord) -> bool:
    """Write what is logged as an event; an error by its traceback, which names nobody."""
    number = None
    if record.exc_info and record.exc_info[1]:
        number = log_failure(record.exc_info[1])
    log_event(record.levelname.lower(), of=record.name, text=record.getMessage(), fault=number)
    return False
