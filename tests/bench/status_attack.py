"""10,000 tries at private links against a running gunicorn: what they are told, how fast, and how they slow down.

By hand: `.venv/bin/python -m tests.bench.status_attack`. It makes a lot of its own in an empty folder.
Addresses are told apart by X-Forwarded-For, as behind a proxy.
"""

import hashlib
import http.client
import os
import random
import secrets
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import django

FOLDER = tempfile.TemporaryDirectory()
os.environ |= {"DATA_DIR": FOLDER.name, "DJANGO_SETTINGS_MODULE": "inventory.settings", "BEHIND_PROXY": "1"}
os.environ.pop("DATABASE_URL", None)
django.setup()  # on the fresh folder, so before any model is loaded

from django.core.management import call_command  # noqa: E402
from django.utils import timezone  # noqa: E402

from inventory.actions import linking  # noqa: E402
from inventory.rules.links import GRACE_DAYS  # noqa: E402
from inventory.rules.states import State  # noqa: E402
from tests import build  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
THREADS = 8
HERE = threading.local()


@dataclass(frozen=True)
class Seen:
    at: float
    took: float
    status: int
    body: str
    headers: tuple[tuple[str, str], ...]


def make_lot() -> dict[str, str]:
    """One right, one expired, one revoked token and one of another consignor."""
    call_command("migrate", verbosity=0)
    now = timezone.now()
    stay, other, third = (build.consignment(state, at=now) for state in (State.LISTED, State.LISTED, State.ON_LOT))
    old = now - timedelta(days=GRACE_DAYS)

    def made(row: Any, at: Any) -> str:
        return linking.make_link(row.pk, by=build.BUILDER, at=at)[1]

    expired, revoked = made(third, old), made(stay, now)
    return {
        "expired": expired, "revoked": revoked, "right": made(stay, now), "other": made(other, now),
        "code": str(stay.code), "cookie": f"status_{stay.code.hex}",
    }  # fmt: skip


def try_one(port: int, *, path: str, address: str, cookie: str = "") -> Seen:
    line = getattr(HERE, "line", None)
    if line is None:
        line = HERE.line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"X-Forwarded-For": address, "Host": "localhost", **({"Cookie": cookie} if cookie else {})}
    began = time.perf_counter()
    try:
        line.request("GET", path, headers=headers)
        answer = line.getresponse()
        body = answer.read()
    except (http.client.HTTPException, OSError):
        HERE.line = None
        return Seen(began, time.perf_counter() - began, 0, "no answer", ())
    if answer.getheader("Connection") == "close":
        line.close()
    told = tuple(sorted((name, value) for name, value in answer.getheaders() if name not in {"Date", "Connection"}))
    return Seen(began, time.perf_counter() - began, answer.status, hashlib.sha256(body).hexdigest()[:8], told)


def malformed() -> str:
    return random.choice(
        ["/status/open/" + "x" * 3000, "/status/open/%00%00", "/status/open/%E2%98%83%F0%9F%9A%97", "/status/open/",
         "/status/open/..%2F..%2Fetc%2Fpasswd", "/status/%0Aopen/x", "/status/not-a-code/", "/status/open/a/b/c",
         f"/status/{uuid.uuid4()}/photos/x/", "/status/open/%FF%FE", "/status/open/'%20OR%201=1--", "/status/"]
    )  # fmt: skip


def kinds(lot: dict[str, str]) -> dict[str, Any]:
    page, name = f"/status/{lot['code']}/", lot["cookie"]
    return {
        "guessed": lambda: ("/status/open/" + secrets.token_urlsafe(32), ""),
        "expired": lambda: ("/status/open/" + lot["expired"], ""),
        "revoked": lambda: ("/status/open/" + lot["revoked"], ""),
        "another's, on this page": lambda: (page, f"{name}={lot['other']}"),
        "cookie forged": lambda: (page, f"{name}={secrets.token_urlsafe(32)}"),
        "cookie cut or quoted": lambda: (page, f'{name}="{lot["right"][:-1]}\\000"'),
        "malformed": lambda: (malformed(), ""),
        "right": lambda: ("/status/open/" + lot["right"], ""),
    }


def run(port: int, *, make: Any, count: int, addresses: list[str], threads: int = THREADS) -> list[Seen]:
    def one(number: int) -> Seen:
        path, cookie = make()
        return try_one(port, path=path, cookie=cookie, address=addresses[number % len(addresses)])

    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(one, range(count)))


def show(kind: str, found: list[Seen]) -> None:
    took = sorted(row.took * 1000 for row in found)
    of = Counter(row.status for row in found)
    bodies = {status: len({row.body for row in found if row.status == status}) for status in of}
    half = len(found) // 2
    speed = [len(part) / (part[-1].at - part[0].at + 1e-9) for part in (found[:half], found[half:])]
    told = ", ".join(f"{status}: {count} ({bodies[status]})" for status, count in sorted(of.items()))
    p99 = took[min(len(took) - 1, len(took) * 99 // 100)]
    middle = statistics.median(took)
    print(f"| {kind} | {len(found):,} | {told} | {middle:.1f} · {p99:.1f} | {speed[0]:.0f} → {speed[1]:.0f} |")


def fresh(count: int, *, block: int) -> list[str]:
    return [f"10.{block}.{number // 250}.{number % 250 + 1}" for number in range(count)]


def next_minute(seconds: float = 61.0) -> None:
    time.sleep(seconds)


def attack(port: int, lot: dict[str, str]) -> None:
    print("| what | tries | status: count (distinct bodies) | median · p99 ms | a second, early → late |")
    print("|---|---|---|---|---|")
    wrong = [kind for kind in kinds(lot) if kind != "right"]
    first: list[Seen] = []
    for number, kind in enumerate(wrong):  # 20 tries each from 20 addresses: none is limited
        first += run(port, make=kinds(lot)[kind], count=20, addresses=fresh(20, block=10 + number))
    show("each wrong kind, unlimited", first)
    print(f"| headers of these | | {len({row.headers for row in first})} distinct sets | | |")
    for number, kind in enumerate(wrong):  # one address each hammers
        show(f"{kind}, one address", run(port, make=kinds(lot)[kind], count=600, addresses=[f"192.0.2.{number}"]))
    show("right, from the hammering address", run(port, make=kinds(lot)["right"], count=20, addresses=["192.0.2.0"]))
    show("right, from elsewhere", run(port, make=kinds(lot)["right"], count=20, addresses=["198.51.100.1"]))
    next_minute()
    show("guessed, 2,000 addresses", run(port, make=kinds(lot)["guessed"], count=5_000, addresses=fresh(2000, block=9)))
    show("right, meanwhile", run(port, make=kinds(lot)["right"], count=20, addresses=["198.51.100.2"]))
    next_minute()
    show("one address, 8 at once", run(port, make=kinds(lot)["guessed"], count=600, addresses=["203.0.113.5"]))
    next_minute()
    show("the same in its next minute", run(port, make=kinds(lot)["guessed"], count=40, addresses=["203.0.113.5"]))
    print("\nHeaders of a refusal:")
    for name, value in first[0].headers:
        print(f"  {name}: {value}")


def main() -> None:
    lot = make_lot()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable, "-m", "gunicorn", "-k", "gthread", "-w", "2", "--threads", "4", "-b", f"127.0.0.1:{port}",
        "--log-level", "error", "inventory.wsgi",
    ]  # fmt: skip
    server = subprocess.Popen(command, cwd=ROOT)
    try:
        for _ in range(100):
            if try_one(port, path="/sign-in/", address="198.51.100.9").status == 200:
                break
            time.sleep(0.3)
        run(port, make=kinds(lot)["right"], count=200, addresses=["198.51.100.8"])  # both workers are up
        attack(port, lot)
    finally:
        server.terminate()
        server.wait()
        FOLDER.cleanup()


if __name__ == "__main__":
    main()
