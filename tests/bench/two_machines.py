"""Two web machines and a worker, each with a disk of its own, on one PostgreSQL and one bucket.

`python -m tests.bench.two_machines [--clip-mb 60]` wants `django-storages[s3]` and `moto[server]`, which plays the
bucket on loopback. What is tried stands in `two_machines_drive`; afterwards nothing may lie on one machine's disk.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from tests.bench.bucket_media import MAKE_BUCKET
from tests.bench.load import ROOT, free_port
from tests.servers import postgres

MANAGE = [sys.executable, str(ROOT / "manage.py")]
SERVE = [sys.executable, "-m", "gunicorn", "--config", str(ROOT / ".deploy" / "gunicorn.conf.py"), "inventory.wsgi"]
OWN = {"static"}  # of a machine's folder: made anew by whoever starts there


@contextmanager
def bucket(environ: dict[str, str]) -> Iterator[dict[str, str]]:
    """What the processes are told of a bucket of their own."""
    port = free_port()
    given = {
        **environ, "MEDIA_BUCKET": "lot-media", "MEDIA_ENDPOINT": f"http://127.0.0.1:{port}",
        "MEDIA_REGION": "us-east-1", "AWS_ACCESS_KEY_ID": "invented", "AWS_SECRET_ACCESS_KEY": "invented",
    }  # fmt: skip
    with process([str(Path(sys.executable).parent / "moto_server"), "-p", str(port)], given) as running:
        subprocess.run([sys.executable, "-c", MAKE_BUCKET], check=True, env=given)
        yield {**given, "PROCESS_BUCKET": str(running.pid)}


@contextmanager
def process(command: list[str], environ: dict[str, str]) -> Iterator[subprocess.Popen[bytes]]:
    with (Path(environ["LOGS"]) / f"{Path(command[-1]).name}-{time.monotonic_ns()}").open("wb") as log:
        running = subprocess.Popen(command, cwd=ROOT, env=environ, stdout=log, stderr=log)
        try:
            yield running
        finally:
            running.terminate()
            running.wait(timeout=60)


@contextmanager
def machine(name: str, *, folder: Path, environ: dict[str, str]) -> Iterator[dict[str, str]]:
    """One that serves, with its own folder; gives its address and process to whoever drives."""
    port = free_port()
    given = {**environ, "DATA_DIR": str(folder / name), "BIND": f"127.0.0.1:{port}", "WEB_PROCESSES": "1"}
    with process(SERVE, given) as running:
        address = f"http://127.0.0.1:{port}"
        wait_for(f"{address}/readyz")
        yield {f"MACHINE_{name.upper()}": address, f"PROCESS_{name.upper()}": str(running.pid)}


def wait_for(address: str) -> None:
    for _ in range(240):
        try:
            if urlopen(address, timeout=30).status == 200:
                return
        except (URLError, OSError):
            time.sleep(0.5)
    raise SystemExit(f"{address} did not answer.")


def demo(environ: dict[str, str], *, folder: Path) -> dict[str, str]:
    """The invented lot, made on a third machine; gives its pass phrases."""
    given = {**environ, "DATA_DIR": str(folder / "first"), "TASKS": "immediate"}
    said = subprocess.run([*MANAGE, "demo", "--no-serve"], check=True, env=given, stdout=subprocess.PIPE, text=True)
    lines = [line.split() for line in said.stdout.splitlines() if " password " in line]
    return {words[0]: words[-1] for words in lines}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clip-mb", type=int, default=60)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as base, ExitStack() as running:
        folder = Path(base)
        (folder / "logs").mkdir()
        environ = {
            **os.environ, "DATABASE_URL": running.enter_context(postgres()), "TASKS": "database",
            "LOGS": str(folder / "logs"), "SECRET_KEY": "the same on all machines, invented",
            "LOG_FORMAT": "json", "CLIP_MB": str(asked.clip_mb),
        }  # fmt: skip
        environ = running.enter_context(bucket(environ))
        passwords = demo(environ, folder=folder)
        web = [running.enter_context(machine(name, folder=folder, environ=environ)) for name in "ab"]
        running.enter_context(process([*MANAGE, "db_worker"], {**environ, "DATA_DIR": str(folder / "worker")}))
        said = {"PASSWORDS": json.dumps(passwords), "DATA_DIR": str(folder / "drive")}
        deeds = [sys.executable, "-m", "tests.bench.two_machines_drive"]
        failed = subprocess.run(deeds, cwd=ROOT, env={**environ, **web[0], **web[1], **said}, check=False).returncode
        alone = {name: on_disk(folder / name) for name in ("a", "b", "worker", "first")}
        print("on one machine's disk alone:", alone)
        if failed:
            tell_logs(folder / "logs")
    return 1 if failed or any(alone.values()) else 0


def on_disk(folder: Path) -> list[str]:
    found = [path.relative_to(folder) for path in folder.rglob("*") if path.is_file()]
    return sorted(str(path) for path in found if path.parts[0] not in OWN)


def tell_logs(folder: Path) -> None:
    for log in sorted(folder.iterdir()):
        print(f"--- {log.name}\n{log.read_text(errors='replace')[-3000:]}")


if __name__ == "__main__":
    sys.exit(main())
