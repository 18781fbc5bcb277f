"""What holds for all tests."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest

# Servers and commands that tests start as processes find their code compiled; where an environment
# forbids to keep it, each of them would compile a thousand modules for seconds.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.fixture(scope="session", autouse=True)
def _stores_cost_little() -> Iterator[None]:
    from tests.cheap_seals import cheap_seals
    from tests.cheap_stores import cheap_stores

    with cheap_stores(), cheap_seals():
        yield
