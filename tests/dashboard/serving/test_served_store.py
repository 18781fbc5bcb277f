"""A running server whose store file is replaced or taken away."""

from __future__ import annotations

import os
from pathlib import Path

import httpx2 as httpx

from db.file.store import Store
from tests.dashboard.conftest import copied
from tests.dashboard.live_server import serving

ASKED = ("/healthz", "/signin", "/", "/download/export/responses.csv", "/curve/" + "a" * 43)


def test_a_server_never_offers_to_set_up_another_store(
    made_stores: dict[str, Path], tmp_path: Path
) -> None:
    store, other = copied(made_stores["empty"], tmp_path), Store(tmp_path / "other.duckdb")
    other.create()
    away = tmp_path / "away.duckdb"
    with serving(store.path) as server, server.signed_in("dora") as client:
        assert client.get("/healthz").text == "ok"
        store.path.rename(away)
        assert_refused(
            client, store.path.parent, "The file of the store is gone, and no new one was made"
        )
        assert not store.path.exists()
        os.replace(other.path, store.path)
        assert_refused(
            client,
            store.path.parent,
            "is not the one that this dashboard serves. It is another store.",
        )
        os.replace(away, store.path)
        assert client.get("/healthz").text == "ok"
        assert client.get("/download/exercises.csv").status_code == 200


def assert_refused(client: httpx.Client, folder: Path, why: str) -> None:
    for path in ASKED:
        answer = client.get(path)
        assert answer.status_code == 503 and why in answer.text, (path, answer.text)
        assert str(folder) not in answer.text, path
        assert "set-up code" not in answer.text and "<form" not in answer.text, path
