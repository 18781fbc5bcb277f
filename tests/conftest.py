"""What holds for all tests."""

from __future__ import annotations

import os
import sys

# Servers and commands that tests start as processes find their code compiled; where an environment
# forbids to keep it, each of them would compile a thousand modules for seconds.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
