"""kill -9 of the worker in the middle of an import, of a fit, of pricing the stock; of a backup."""

import random
import signal
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

from django.core.files.base import ContentFile
from django.core.management import get_commands
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from inventory.actions import importing, tasks
from inventory.models import Job, LogEntry, ModelFit, PriceOpinion, SaleOutcome, SalesImport
from inventory.queries.history import stock_subjects
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build, records
from tests.bench.faults.house import House, Row, forget_tasks
from tests.bench.make_sales_file import sales, write_csv

ROWS = 3000
RUNS = 12
WORKER = ("db_worker", "--interval", "0.1", "--no-startup-delay")
Start = Callable[[int], tuple[Job, Callable[[], int], int]]


def worker_at_work(house: House) -> Iterator[Row]:
    at = timezone.now()
    records.sold(40, at=at)
    for _ in range(15):
        build.consignment(State.INSPECTED, at=at)
    yield _row(house, "kill -9 of the worker: a fit", start=_fit, rounds=3, longest=6.0)
    if not ModelFit.objects.exists():
        house.manage("fit", "--no-record").wait()
    yield _row(house, "kill -9 of the worker: pricing the stock", start=_pricing, rounds=3, longest=1.0)
    yield _row(house, f"kill -9 of the worker: import of {ROWS:,} rows", start=_import, rounds=4, longest=6.0)
    yield _gently(house)


def _import(number: int) -> tuple[Job, Callable[[], int], int]:
    """A file of its own each time; a fiftieth of its rows is bad."""
    owner, at = build.staff(Role.OWNER, at=timezone.now()), timezone.now()
    path = Path(tempfile.mkdtemp()) / "sales.csv"
    write_csv(path, rows=(_own(row, number=number) for row in sales(rows=ROWS, bad_every=50, seed=number)))
    record = importing.keep_upload(ContentFile(path.read_bytes()), name="sales.csv", by=owner, at=at)
    job = tasks.start_import(record, by=owner, at=at)
    return job, lambda: SaleOutcome.objects.filter(imported_with=record).count(), ROWS - ROWS // 50


def _own(row: list[str], *, number: int) -> list[str]:
    return [f"F{number}{row[0]}", "", *row[2:]]


def _fit(_: int) -> tuple[Job, Callable[[], int], int]:
    before = ModelFit.objects.count()
    job = tasks.start_fit(by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())
    return job, lambda: min(ModelFit.objects.count() - before, 1), 1  # a second one is as good


def _pricing(_: int) -> tuple[Job, Callable[[], int], int]:
    stock = len(stock_subjects(on=timezone.localdate()))  # with what other cases left on the lot
    before, logged = PriceOpinion.objects.count(), LogEntry.objects.filter(action="opinion.given").count()
    job = tasks.start_pricing(by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())

    def rows() -> int:
        given, told = PriceOpinion.objects.count(), LogEntry.objects.filter(action="opinion.given").count()
        return given - before if given - before == told - logged else -1

    return job, rows, stock


def _row(house: House, fault: str, *, start: Start, rounds: int, longest: float) -> Row:
    counted: Counter[str] = Counter()
    draw = random.Random(7)
    client = Client(HTTP_HOST="localhost")
    build.staff(Role.OWNER, at=timezone.now())
    build.sign_in(client, username="the-owner")
    for number in range(rounds):
        forget_tasks()
        job, rows, whole = start(number)
        worker = house.manage(*WORKER)
        house.wait_for(lambda job=job: Job.objects.get(pk=job.pk).status != "queued", seconds=90, every=0.02)
        time.sleep(draw.uniform(0.0, longest))
        house.kill(worker)
        counted["done before"] += Job.objects.get(pk=job.pk).status == "done"
        left = rows()
        counted["nothing yet"] += left == 0
        counted["half-done"] += left not in {0, whole}
        _look_and_start_again(house, client, job=job, counted=counted)
        left = rows()
        counted["right at the end"] += left >= whole and left % whole == 0
        counted["doubled"] += left > whole  # of opinions the newest counts: a second round of them is harmless
    found = (
        f"{counted['nothing yet']} times nothing, {rounds - counted['nothing yet']} all of it; started again: right "
        f"{counted['right at the end']} of {rounds}, {counted['doubled']} doubled; rows of the queue left running: "
        f"{DBTaskResult.objects.filter(status='RUNNING').count()}"
    )
    seen = f"“stopped without a word” and “start again” {counted['told']} of {counted['stopped']}"
    acknowledged = f"{rounds} kills, {counted['done before']} done before"
    return fault, acknowledged, found, str(counted["half-done"]), seen


def _look_and_start_again(house: House, client: Client, *, job: Job, counted: Counter[str]) -> None:
    """The two minutes of silence are not waited for: the last sign of life is set back by three."""
    job.refresh_from_db()
    if job.status == "done":
        return
    counted["stopped"] += 1
    early = client.get(f"/jobs/{job.code}/").content.decode()
    counted["told too early"] += "Start again" in early
    Job.objects.filter(pk=job.pk).update(seen_at=timezone.now() - timedelta(minutes=3))
    page = client.get(f"/jobs/{job.code}/").content.decode()
    counted["told"] += "It stopped without a word" in page and "Start again" in page
    for _ in range(2):  # a button is easily pressed twice
        client.post(f"/jobs/{job.code}/again/")
    if house.manage("db_worker", "--batch", "--no-startup-delay").wait(timeout=240) != 0:
        print("the fresh worker failed", flush=True)


def _gently(house: House) -> Row:
    """SIGTERM: the worker ends the work it is at, then leaves."""
    forget_tasks()
    job, rows, whole = _import(99)
    worker = house.manage(*WORKER)
    house.wait_for(lambda: Job.objects.get(pk=job.pk).status != "queued", seconds=90, every=0.02)
    worker.send_signal(signal.SIGTERM)
    code = worker.wait(timeout=240)
    job.refresh_from_db()
    left = SalesImport.objects.get(job=job).report.get("imported")
    found = f"exit {code}, the job is {job.status}, {rows():,} of {whole:,} rows, report says {left:,}"
    return f"SIGTERM to the worker: import of {ROWS:,} rows", "1 stop", found, "0", "done"


def _is_torn(house: House, file: Path) -> bool:
    return house.manage("restore", "--check", str(file)).wait(timeout=240) != 0


def backup(house: House) -> Iterator[Row]:
    fault = "kill -9 of `manage.py backup`"
    if "backup" not in get_commands():
        yield fault, "not run", "there is no command `backup` here", "–", "–"
        return
    draw, whole, named, torn = random.Random(3), 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(RUNS):
            target = Path(folder) / f"lot-{number}"
            process = house.manage("backup", str(target))
            try:
                process.wait(timeout=draw.uniform(0.5, 6.0))
            except subprocess.TimeoutExpired:
                house.kill(process)
                named += target.exists()
                torn += target.exists() and _is_torn(house, target)
            else:
                whole += target.exists()
        last = Path(folder) / "last"
        code = house.manage("backup", str(last)).wait(timeout=240)
        found = f"{whole} done before the kill, {named} had their name and were whole; afterwards exit {code}"
        yield fault, f"{RUNS} runs", f"{found}, file there: {last.exists()}", str(torn), "–"
