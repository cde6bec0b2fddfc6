"""The database goes away for a while and comes back: `python -m tests.bench.database_away [seconds]`.

gunicorn and a worker run on a PostgreSQL of their own, which is stopped without warning and started again. Told are
the answers meanwhile with the longest time of each, whether pages answer again at once, and whether both processes
are still there.
"""

import os
import re
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests import servers

ROOT = Path(__file__).resolve().parents[2]
PORT = 8791
PATHS = ("/sign-in/", "/api/v1/me/", "/for-sale/", "/healthz", "/readyz")


def asked(path: str) -> tuple[int, float]:
    began = time.perf_counter()
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{PORT}{path}", timeout=60) as answer:
            answer.read()
            status = answer.status
    except urllib.error.HTTPError as problem:
        status = problem.code
        problem.close()
    return status, time.perf_counter() - began


@contextmanager
def running(address: str) -> Iterator[list[subprocess.Popen[bytes]]]:
    with tempfile.TemporaryDirectory() as folder:
        env = {
            **os.environ,
            "DATABASE_URL": address,
            "DATA_DIR": folder,
            "BIND": f"127.0.0.1:{PORT}",
            "TASKS": "database",
        }
        manage = [sys.executable, "manage.py"]
        subprocess.run([*manage, "migrate", "-v0"], cwd=ROOT, env=env, check=True)
        gunicorn = [sys.executable, "-m", "gunicorn", "-c", ".deploy/gunicorn.conf.py", "inventory.wsgi"]
        with Path(folder, "log").open("wb") as log:
            started = [
                subprocess.Popen(command, cwd=ROOT, env=env, stdout=log, stderr=log)
                for command in (gunicorn, [*manage, "db_worker"])
            ]
            try:
                yield started
            finally:
                for process in started:
                    process.terminate()
                for process in started:
                    process.wait()


def folder_of(port: str) -> Path:
    found = subprocess.run(["pgrep", "-af", f"postgres.*-p {port}"], capture_output=True, text=True, check=True).stdout
    return Path(re.findall(r"-D (\S+)", found)[0])


def main(seconds: int) -> None:
    with servers.postgres() as address, running(address) as started:
        port = re.findall(r":(\d+)/", address)[0]
        data, who = folder_of(port), servers._run_as()
        control = [f"{servers.binaries()}/pg_ctl", "-D", str(data)]
        while not is_up():
            time.sleep(0.5)
        for path in PATHS * 10:  # both processes have loaded their pages and hold connections
            asked(path)
        subprocess.run([*control, "-m", "immediate", "stop"], check=True, stdout=subprocess.DEVNULL, cwd=data, **who)
        told: dict[tuple[str, int], list[float]] = {}
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            for path in PATHS:
                status, took = asked(path)
                told.setdefault((path, status), []).append(took)
            time.sleep(1)
        for (path, status), times in told.items():
            print(f"{path:<14} {status}  {len(times)} times, at most {max(times):.2f} s")
        flags = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories= -c fsync=off"
        begin = [*control, "-w", "-l", f"{data.parent}/log", "-o", flags, "start"]
        subprocess.run(begin, check=True, stdout=subprocess.DEVNULL, cwd=data, **who)
        back = [asked("/for-sale/")[0] for _ in range(40)]
        print(f"after the start {back.count(200)} of 40 pages answered; processes ended: {[p.poll() for p in started]}")


def is_up() -> bool:
    try:
        return asked("/readyz")[0] == 200
    except OSError:
        return False


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
