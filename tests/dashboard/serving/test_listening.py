"""Where the dashboard listens, and under which names it answers."""

from __future__ import annotations

import pytest

from dashboard.serving.listening import FIRST_PORT, CannotServe, Where, listen


def test_a_taken_port_is_reported_and_a_free_one_found() -> None:
    with listen(Where()) as listener:
        address, port = listener.getsockname()
        assert address == "127.0.0.1" and port >= FIRST_PORT
        with pytest.raises(CannotServe, match=f"port {port} is not free.*--port"):
            listen(Where(port=port))
        with listen(Where()) as other:
            assert other.getsockname()[1] > port


def test_an_address_of_another_machine_is_refused() -> None:
    with pytest.raises(CannotServe, match="This machine has no address '192.0.2.1'"):
        listen(Where("192.0.2.1"))


@pytest.mark.parametrize(
    "name", ["*", "", "http://club.example", "club.example:80", "club.example/x", "::1", "a b"]
)
def test_an_invalid_host_is_refused(name: str) -> None:
    """A host check that lets every host in would be no check."""
    for named in ({"host": name}, {"allowed_hosts": [name]}):
        with pytest.raises(CannotServe, match="is not a host such as"):
            Where(**named)


def test_listening_everywhere_answers_only_the_named_hosts() -> None:
    assert Where("192.0.2.1", allowed_hosts=["*.club.example"]).hosts == [
        "192.0.2.1",
        "*.club.example",
    ]
    everywhere = Where("0.0.0.0", allowed_hosts=["club.example"])
    assert everywhere.hosts == ["club.example"] and everywhere.reached_at == "127.0.0.1"
    assert [Where(host).open_to_others for host in ("localhost", "127.0.0.2", "0.0.0.0")] == [
        *(False, False, True),
    ]
