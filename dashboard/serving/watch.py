"""What operators of a server can watch: answers in the log, and metrics at an address."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, field

from dashboard.core.events import log_event
from dashboard.serving.metrics import Gauges, Metrics, MetricsAt, told_metrics
from dashboard.serving.watching import Watcher, log_access


@dataclass(frozen=True)
class Watch:
    """What operators want to watch.

    Attributes
    ----------
    access_log : bool
        Whether every answer is logged.
    metrics : MetricsAt
        Where the metrics are served.
    """

    access_log: bool = False
    metrics: MetricsAt = field(default_factory=MetricsAt)


NO_WATCH = Watch()


def watchers_of(watch: Watch, gauges: Gauges, at_the_end: ExitStack) -> list[Watcher]:
    """Return the watchers of every answer, and serve the metrics until the end.

    Parameters
    ----------
    watch : Watch
    gauges : Gauges
        What the metrics read when somebody asks for them.
    at_the_end : ExitStack
        Stops serving the metrics.

    Raises
    ------
    CannotServe
        If the metrics cannot be served at their address.
    """
    watchers: list[Watcher] = [log_access] if watch.access_log else []
    if watch.metrics.port is not None:
        metrics = Metrics(gauges)
        port = at_the_end.enter_context(told_metrics(metrics, watch.metrics))
        log_event("metrics", port=port)
        watchers.append(metrics.count_answer)
    return watchers
