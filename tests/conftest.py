"""Settings for all tests."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import pytest

# Let the servers and commands that tests start find their code compiled. Where the environment
# forbids bytecode files, each of them would spend seconds compiling a thousand modules.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


@pytest.fixture(scope="session", autouse=True)
def _stores_cost_little() -> Iterator[None]:
    from tests.cheap_seals import cheap_seals
    from tests.cheap_stores import cheap_stores

    with cheap_stores(), cheap_seals():
        yield
