"""A lot with its processes: a server, a worker, a mail loop; and somebody who posts to it."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPException
from pathlib import Path
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import django

django.setup()

from django.core.management import call_command
from django.db import connection
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from inventory.actions import staffing
from inventory.models import Job, OutMessage
from inventory.rules.jobs import OPEN
from inventory.rules.roles import Role
from inventory.rules.words import JobStatus, MessageStatus
from tests import build
from tests.bench.faults.server import Postgres

ROOT = Path(__file__).resolve().parents[3]
Row = tuple[str, str, str, str, str]


@dataclass
class Answer:
    """What a post got: a status, or none where the connection broke before one came."""

    status: int | None
    body: str = ""
    replayed: bool = False

    @property
    def is_done(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


@dataclass
class House:
    vendor: str
    postgres: Postgres | None
    rounds: int
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)
    token: str = ""
    port: int = 0

    def prepare(self) -> None:
        call_command("migrate", verbosity=0)
        owner = build.staff(Role.OWNER, at=timezone.now())
        _, self.token = staffing.make_token("faults", role=Role.OWNER, by=owner, at=timezone.now())
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]

    def tell(self, row: Row) -> None:
        print(json.dumps([row[0], self.vendor, *row[1:]]), flush=True)

    # Processes

    def serve(self, *, application: str = "inventory.wsgi", wait: bool = True, **extra: str) -> subprocess.Popen[bytes]:
        command = ["-m", "gunicorn", "-k", "gthread", "--threads", "4", "-w", "2", "-b", f"127.0.0.1:{self.port}"]
        process = self._start([*command, application], **extra)
        if wait:
            self.wait_until_it_serves()
        return process

    def wait_until_it_serves(self) -> None:
        self.wait_for(lambda: self.get("/sign-in/").status == 200, seconds=120)

    def manage(self, *words: str, **extra: str) -> subprocess.Popen[bytes]:
        return self._start(["manage.py", *words], **extra)

    def _start(self, words: list[str], **extra: str) -> subprocess.Popen[bytes]:
        log = (Path(os.environ["DATA_DIR"]).parent / "log").open("ab")
        process = subprocess.Popen(
            [sys.executable, *words], cwd=ROOT, env={**os.environ, **extra}, stdout=log, stderr=log,
            start_new_session=True,
        )  # fmt: skip
        self.processes.append(process)
        return process

    def kill(self, process: subprocess.Popen[bytes], *, how: int = signal.SIGKILL) -> None:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, how)
        process.wait(timeout=60)

    def stop_all(self) -> None:
        for process in self.processes:
            if process.poll() is None:
                self.kill(process)
        self.processes.clear()

    # Requests

    def get(self, path: str, *, cookie: str = "") -> Answer:
        return self._ask(Request(f"http://127.0.0.1:{self.port}{path}", headers={"Cookie": cookie} if cookie else {}))

    def api(self, path: str, *, key: str = "", **body: Any) -> Answer:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        if key:
            headers["Idempotency-Key"] = key
        address = f"http://127.0.0.1:{self.port}/api/v1/{path}"
        return self._ask(Request(address, data=json.dumps(body).encode(), headers=headers, method="POST"))

    def _ask(self, request: Request) -> Answer:
        try:
            with urlopen(request, timeout=40) as answer:
                return Answer(answer.status, answer.read().decode(), "Idempotency-Replayed" in answer.headers)
        except HTTPError as problem:
            return Answer(problem.code, problem.read().decode("utf-8", "replace"))
        except (URLError, HTTPException, OSError):
            return Answer(None)

    def wait_for(self, claim: Callable[[], object], *, seconds: float, every: float = 0.1) -> float:
        """Seconds until the claim holds; the run ends where it never does."""
        began = time.monotonic()
        while time.monotonic() - began < seconds:
            if claim():
                return time.monotonic() - began
            time.sleep(every)
        log = (Path(os.environ["DATA_DIR"]).parent / "log").read_text(errors="replace")[-3000:]
        raise SystemExit(f"waited {seconds} s in vain: {claim}\n{log}")


def cookie_of(username: str) -> str:
    """The cookie of a signed-in member of staff."""
    from django.test import Client  # noqa: PLC0415  # its setup of the test client is not wanted before

    client = Client()
    build.sign_in(client, username=username)
    return f"sessionid={client.cookies['sessionid'].value}"


def forget_tasks() -> None:
    """The mails of building the lot, and the fit that its sales ask for, are not what is looked at."""
    now = timezone.now()
    OutMessage.objects.filter(status=MessageStatus.QUEUED).update(status=MessageStatus.FAILED)
    Job.objects.filter(status__in=OPEN).update(status=JobStatus.FAILED, ended_at=now, message="Forgotten on purpose.")
    DBTaskResult.objects.all().delete()


def fresh_connection() -> None:
    connection.close()


def key() -> str:
    return str(uuid.uuid4())


def in_turns(values: list[Any], *, of: int) -> Iterator[list[Any]]:
    for start in range(0, len(values), of):
        yield values[start : start + of]
