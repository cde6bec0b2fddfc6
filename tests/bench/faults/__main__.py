"""Every fault against real processes, on SQLite and on PostgreSQL, told as one table.

`python -m tests.bench.faults [--on sqlite,postgres] [--cases kill,worker,...] [--rounds N]`. Each database gets a
process of its own with a folder of its own; gunicorn, `db_worker` and `mail --loop` run as they do in a lot and are
killed with SIGKILL, PostgreSQL is stopped with `-m immediate`, a disk of 40 MB is mounted (as root) and filled. Nothing
is mocked. Some 10 minutes for each database on 2 cores.
"""

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from contextlib import ExitStack
from pathlib import Path

HEAD = ("fault", "database", "acknowledged", "found afterwards", "half-done", "what people saw")
DISK_MB = 40
CASES = ("kill", "settle", "worker", "backup", "outage", "disk", "clock", "race")


def main() -> None:
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--on", default="sqlite,postgres")
    given.add_argument("--cases", default=",".join(CASES))
    given.add_argument("--rounds", type=int, default=15)
    said = given.parse_args()
    print(f"| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}", flush=True)
    cases = said.cases.split(",")
    for vendor in said.on.split(","):
        if others := [case for case in cases if case != "disk"]:
            _on(vendor, cases=",".join(others), rounds=said.rounds)
        if "disk" in cases:
            _on(vendor, cases="disk", rounds=said.rounds)


def _small_disk(folder: Path, *, ended: ExitStack) -> bool:
    """A disk of a few megabytes, in memory."""
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", str(folder)], check=False)
    if mounted.returncode == 0:
        ended.callback(subprocess.run, ["umount", "-l", str(folder)], check=False)
    return mounted.returncode == 0


def _on(vendor: str, *, cases: str, rounds: int) -> None:
    """One database: a folder, a server where it needs one, and a process that plays the cases."""
    folder = Path(tempfile.mkdtemp(prefix="faults-"))
    with ExitStack() as ended:
        ended.callback(shutil.rmtree, folder, ignore_errors=True)
        small = cases == "disk" and _small_disk(folder / "data", ended=ended)
        environment = {**os.environ, "DATA_DIR": str(folder / "data"), "TASKS": "database", "MAIL": "file"}
        environment |= {"DJANGO_SETTINGS_MODULE": "inventory.settings", "FAULTS": vendor, "LOG_LEVEL": "ERROR"}
        environment |= {"SMALL_DISK": "1", "LEAST_FREE_DISK_MB": "1"} if small else {}  # else files are refused before
        environment.pop("DATABASE_URL", None)
        command = [sys.executable, "-m", "tests.bench.faults.play", vendor, cases, str(rounds)]
        with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as player:
            for line in player.stdout or ():
                if line.startswith("["):
                    print("| " + " | ".join(json.loads(line)) + " |", flush=True)
                else:
                    print(line, end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
