"""Metrics of a running server for its operators, in the OpenMetrics format."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import import_module
from threading import Thread
from types import ModuleType

from dashboard.core.events import hear_events
from dashboard.serving.listening import THIS_MACHINE, CannotServe
from dashboard.serving.watching import Answer

PATH = "/metrics"
SECONDS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)

Gauges = dict[str, tuple[str, Callable[[], float]]]
"""By name: what it means, and a function that returns its value."""


@dataclass(frozen=True)
class MetricsAt:
    """Where the metrics are served; without a port, nowhere."""

    host: str = THIS_MACHINE
    port: int | None = None


class Metrics:
    """Counts answers and events, and reads the gauges when somebody asks for the metrics.

    Parameters
    ----------
    gauges : Gauges
        What is not counted here; one that raises is reported as NaN.
    """

    def __init__(self, gauges: Gauges) -> None:
        from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector

        self.registry = CollectorRegistry()
        ProcessCollector(registry=self.registry)
        self._requests = Counter(
            "warmcurve_requests", "Answers, by status.", ["status"], registry=self.registry
        )
        self._seconds = Histogram(
            "warmcurve_request_seconds",
            "How long answers took.",
            buckets=SECONDS,
            registry=self.registry,
        )
        self._events = Counter(
            "warmcurve_events", "Events as in the log, by name.", ["event"], registry=self.registry
        )
        for name, (meaning, ask) in gauges.items():
            gauge = Gauge(f"warmcurve_{name}", meaning, registry=self.registry)
            gauge.set_function(partial(_known, ask))

    def count_answer(self, answer: Answer) -> None:
        """Count an answer."""
        self._requests.labels(f"{answer.status // 100}xx").inc()
        self._seconds.observe(answer.seconds)

    def count_event(self, event: str) -> None:
        """Count an event; answers are counted already."""
        if event != "access":
            self._events.labels(event).inc()

    def text(self) -> bytes:
        """Return all numbers as OpenMetrics text."""
        return bytes(_format().generate_latest(self.registry))


@contextmanager
def told_metrics(metrics: Metrics, at: MetricsAt) -> Iterator[int]:
    """Serve the metrics on a port of their own until the block ends.

    Yields the port.

    Raises
    ------
    CannotServe
        If the port is taken, or this machine has no such address.
    """

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            if self.path != PATH:
                self.send_error(404)
                return
            text = metrics.text()
            self.send_response(200)
            self.send_header("Content-Type", _format().CONTENT_TYPE_LATEST)
            self.send_header("Content-Length", str(len(text)))
            self.end_headers()
            self.wfile.write(text)

        def log_message(self, *_: object) -> None:
            """Write nothing: requests every few seconds would fill the log."""

    try:
        server = ThreadingHTTPServer((at.host, at.port or 0), Handler)
    except OSError as error:
        raise CannotServe(
            f"The metrics cannot be told at {at.host}, port {at.port}: {error.strerror}. Name"
            " another port with --metrics-port, or an address of this machine with --metrics-host."
        ) from error
    hear_events(metrics.count_event)
    Thread(target=server.serve_forever, name="metrics", daemon=True).start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()


def _format() -> ModuleType:
    """Return the format's module, which few starts need."""
    return import_module("prometheus_client.openmetrics.exposition")


def _known(ask: Callable[[], float]) -> float:
    """Return a number, or NaN if it is not known now: the store may be busy or gone."""
    try:
        return ask()
    except Exception:
        return float("nan")
