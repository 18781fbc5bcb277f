"""Commands run by an account that may not read the store, and who may open what they make.

Commands ask for no password: anyone who can read the store's file owns it. So nobody else may
read it.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal, get_args, get_origin

import pytest
from typer.core import TyperArgument, TyperCommand, TyperGroup, TyperOption
from typer.main import get_command

from dashboard.app.command_line import application
from db.backup.copying import backup
from db.file.store import Store
from tests.dashboard.conftest import PASSWORD, fill, new_store
from tests.dashboard.live_server import free_port, quiet_environment
from tests.dashboard.test_nobody_in import leaks
from tests.patience import PATIENCE_SECONDS

NOBODY = 65534
WITHOUT_ROOT_S_RIGHTS = [
    "setpriv",
    *("--bounding-set", "-dac_override,-dac_read_search"),
    *("--inh-caps", "-dac_override,-dac_read_search"),
]
"""Without these rights root reads only what its account may read, like everybody else."""
RUN_ALL = """
import contextlib, io, json, os, sys
import dashboard.app.command_line
commands = json.load(sys.stdin)
os.umask(0)  # what is made must be private all the same
told = []
for words in commands:
    out, err = io.StringIO(), io.StringIO()
    sys.argv, sys.stdin = ["warmcurve", *words], io.StringIO("PASSWORD\\n")
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            dashboard.app.command_line.main()
            code = 0
        except SystemExit as end:
            code = end.code
    told.append([code, out.getvalue(), err.getvalue()])
json.dump(told, sys.stdout)
""".replace("PASSWORD", PASSWORD)
STOPPED_ONCE_UP = """
import os, signal
from threading import Event
import dashboard.app.serve
from dashboard.app.starting import Starting
wait_until_up, note, has_started = dashboard.app.serve.wait_until_up, Starting._note, Event()
def noted(starting, *told):
    note(starting, *told)
    if starting._application or starting.problem:
        has_started.set()
def stop_once_up(address):
    up = wait_until_up(address) and has_started.wait()
    os.kill(os.getpid(), signal.SIGINT)
    return up
Starting._note = noted
dashboard.app.serve.wait_until_up = stop_once_up
"""
"""Once the server is up and has made all its files, stop it as Ctrl-C would."""
EFFORTS = (
    "athlete,started_at,measure,effort,value,volume_before\nZ9,2026-03-01T09:00,hop_1,1,40,0\n"
)


def commands(group: TyperGroup, *before: str) -> dict[str, TyperCommand]:
    """Return every command, by its words."""
    found: dict[str, TyperCommand] = {}
    for name, command in group.commands.items():
        words = (*before, name)
        if isinstance(command, TyperGroup):
            found |= commands(command, *words)
        else:
            found[" ".join(words)] = command
    return found


COMMANDS = commands(get_command(application))
OF_A_STORE = [
    name for name, each in COMMANDS.items() if any(one.name == "db" for one in each.params)
]
"""The other commands read only the files that they are given."""


def value_of(parameter: TyperArgument | TyperOption, folder: Path, port: int) -> str:
    """Return a value that a parameter takes; add new parameter names here."""
    given = {
        "address": "zoe@example.org",
        "athlete": "Z9",
        "code": "Z9",
        "date": "2026-11-25",
        "measure": "jump_height",
        "name": "zoe",
        "port": str(port),
        "start": "19:30",
    }
    kind = parameter.type_descriptor.annotation
    if get_origin(kind) is Literal:
        return str(get_args(kind)[0])
    if Path in (kind, *get_args(kind)):
        named = re.search(r"\.(\w+)$", f"{parameter.metavar}")
        return str(folder / f"{parameter.name}.{named[1] if named else 'csv'}")
    assert parameter.name in given, f"A value for {parameter.name} is wanted."
    return given[str(parameter.name)]


def words_of(name: str, store: Path, folder: Path, port: int) -> list[str]:
    """Return the words of a command that works for anyone who may read the store."""
    words = name.split()
    for parameter in COMMANDS[name].params:
        if parameter.name == "db":
            words += ["--db", str(store)]
        elif isinstance(parameter, TyperArgument) and parameter.required:
            words.append(value_of(parameter, folder, port))
        elif parameter.required or parameter.name in ("port", "add_athletes", "generate", "yes"):
            words.append(parameter.opts[0])
            words += [] if parameter.is_flag else [value_of(parameter, folder, port)]
    return words


def run_all(commands: list[list[str]], *before: str, first: str = "") -> list[tuple[int, str, str]]:
    """Run a script and then commands, one after the other in one process."""
    done = subprocess.run(
        [*before, sys.executable, "-c", first + RUN_ALL],
        input=json.dumps(commands),
        capture_output=True,
        text=True,
        env=quiet_environment() | {"HOME": "/nonexistent"},
        timeout=PATIENCE_SECONDS,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return [tuple(each) for each in json.loads(done.stdout)]


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that every account can enter, unlike those of pytest."""
    with TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Store:
    store = new_store(tmp_path_factory.mktemp("filled") / "store.duckdb")
    fill(store)
    return store


@pytest.mark.parametrize("closed", ["folder", "file"])
def test_another_account_of_the_machine_is_told_one_sentence_and_nothing_else(
    filled: Store, folder: Path, closed: str
) -> None:
    store = folder / "club" / "warmcurve.duckdb"
    store.parent.mkdir(mode=0o700)
    shutil.copy(filled.path, store)
    theirs = folder / "theirs"
    theirs.mkdir()
    (theirs / "files.csv").write_text(EFFORTS)
    (theirs / "file.csv").write_text("athlete\nZ9\n")
    as_root = os.geteuid() == 0
    store.chmod(0o600 if as_root else 0)
    store.parent.chmod(0o755 if closed == "file" else 0o700 if as_root else 0)
    if as_root:
        for path in (store, store.parent):
            os.chown(path, NOBODY, NOBODY)
    try:
        asked = [words_of(name, store, theirs, free_port()) for name in OF_A_STORE]
        told = run_all(asked, *(WITHOUT_ROOT_S_RIGHTS if as_root else []))
    finally:
        store.parent.chmod(0o700)
        store.chmod(0o600)
    for words, (code, out, err) in zip(asked, told, strict=True):
        assert (code, out) == (1, ""), (words, out, err)
        sentence = err.splitlines()[-1]
        assert re.search("ermission denied.*who may read and write it|never overwrites", sentence)
        assert "Traceback" not in err and leaks(err, "nobody") == [], words
    assert store.read_bytes() == filled.path.read_bytes()
    assert [path.name for path in store.parent.iterdir()] == [store.name]


def test_only_the_owner_can_open_what_a_command_makes(filled: Store, folder: Path) -> None:
    copy = backup(filled, folder / "backups").folder
    asked, stores = {}, {}
    for number, name in enumerate(COMMANDS):
        own = folder / f"own-{number}"
        own.mkdir()
        (own / "files.csv").write_text(EFFORTS)
        (own / "file.csv").write_text("athlete\nZ9\n")
        if "restore" in name:
            shutil.copytree(copy, own / "folder.csv")
        stores[name] = own / "club" / "warmcurve.duckdb"
        asked[name] = words_of(name, stores[name], own, free_port())
    serving = [asked.pop(name) for name in ("demo", "serve")]
    told = dict(zip(asked, run_all(list(asked.values())), strict=True))
    for words in serving:  # one process can serve only once
        [told[words[0]]] = run_all([words], first=STOPPED_ONCE_UP)
        code, _, said = told[words[0]]
        assert code == 0 and "Stopped." in said, said
    made = [name for name in COMMANDS if stores[name].exists()]
    for name, (_, _, err) in told.items():
        assert "Traceback" not in err, name
    assert {"demo", "serve", "import", "athletes", "measure", "person add", "restore"} <= {*made}
    for name in made:
        assert stat.S_IMODE(stores[name].parent.stat().st_mode) == 0o700, name
        for path in stores[name].parent.iterdir():
            assert stat.S_IMODE(path.stat().st_mode) == 0o600, (name, path.name)
