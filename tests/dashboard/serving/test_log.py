"""What a server logs about itself, and the metrics that it gives: neither names anybody."""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path
from types import SimpleNamespace

import httpx2 as httpx
import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from typer.testing import CliRunner

from dashboard.app.command_line import application
from dashboard.club.scheduled_backups import (
    Schedule,
    back_up_if_due,
    backup_age_seconds,
    set_schedule,
)
from dashboard.core import events
from dashboard.serving.listening import CannotServe
from dashboard.serving.metrics import Metrics, MetricsAt, told_metrics
from dashboard.serving.watching import Answer, told_path
from db.file import transactions, waits
from db.file.store import Store
from db.file.waits import Wait
from db.roster.statuses import set_status
from tests.dashboard.conftest import PASSWORD
from tests.dashboard.live_server import free_port, post_form, serving

DATED = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d"


@pytest.fixture
def log(monkeypatch: pytest.MonkeyPatch) -> StringIO:
    """Return what is written to the log; listeners to events are forgotten afterwards."""
    log = StringIO()
    monkeypatch.setattr(events, "sys", SimpleNamespace(stderr=log))
    monkeypatch.setattr(events, "_heard", [])
    monkeypatch.setattr(transactions, "_noted", [])
    monkeypatch.setattr(waits, "_noted", [])
    return log


def test_every_event_is_one_dated_line_in_either_form(log: StringIO) -> None:
    events.log_event("start", port=8501)
    assert log.getvalue() == "", "without a form nothing is logged"
    with events.logging_as("text"):
        events.log_event("start", port=8501, of=None)
        events.tell("Ready.")
    assert re.fullmatch(f"{DATED} start port=8501\n{DATED} Ready\\.\n", log.getvalue())
    log.truncate(log.seek(0))
    with events.logging_as("json"):
        events.log_event("start", port=8501)
        events.tell("Ready.\nReally.")
        events.log_fault("000001", "Traceback\n  here\n")
    start, said, fault = map(json.loads, log.getvalue().splitlines())
    assert re.fullmatch(DATED, start.pop("at"))
    assert start == {"event": "start", "port": 8501}
    assert said["text"] == "Ready.\nReally." and fault["trace"] == "Traceback\n  here\n"


def test_a_write_is_logged_without_names_and_the_store_knows_whose_it_was(
    log: StringIO, filled_store: Store
) -> None:
    with events.logging_as("json"):
        events.log_writes(filled_store)
        set_status(filled_store, "A1", "out", date(2026, 3, 14), "knee of Long One", "carl")
        Wait(0.0)._say("Other work has the store.")
    status, wait = map(json.loads, log.getvalue().splitlines())
    assert status["event"] == "set-status" and wait["event"] == "wait-for-store"
    for told in ("carl", "A1", "knee", "Long"):
        assert told not in log.getvalue()
    shown = CliRunner().invoke(
        application, ["person", "list", "--ids", "--db", str(filled_store.path)]
    )
    (line,) = [line for line in shown.stdout.splitlines() if line.startswith("carl: ")]
    assert line.endswith(f"in the log {status['account']}")
    assert events.account_id("x", "bo (command line)") == "command-line"


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("/", "/"),
        ("/signin", "/signin"),
        ("/download/export/responses.csv", "/download/export/..."),
        ("/curve/k3yk3yk3yk3yk3yk3yk3y", "/curve/..."),
        ("/join/k3yk3yk3yk3yk3yk3yk3y", "/join/..."),
        ("/a\nb c", "/ab%20c"),
    ],
)
def test_an_address_is_logged_without_secrets(path: str, told: str) -> None:
    assert told_path(path) == told


def test_metrics_are_openmetrics_and_count_answers_and_events(log: StringIO) -> None:
    def unknown() -> float:
        raise OSError

    metrics = Metrics({"store_bytes": ("Size.", lambda: 5.0), "backup_age_seconds": ("A", unknown)})
    with told_metrics(metrics, MetricsAt()) as port:
        events.log_event("import", revision=3)
        events.log_event("access")
        for status in (200, 204, 404):
            metrics.count_answer(Answer("GET", "/", status, 0.2))
        answer = httpx.get(f"http://127.0.0.1:{port}/metrics")
        assert httpx.get(f"http://127.0.0.1:{port}/").status_code == 404
        with (
            pytest.raises(CannotServe, match="--metrics-port"),
            told_metrics(metrics, MetricsAt(port=port)),
        ):
            pass
    assert answer.headers["content-type"].startswith("application/openmetrics-text")
    found = {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }
    assert found["warmcurve_requests_total", "2xx"] == 2.0
    assert found["warmcurve_requests_total", "4xx"] == 1.0
    assert found["warmcurve_request_seconds_count",] == 3.0
    assert found["warmcurve_events_total", "import"] == 1.0
    assert ("warmcurve_events_total", "access") not in found
    assert found["warmcurve_store_bytes",] == 5.0
    assert found["warmcurve_backup_age_seconds",] != found["warmcurve_backup_age_seconds",]


def test_the_age_of_the_newest_backup_is_known(filled_store: Store, tmp_path: Path) -> None:
    assert backup_age_seconds(filled_store) != backup_age_seconds(filled_store)
    set_schedule(filled_store, Schedule(str(tmp_path / "copies"), 12, 3), "test")
    back_up_if_due(filled_store, datetime.now(UTC))
    assert 0 <= backup_age_seconds(filled_store) < 3600


@pytest.mark.usefixtures("closed_in_between")
def test_a_server_logs_its_events_and_takes_its_settings_from_the_environment(
    filled_store: Store,
) -> None:
    port = free_port()
    told = {
        "WARMCURVE_LOG": "json",
        "WARMCURVE_ACCESS_LOG": "1",
        "WARMCURVE_METRICS_PORT": str(port),
    }
    with serving(filled_store.path, **told) as server:
        with server.client() as client:
            assert post_form(client, {"name": "dora", "password": "wrong"}).status_code == 401
            assert post_form(client, {"name": "dora", "password": PASSWORD}).status_code == 303
        text = httpx.get(f"http://127.0.0.1:{port}/metrics").text
    assert 'warmcurve_events_total{event="sign-in"} 1.0' in text
    lines = [json.loads(line) for line in server.log.read_text().splitlines()]
    named = [line["event"] for line in lines]
    assert named.index("start") < named.index("ready") < named.index("sign-in-refused")
    assert named.index("sign-in-refused") < named.index("sign-in") < named.index("stop")
    assert "dora" not in server.log.read_text() and "127.0.0.1" not in str(
        [line for line in lines if line["event"] == "access"]
    )
