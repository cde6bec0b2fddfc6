"""Many at once: a large lot on PostgreSQL behind gunicorn, used by so many people for so long. One command, by hand:

    python -m tests.bench.load --scale 0.1 --seconds 60 --users 50

It starts a PostgreSQL of its own, writes the lot (`large_lot`), fits the price band, serves it with gunicorn and
drives it (`load_drive`), all in a folder that goes again. Beside it, in the same run: the framework alone (`bare`).
Driver, server and database share the machine: it is the ratios that carry. Ends with 1 where an answer was wrong or a
save is missing.
"""

import argparse
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.servers import postgres

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def gunicorn(application: str, *, environ: dict[str, str], worker: str, workers: int) -> Iterator[int]:
    """Serve it on a free port, and wait until it answers."""
    port = free_port()
    threads = ["--threads", "4"] if worker == "gthread" else []
    command = [sys.executable, "-m", "gunicorn", application, "-b", f"127.0.0.1:{port}", "-w", str(workers)]
    command += ["-k", worker, *threads, "--keep-alive", "30", "--timeout", "120", "--log-level", "error"]
    server = subprocess.Popen(command, cwd=ROOT, env=environ)
    try:
        for _ in range(240):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.25)
        yield port
    finally:
        server.terminate()
        server.wait(timeout=60)


def run(*arguments: str, environ: dict[str, str]) -> int:
    return subprocess.run([sys.executable, *arguments], cwd=ROOT, env=environ, check=False).returncode


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scale", type=float, default=0.1)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--users", type=int, default=50)
    parser.add_argument("--workers", type=int, default=4)
    parser.add_argument("--worker", choices=("gthread", "sync"), default="gthread")
    parser.add_argument("--bare-seconds", type=int, default=10)
    parser.add_argument("--no-fit", action="store_true", help="no price band: quicker to begin, cheaper desks")
    parser.add_argument("--database", default="", help="a large lot that is there already, instead of one of its own")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if asked.database:
            return loaded(asked, database=asked.database, folder=folder, make=False)
        with postgres() as database:
            return loaded(asked, database=database, folder=folder, make=True)


def loaded(asked: argparse.Namespace, *, database: str, folder: str, make: bool) -> int:
    environ = {
        **os.environ, "DATABASE_URL": database, "DATA_DIR": folder, "HTTPS": "0", "DEBUG": "0", "LOG_LEVEL": "ERROR",
        "TASKS": "immediate", "DJANGO_SETTINGS_MODULE": "inventory.settings", "SECRET_KEY": "load" * 16,
    }  # fmt: skip
    if make and run("-m", "tests.bench.large_lot", "--scale", str(asked.scale), environ=environ):
        return 1
    if make and not asked.no_fit and run("manage.py", "fit", "--no-record", environ=environ):
        return 1
    said, brief = ("--users", str(asked.users)), ("--seconds", str(asked.bare_seconds))
    print(f"\n{asked.users} users, {asked.workers} workers ({asked.worker}), scale {asked.scale:g}", flush=True)
    with gunicorn("tests.bench.bare:application", environ=environ, worker=asked.worker, workers=asked.workers) as port:
        run("-m", "tests.bench.load_drive", "--port", str(port), *brief, "--bare", *said, environ=environ)
    with gunicorn("inventory.wsgi", environ=environ, worker=asked.worker, workers=asked.workers) as port:
        seconds = ("--seconds", str(asked.seconds))
        return run("-m", "tests.bench.load_drive", "--port", str(port), *seconds, *said, environ=environ)


if __name__ == "__main__":
    sys.exit(main())
