"""The disk is full: the lot's folder lies on a small disk that is filled, written to, and freed again."""

import os
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, connection
from django.test import Client
from django.utils import timezone

from inventory.actions import importing, tasks
from inventory.models import Job, Photo, SaleOutcome, SalesImport
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.bench.faults.cases.kill import Deed, _sale
from tests.bench.faults.cases.outage import _list
from tests.bench.faults.cases.worker import _own
from tests.bench.faults.house import House, Row, forget_tasks
from tests.bench.make_sales_file import HEADERS, sales
from tests.test_uploads import picture

LEFT_KB = 48
ROWS = 2500


def disk_full(house: House) -> Iterator[Row]:
    if "SMALL_DISK" not in os.environ:
        yield "disk full", "not run", "no small disk could be mounted: it needs root", "–", "–"
        return
    forget_tasks()
    owner, at = build.staff(Role.OWNER, at=timezone.now()), timezone.now()
    bargain = {"price": "48500.00", "buyer": "Bo Larkin"}
    deeds = [Deed(build.consignment(State.LISTED, at=at), "sale/", bargain, _sale, (1, 1, 1, 1, 1)) for _ in range(5)]
    forget_tasks()
    waiting = importing.keep_upload(ContentFile(_sheet(1)), name="before.csv", by=owner, at=at)
    house.serve()
    worker = house.manage("db_worker", "--no-startup-delay")
    client = Client(HTTP_HOST="localhost", raise_request_exception=False)
    build.sign_in(client, username="the-owner")
    ballast = _fill()
    seen = _send(client, deeds=deeds, house=house)
    job = _import(waiting)
    half, strays = _half_done(deeds), _strays()
    ballast.unlink()
    connection.close()
    yield _row(house, client, deeds=deeds, seen=seen, job=job, half=half, strays=strays, waiting=waiting)
    if worker.poll() is not None:
        print("the worker ended on the full disk", flush=True)


def _sheet(number: int) -> bytes:
    rows = [HEADERS, *(_own(row, number=number) for row in sales(rows=ROWS, bad_every=3, seed=number))]
    return "\n".join(",".join(f'"{cell}"' for cell in row) for row in rows).encode()


def _fill() -> Path:
    """All but a little of the disk is taken."""
    ballast = settings.DATA_DIR / "ballast"
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:  # else it writes into room that it has already
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    free = os.statvfs(settings.DATA_DIR).f_bavail * os.statvfs(settings.DATA_DIR).f_bsize
    with ballast.open("wb") as file:
        file.write(bytes(max(free - LEFT_KB * 1024, 0)))
    return ballast


def _send(client: Client, *, deeds: list[Deed], house: House) -> dict[str, Counter[int | None]]:
    seen: dict[str, Counter[int | None]] = {"sheet": Counter(), "photo": Counter(), "sales": Counter()}
    stock = deeds[0].stay.stock_number
    seen["sheet"][_upload(client, number=2)] += 1
    photo = SimpleUploadedFile("nose.jpg", picture(size=(3000, 2400)), content_type="image/jpeg")
    seen["photo"][client.post(f"/vehicles/{stock}/photos/", {"file": [photo], "caption": "nose"}).status_code] += 1
    for deed in deeds:
        deed.answer = deed.post(house)
        seen["sales"][deed.answer.status] += 1
    return seen


def _upload(client: Client, *, number: int) -> int:
    file = SimpleUploadedFile("after.csv", _sheet(number), content_type="text/csv")
    return client.post("/past-sales/import/", {"file": file}).status_code


def _import(record: SalesImport) -> Job | None:
    """Of a sheet that came before the disk was full: asked for and done, or refused, on the full disk."""
    try:
        job = tasks.start_import(record, by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())
    except (OSError, DatabaseError):
        return None
    until = time.monotonic() + 25
    while not job.is_over and time.monotonic() < until:
        time.sleep(0.5)
        job.refresh_from_db()
    return job


def _half_done(deeds: list[Deed]) -> int:
    """Deeds that are neither there nor absent, and rows whose file is missing or empty."""
    half = 0
    for deed in deeds:
        left = deed.left()
        half += not (left == deed.whole or not any(left))
        half += bool(deed.answer and deed.answer.is_done and left != deed.whole)
    files = [row.file for row in (*SalesImport.objects.all(), *Photo.objects.all())]
    return half + sum(not file.storage.exists(file.name) or file.size == 0 for file in files if file)


def _strays() -> int:
    """Files that no row points at."""
    named = {str(row.file) for row in SalesImport.objects.all()} | {
        str(row.rejects) for row in SalesImport.objects.all()
    }
    for photo in Photo.objects.all():
        named |= {str(photo.file), str(photo.thumbnail), str(photo.original)}
    found = [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]
    return sum(str(path.relative_to(settings.MEDIA_ROOT)) not in named for path in found)


def _row(
    house: House, client: Client, *, deeds: list[Deed], seen: dict[str, Counter[int | None]], job: Job | None,
    half: int, strays: int, waiting: SalesImport,
) -> Row:  # fmt: skip
    """Freed: everything is sent again."""
    again = sum(deed.post(house).is_done and deed.left() == deed.whole for deed in deeds)
    sheet = _upload(client, number=3)
    second = tasks.start_import(waiting, by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())
    house.wait_for(lambda: Job.objects.get(pk=second.pk).is_over, seconds=150, every=0.5)
    second.refresh_from_db()
    rows = SaleOutcome.objects.filter(imported_with=waiting).count()
    done = sum(bool(deed.answer and deed.answer.is_done) for deed in deeds)
    found = (
        f"import meanwhile: {job.status if job else 'not taken'}; files without a row: {strays}. Freed: {again} of "
        f"{len(deeds)} sales, sheet {sheet}, import {second.status} with {rows:,} rows"
    )
    told = "; ".join(f"{what} {_list(answers)}" for what, answers in seen.items())
    return f"disk full ({LEFT_KB} KB left)", f"{done} sales", found, str(half), told
