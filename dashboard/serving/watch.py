"""What those who look after a server are told of it: answers in the log, numbers at an address."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, field

from dashboard.core.events import log_event
from dashboard.serving.metrics import Gauges, Metrics, MetricsAt, told_metrics
from dashboard.serving.watching import Watcher, log_access


@dataclass(frozen=True)
class Watch:
    """What is told.

    Attributes
    ----------
    access_log : bool
        Whether every answer is logged.
    metrics : MetricsAt
        Where numbers are told.
    """

    access_log: bool = False
    metrics: MetricsAt = field(default_factory=MetricsAt)


NO_WATCH = Watch()


def watchers_of(watch: Watch, gauges: Gauges, at_the_end: ExitStack) -> list[Watcher]:
    """Return what wants to know of every answer, and tell the metrics until the end.

    Parameters
    ----------
    watch : Watch
    gauges : Gauges
        What the metrics ask for when they are asked themselves.
    at_the_end : ExitStack
        Ends the telling.

    Raises
    ------
    CannotServe
        If the metrics cannot be told where they should be.
    """
    watchers: list[Watcher] = [log_access] if watch.access_log else []
    if watch.metrics.port is not None:
        metrics = Metrics(gauges)
        port = at_the_end.enter_context(told_metrics(metrics, watch.metrics))
        log_event("metrics", port=port)
        watchers.append(metrics.count_answer)
    return watchers
