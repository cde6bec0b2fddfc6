"""The people of `load`: each a thread with a connection of its own, who reads and saves without a pause.

Nothing is mended by trying again: an answer that is not as expected is an error. One save in ten is sent twice with the
same key, as a device does that heard no answer. At the end each acknowledged save is looked for in the database.
"""

import argparse
import hashlib
import http.client
import json
import os
import random
import secrets
import sys
import threading
import time
import uuid
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib import import_module
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")

import django

django.setup()

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.db.models import Count
from django.utils import timezone

from inventory.actions import inspecting
from inventory.models import ApiToken, CheckResult, Consignment, IntakeInspection, Offer, User
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import command
from inventory.rules.states import State

SENT_TWICE = 0.1
WARM_UP = 2
LISTS = ("consignments/", "vehicles/", "consignors/", "outcomes/", "outcomes/?make=merrow&ordering=-price")


@dataclass(frozen=True)
class Lot:
    """What the people of the run know: vehicles, open walks, a session cookie and a token."""

    listed: list[str]
    walks: list[tuple[str, int]]  # stock number, number of the inspection
    session: str
    token: str
    user: int


@dataclass
class Told:
    """What came of it, by kind; only one lock, held for an append."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    took: defaultdict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    checks: set[str] = field(default_factory=set)
    offers: set[str] = field(default_factory=set)

    def note(self, kind: str, *, ms: float, error: str = "") -> None:
        with self.lock:
            self.took[kind].append(ms)
            if error:
                self.errors.append(f"{kind}: {error}")


class Person(threading.Thread):
    """One user of the run."""

    def __init__(self, *, port: int, lot: Lot, told: Told, seconds: float, seed: int) -> None:
        super().__init__(daemon=True)
        self.port, self.lot, self.told, self.seconds = port, lot, told, seconds
        self.draw = random.Random(seed)
        self.line: http.client.HTTPConnection | None = None
        self.csrf = secrets.token_hex(16)

    def run(self) -> None:
        kinds = [(weight, getattr(self, name)) for name, weight in MIX.items()]
        until = time.perf_counter() + self.seconds
        while time.perf_counter() < until:
            deed: Callable[[], None] = self.draw.choices([one for _, one in kinds], [weight for weight, _ in kinds])[0]
            deed()

    def ask(
        self, kind: str, path: str, *, body: Any = None, headers: dict[str, str] | None = None, ok: int = 200
    ) -> Any:
        """One request; the body of the answer where it was as expected, else None and an error."""
        sent = {
            "Host": "localhost",
            "Cookie": f"sessionid={self.lot.session}; csrftoken={self.csrf}",
            **(headers or {}),
        }
        method, content = ("GET", None) if body is None else ("POST", json.dumps(body).encode())
        if content is not None:
            sent |= {"Content-Type": "application/json", "X-CSRFToken": self.csrf}
        began = time.perf_counter()
        try:
            self.line = self.line or http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
            self.line.request(method, path, body=content, headers=sent)
            answer = self.line.getresponse()
            read, status = answer.read(), answer.status
            if answer.getheader("Connection") == "close":
                self.line.close()
        except (http.client.HTTPException, OSError) as problem:
            self.line, read, status = None, repr(problem).encode(), 0
        error = "" if status == ok else f"{path} answered {status}: {read[:200]!r}"
        self.told.note(kind, ms=1000 * (time.perf_counter() - began), error=error)
        return None if error else read

    def lot_list(self) -> None:
        self.ask("lot list", self.draw.choice(("/", "/?state=listed", "/?q=Merrow")))

    def for_sale(self) -> None:
        self.ask("for sale", "/for-sale/")

    def vehicle_file(self) -> None:
        self.ask("vehicle file", f"/vehicles/{self.draw.choice(self.lot.listed)}/")

    def pricing_desk(self) -> None:
        self.ask("pricing desk", f"/vehicles/{self.draw.choice(self.lot.listed)}/price/")

    def past_sales(self) -> None:
        self.ask("past sales", self.draw.choice(("/past-sales/", "/past-sales/?q=Merrow+1968")))

    def api_list(self) -> None:
        """By session; now and then on to the next piece."""
        read = self.ask("API list", f"/api/v1/{self.draw.choice(LISTS)}")
        following = json.loads(read)["next"] if read and self.draw.random() < 0.3 else None
        if following:
            self.ask("API list", "/" + following.split("/", 3)[3])

    def check(self) -> None:
        """A tap of the walk, as the tablet sends it."""
        stock_number, number = self.draw.choice(self.lot.walks)
        now, key = timezone.now().isoformat(), str(uuid.UUID(int=self.draw.getrandbits(128), version=4))
        tap = {
            "key": key, "inspection": number, "made_at": now, "check_code": self.draw.choice(CODES),
            "answer": str(self.draw.randint(2, 4)),
        }  # fmt: skip
        body = {"device": f"tablet {self.name}"[:36], "user": self.lot.user, "sent_at": now, "taps": [tap]}
        for _ in range(self.times()):
            read = self.ask("save a check", f"/vehicles/{stock_number}/inspection/taps/", body=body)
            fates = [one["fate"] for one in json.loads(read)["answers"]] if read else []
            if read and fates != ["counts"] and fates != ["outdone"]:
                self.told.note("save a check", ms=0.0, error=f"not taken: {read[:200]!r}")
            elif read:
                self.told.checks.add(key)

    def offer(self) -> None:
        """By an office program, with a key of its own."""
        key = f"load {uuid.UUID(int=self.draw.getrandbits(128), version=4)}"
        headers = {"Authorization": f"Bearer {self.lot.token}", "Idempotency-Key": key, "Cookie": ""}
        path = f"/api/v1/consignments/{self.draw.choice(self.lot.listed)}/offers/"
        for _ in range(self.times()):
            if self.ask("log an offer", path, body={"amount": "9000.00", "bidder": key}, headers=headers, ok=201):
                self.told.offers.add(key)

    def bare(self) -> None:
        self.ask("bare view", "/bare.json")

    def times(self) -> int:
        return 2 if self.draw.random() < SENT_TWICE else 1


MIX = {
    "lot_list": 4, "for_sale": 3, "vehicle_file": 5, "pricing_desk": 1, "past_sales": 2, "api_list": 5, "check": 7,
    "offer": 3,
}  # fmt: skip
CODES = [code for code in CHECKS if not code.startswith("road_test")]


def prepared() -> Lot:
    """A session, a token and open walks, written straight into the database."""
    owner = User.objects.get(username="owner")
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY], session[HASH_SESSION_KEY] = str(owner.pk), owner.get_session_auth_hash()
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[-1]
    session.save()
    token, now = secrets.token_urlsafe(32), timezone.now()
    digest = hashlib.sha256(token.encode()).hexdigest()
    ApiToken.objects.create(name="load", role="owner", prefix=token[:8], digest=digest, made_by=owner, made_at=now)
    for stay in Consignment.objects.filter(state=State.ON_LOT):
        if not stay.inspections.filter(finished_at__isnull=True).exists():
            inspecting.begin_inspection(stay.pk, by=command("bench"), at=now)
    walks = IntakeInspection.objects.filter(finished_at__isnull=True).values_list("consignment__stock_number", "number")
    listed = Consignment.objects.filter(state=State.LISTED).order_by("pk").values_list("stock_number", flat=True)
    return Lot(list(listed), list(walks), session.session_key, token, owner.pk)


def missing(told: Told) -> list[str]:
    """What was acknowledged and is not there exactly once."""
    keys = set(CheckResult.objects.filter(client_key__in=told.checks).values_list("client_key", flat=True))
    bids = dict(
        Offer.objects.filter(bidder__in=told.offers).order_by().values_list("bidder").annotate(count=Count("pk"))
    )
    lost = [f"check {key}" for key in told.checks if uuid.UUID(key) not in keys]
    return [*lost, *(f"offer {key}: {bids.get(key, 0)}" for key in told.offers if bids.get(key) != 1)]


def show(told: Told, *, seconds: float) -> None:
    print(f"{'what':<16}{'answers':>9}{'a second':>10}{'p50 ms':>9}{'p95 ms':>9}{'p99 ms':>9}")
    everything = [ms for rows in told.took.values() for ms in rows]
    for kind, rows in [*sorted(told.took.items()), ("all", everything)]:
        took = sorted(rows)
        parts = [took[min(len(took) - 1, int(len(took) * share))] for share in (0.5, 0.95, 0.99)] if took else [0.0] * 3
        print(f"{kind:<16}{len(took):>9,}{len(took) / seconds:>10.1f}" + "".join(f"{ms:>9.0f}" for ms in parts))


def crowd(users: int, *, port: int, lot: Lot, told: Told, seconds: float, seed: int) -> None:
    people = [Person(port=port, lot=lot, told=told, seconds=seconds, seed=seed + number) for number in range(users)]
    for person in people:
        person.start()
    for person in people:
        person.join()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--users", type=int, default=50)
    parser.add_argument("--bare", action="store_true")
    asked = parser.parse_args()
    if asked.bare:
        MIX.clear()
        MIX["bare"] = 1
    lot = Lot([], [], "", "", 0) if asked.bare else prepared()
    warm_up, told = Told(), Told()
    for number in range(WARM_UP):  # each worker loads the whole of it at its first request
        crowd(asked.users, port=asked.port, lot=lot, told=warm_up, seconds=0.5, seed=1_000 * (number + 1))
    began = time.perf_counter()
    crowd(asked.users, port=asked.port, lot=lot, told=told, seconds=asked.seconds, seed=0)
    show(told, seconds=time.perf_counter() - began)
    for kept, early in ((told.checks, warm_up.checks), (told.offers, warm_up.offers)):
        kept |= early
    told.errors += warm_up.errors
    lost = [] if asked.bare else missing(told)
    if not asked.bare:
        saved = f"{len(told.checks):,} checks and {len(told.offers):,} offers acknowledged"
        print(f"{saved}, {len(lost)} not there exactly once; errors: {len(told.errors)}")
    for problem in [*told.errors[:10], *lost[:10]]:
        print(f"  {problem}")
    return 1 if told.errors or lost else 0


if __name__ == "__main__":
    sys.exit(main())
