"""The database is gone for a minute: PostgreSQL is stopped as by a power cut, SQLite is held by somebody else."""

import os
import sqlite3
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

from django.db import connection
from django.utils import timezone

from inventory.actions import tasks
from inventory.models import BuyerPayment, Consignment, Job, LogEntry, OutMessage, RepeatKey
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.bench.faults.house import Answer, House, Row, forget_tasks, key

GONE_SECONDS = 60
PAYERS = 3


class Payer(Thread):
    """Pays one dollar again and again; what got no good answer is sent again under its key until it does."""

    def __init__(self, house: House, stay: Consignment) -> None:
        super().__init__(daemon=True)
        self.house, self.stay, self.over, self.is_gone = house, stay, Event(), Event()
        self.acknowledged: list[str] = []
        self.answers: Counter[int | None] = Counter()
        self.texts: set[str] = set()

    def run(self) -> None:
        while not self.over.is_set():
            mine = key()
            while not self._pay(mine).is_done and not self.over.is_set():
                time.sleep(0.5)

    def _pay(self, mine: str) -> Answer:
        is_gone = self.is_gone.is_set()
        answer = self.house.api(
            f"consignments/{self.stay.stock_number}/payments/", key=mine, amount="1.00", method="wire"
        )
        if answer.is_done:
            self.acknowledged.append(mine)
        elif is_gone and self.is_gone.is_set():
            self.answers[answer.status] += 1
        return answer


def database_gone(house: House) -> Iterator[Row]:
    stays = [build.consignment(State.SOLD, at=timezone.now()) for _ in range(PAYERS)]
    forget_tasks()
    house.serve()
    worker, mailer = house.manage("db_worker", "--interval", "0.2"), house.manage("mail", "--loop")
    payers = [Payer(house, stay) for stay in stays]
    for payer in payers:
        payer.start()
    time.sleep(8)
    page: Counter[int | None] = Counter()
    with _gone(house):
        for payer in payers:
            payer.is_gone.set()
        until = time.monotonic() + GONE_SECONDS
        while time.monotonic() < until:
            page[house.get("/sign-in/").status] += 1
            time.sleep(2)
        for payer in payers:
            payer.is_gone.clear()
    back = house.wait_for(lambda: house.get("/for-sale/").status == 200, seconds=60)
    took = _worker_takes(house)
    sent = house.wait_for(lambda: not OutMessage.objects.filter(status="queued").exists(), seconds=90, every=1)
    time.sleep(3)
    for payer in payers:
        payer.over.set()
    for payer in payers:
        payer.join(timeout=60)
    alive = worker.poll() is None and mailer.poll() is None
    house.stop_all()
    yield _told(payers, page=page, words=f"page after {back:.0f} s, worker after {took:.0f} s, mail after {sent:.0f} s"
                f"{'' if alive else ', BUT a process ended'}", vendor=house.vendor)  # fmt: skip


def _told(payers: list[Payer], *, page: Counter[int | None], words: str, vendor: str) -> Row:
    connection.close()
    lost = half = 0
    for payer in payers:
        keys = set(RepeatKey.objects.filter(key__in=payer.acknowledged, status=201).values_list("key", flat=True))
        lost += len(set(payer.acknowledged) - keys)
        rows = BuyerPayment.objects.filter(deal__consignment=payer.stay).count()
        told = LogEntry.objects.filter(consignment=payer.stay, action="payment.received").count()
        half += rows != told or rows - len(payer.acknowledged) not in {0, 1}
    posts = sum((payer.answers for payer in payers), Counter())
    fault = f"PostgreSQL stopped for {GONE_SECONDS} s" if vendor == "postgres" else f"SQLite held for {GONE_SECONDS} s"
    acknowledged = f"{sum(len(payer.acknowledged) for payer in payers)} payments acknowledged"
    return (
        fault,
        acknowledged,
        f"{lost} lost; {words}",
        str(half),
        f"pages {_list(page)}, posts {_list(posts)} meanwhile",
    )


def _list(counted: Counter[int | None]) -> str:
    return ", ".join(f"{count} × {status or 'no answer'}" for status, count in sorted(counted.items(), key=str)) or "–"


def _worker_takes(house: House) -> float:
    connection.close()
    job = tasks.start_pricing(by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())
    ended: Callable[[], bool] = lambda: Job.objects.get(pk=job.pk).status in {"done", "failed"}  # noqa: E731
    return house.wait_for(ended, seconds=90)


@contextmanager
def _gone(house: House) -> Iterator[None]:
    connection.close()
    if house.postgres is not None:
        house.postgres.stop()
        yield
        house.postgres.start()
        return
    held = sqlite3.connect(Path(os.environ["DATA_DIR"]) / "lot.sqlite3", timeout=30, isolation_level=None)
    held.execute("BEGIN IMMEDIATE")
    yield
    held.execute("ROLLBACK")
    held.close()
