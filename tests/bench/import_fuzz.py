"""10,000 broken spreadsheets through the real import, in children that may not die.

By hand: `.venv/bin/python -m tests.bench.import_fuzz --files 10000`. Each child takes a stretch of seeds on a fresh
SQLite of its own; an abort, a hang or any exception but Refused is a finding with its seed. What holds of each file:
read = imported + already + rejected; as many rows as an independent reader counts, where it can read the file; sent
again, nothing is imported twice.
"""

import argparse
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import django

HERE = tempfile.TemporaryDirectory()
os.environ |= {"DJANGO_SETTINGS_MODULE": "inventory.settings", "TASKS": "immediate"}
os.environ.setdefault("DATA_DIR", HERE.name)
os.environ.pop("DATABASE_URL", None)
django.setup()  # on the fresh folder, so before any model is loaded

from django.core.management import call_command  # noqa: E402

from tests.bench.sheet_checks import held  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 60  # for one file, sent twice, on a machine that others use


class TooSlow(Exception):
    pass


def stretch(*, first: int, count: int) -> int:
    """In a child: each seed is named before it is tried, so that an abort tells which it was."""
    seen, slowest = Counter[str](), (0.0, 0)

    def stop(*_: Any) -> None:
        raise TooSlow(f"more than {SECONDS} s")

    signal.signal(signal.SIGALRM, stop)
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            print(f"seed {seed}", flush=True)
            began = time.process_time()
            signal.alarm(SECONDS)
            try:
                held(seed, folder=Path(folder), seen=seen)
            except BaseException as fault:  # also what compiled code raises
                print("FOUND " + json.dumps([seed, type(fault).__name__, str(fault)[:300]]), flush=True)
                if isinstance(fault, KeyboardInterrupt):
                    raise
            signal.alarm(0)
            slowest = max(slowest, (time.process_time() - began, seed))
    print("SEEN " + json.dumps([seen, slowest]), flush=True)
    return 0


def child(first: int, *, count: int, ready: Path) -> tuple[Counter[str], list[Any], tuple[float, int]]:
    with tempfile.TemporaryDirectory() as data:
        shutil.copy(ready / "lot.sqlite3", data)
        words = [sys.executable, "-m", "tests.bench.import_fuzz", "--first", str(first), "--count", str(count)]
        ran = subprocess.run(
            [*words, "--child"],
            cwd=ROOT,
            env=os.environ | {"DATA_DIR": data},
            capture_output=True,
            text=True,
            check=False,
        )
    lines = ran.stdout.splitlines()
    found = [json.loads(line[6:]) for line in lines if line.startswith("FOUND ")]
    done = next((json.loads(line[5:]) for line in lines if line.startswith("SEEN ")), None)
    if done is None:
        last = next((line for line in reversed(lines) if line.startswith("seed ")), "before the first seed")
        return Counter(), [*found, [last, f"the process ended with {ran.returncode}", ran.stderr[-500:]]], (0.0, 0)
    return Counter(done[0]), found, (done[1][0], done[1][1])


def asked_for() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=500, help="files for one child")
    parser.add_argument("--jobs", type=int, default=2, help="children at a time")
    parser.add_argument("--child", action="store_true")
    return parser.parse_args()


def main() -> int:
    asked = asked_for()
    if asked.child:
        return stretch(first=asked.first, count=asked.count)
    began, seen, found, slowest, done = time.monotonic(), Counter[str](), list[Any](), (0.0, 0), 0
    call_command("migrate", verbosity=0)
    end = asked.first + asked.files
    with ThreadPoolExecutor(asked.jobs) as pool:
        firsts = range(asked.first, end, asked.count)
        ready = Path(os.environ["DATA_DIR"])
        work = (pool.submit(child, first, count=min(asked.count, end - first), ready=ready) for first in firsts)
        for one in list(work):
            counted, faults, slow = one.result()
            seen, found, slowest, done = seen + counted, found + faults, max(slowest, slow), done + asked.count
            print(f"{min(done, asked.files):,} files, {len(found)} findings", *faults, flush=True, sep="\n  ")
    for what, count in sorted(seen.items(), key=lambda item: -item[1]):
        print(f"{count:8,}  {what}")
    took = time.monotonic() - began
    print(f"{asked.files:,} files in {took:,.0f} s, {asked.jobs} at a time; {len(found)} findings")
    print(f"the slowest took {slowest[0]:.1f} s of the processor (seed {slowest[1]})")
    return int(bool(found))


if __name__ == "__main__":
    raise SystemExit(main())
