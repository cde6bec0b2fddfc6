"""Backups of a lot at work, told as a table. By hand:

python -m tests.bench.backup_bench [WRITERS SECONDS [PHOTOS ENTRIES]]

Several processes log, inspect, list, sell and settle vehicles through the house's own actions, on SQLite and on
PostgreSQL. Meanwhile backups are made; each is restored into the other kind of database and looked at there: no payment
without its deal, every settlement with its lines, its payees and its entry in the log, every sale with its outcome, and
sums of money added up anew from that database. Then a lot with many photos and log entries: time, size, memory.
"""

import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import uuid
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
FOLDER = Path(os.environ.get("BENCH_FOLDER") or tempfile.mkdtemp(prefix="backups-"))
os.environ.setdefault("DATA_DIR", str(FOLDER / "none"))
os.environ |= {"BENCH_FOLDER": str(FOLDER), "TASKS": "immediate", "DJANGO_SETTINGS_MODULE": "inventory.settings"}

import django
import psycopg

django.setup()

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.utils import timezone

from inventory.actions import offering, recording
from inventory.backup import check_archive
from inventory.errors import Refused
from inventory.models import (
    BuyerPayment,
    Consignment,
    LogEntry,
    Photo,
    SaleOutcome,
    Settlement,
    SettlementLine,
    SettlementPayee,
)  # fmt: skip
from inventory.rules.states import State
from inventory.uploads import clean_picture
from tests import build
from tests.servers import postgres
from tests.test_uploads import picture

ROADS = (State.ON_LOT, State.LISTED, State.DEPOSIT, State.SOLD, State.SETTLED, State.SETTLED, State.RELEASED)
PHOTO_BYTES, THUMBNAIL_BYTES = 100_000, 8_000


def manage(*words: str, lot: dict[str, str], must: int | None = 0) -> str:
    done = subprocess.run(
        [sys.executable, "manage.py", *words], cwd=ROOT, env={**os.environ, **lot}, capture_output=True, text=True
    )
    assert must is None or done.returncode == must, done.stderr[-2000:]
    return done.stdout


def make() -> None:
    """Tables as the models say, said to be migrated: walking all migrations takes ten times as long."""
    settings.MIGRATION_MODULES = {config.label: None for config in apps.get_app_configs()}
    call_command("migrate", run_syncdb=True, verbosity=0)
    settings.MIGRATION_MODULES = {}
    call_command("migrate", fake=True, verbosity=0)


def write(name: str, *, seconds: float) -> None:
    """One process of the lot at work; prints how many vehicles it took how far, and its longest wait."""
    number, until, longest, done = 0, time.monotonic() + seconds, 0.0, Counter[str]()
    while time.monotonic() < until:
        began, number = time.monotonic(), number + 1
        try:
            one_vehicle(f"8A17J{int(name):02}{number:04}", name=name, number=number)
            done["vehicles"] += 1
        except Refused as problem:
            done[problem.code] += 1
        longest = max(longest, time.monotonic() - began)
    print(json.dumps({"longest": longest, **done}))


def one_vehicle(vin: str, *, name: str, number: int) -> None:
    at, price = timezone.now(), f"{random.randint(40_000, 90_000)}.{random.randint(0, 99):02}"
    stay = build.consignment(
        random.choice(ROADS), at=at, price=price, vin=vin, consignor_name=f"Owner {name}-{number}", consignor_email="",
    )  # fmt: skip
    shot = clean_picture(picture(size=(60 + number % 50, 40)), name="a.jpg")
    recording.add_photo(stay.pk, picture=shot, caption="", by=build.BUILDER, at=at)
    if stay.state == State.LISTED:
        offering.log_offer(stay.pk, amount=Decimal(price) - 1000, bidder="Bo Larkin", by=build.BUILDER, at=at)


def look() -> None:
    """What must hold in a lot of one moment, and sums of money added up by hand."""
    lines: dict[int, Decimal] = {}
    for settlement, amount in SettlementLine.objects.values_list("settlement_id", "amount"):
        lines[settlement] = lines.get(settlement, Decimal(0)) + amount
    settled = dict(Settlement.objects.values_list("pk", "due"))
    paid = set(SettlementPayee.objects.values_list("settlement_id", flat=True))
    told = set(LogEntry.objects.filter(action="settlement.approved").values_list("subject_id", flat=True))
    sold = set(Consignment.objects.filter(state__in=["sold", "settled"]).values_list("pk", flat=True))
    outcomes = set(SaleOutcome.objects.filter(result="sold").values_list("consignment_id", flat=True))
    payments = list(BuyerPayment.objects.select_related("deal").values_list("deal__consignment_id", "amount"))
    files = [str(name) for row in Photo.objects.values_list("file", "thumbnail", "original") for name in row if name]
    media = Path(os.environ["DATA_DIR"]) / "media"
    odd = {
        "settlements whose lines do not add up": sum(lines.get(pk) != due for pk, due in settled.items()),
        "settlements without payees": len(set(settled) - paid),
        "settlements without their entry": len(set(settled) ^ told),
        "states without their settlement": abs(len(settled) - Consignment.objects.filter(state="settled").count()),
        "sales without outcome": len(sold - outcomes),
        "payments without deal": sum(stay is None for stay, _ in payments),
        "files missing": sum(not (media / name).is_file() for name in files),
    }
    sums = {
        "inventory.buyerpayment.amount": str(sum((amount for _, amount in payments), Decimal("0.00"))),
        "inventory.settlement.due": str(sum(settled.values(), Decimal("0.00"))),
    }
    print(json.dumps({"odd": odd, "sums": sums, "stays": Consignment.objects.count(), "settled": len(settled)}))


def at_work(lot: dict[str, str], *, other: Any, writers: int, seconds: float) -> None:
    """Writers and backups beside each other; each backup is restored into a database of the other kind."""
    ask = [sys.executable, "-m", "tests.bench.backup_bench", "write"]
    quiet = work(ask, lot=lot, names=range(10, 10 + writers), seconds=seconds / 2)
    busy = start(ask, lot=lot, names=range(20, 20 + writers), seconds=seconds)
    files: list[tuple[Path, float]] = []
    while any(process.poll() is None for process in busy) and len(files) < 4:
        path, began = FOLDER / f"{uuid.uuid4()}.zip", time.monotonic()
        manage("backup", str(path), lot=lot)
        files.append((path, time.monotonic() - began))
    told = answers(busy)
    print(f"  longest wait of a writer: {quiet['longest']:.1f} s without a backup, {told['longest']:.1f} s beside it; "
          f"vehicles {quiet['vehicles']:.0f} and {told['vehicles']:.0f}")  # fmt: skip
    for path, took in files:
        manifest, began = check_archive(path), time.monotonic()
        target = other()
        manage("restore", str(path), lot=target)
        restored = time.monotonic() - began
        seen = subprocess.run(
            [*ask[:3], "look"], cwd=ROOT, env={**os.environ, **target}, capture_output=True, text=True
        )
        found = json.loads(seen.stdout)
        wrong = [what for what, count in found["odd"].items() if count]
        wrong += [name for name, total in found["sums"].items() if manifest.money[name] != total]
        print(f"  {manifest.database:<11}{manifest.rows:>8,}{len(manifest.media):>7,}"
              f"{found['stays']:>7}{found['settled']:>8}"
              f"{took:>9.1f}{restored:>9.1f}   {manifest.money['inventory.buyerpayment.amount']:>14}   "
              f"{'; '.join(wrong) or 'all holds'}")  # fmt: skip


def start(ask: list[str], *, lot: dict[str, str], names: Any, seconds: float) -> list[subprocess.Popen[str]]:
    environment = {**os.environ, **lot}
    return [
        subprocess.Popen([*ask, str(name), str(seconds)], cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
        for name in names
    ]


def answers(processes: list[subprocess.Popen[str]]) -> dict[str, float]:
    told = [json.loads(process.communicate()[0]) for process in processes]
    odd = {name for answer in told for name in answer} - {"longest", "vehicles"}
    assert not odd, odd
    return {"longest": max(one["longest"] for one in told), "vehicles": sum(one.get("vehicles", 0) for one in told)}


def work(ask: list[str], *, lot: dict[str, str], names: Any, seconds: float) -> dict[str, float]:
    return answers(start(ask, lot=lot, names=names, seconds=seconds))


def large(lot: dict[str, str], *, photos: int, entries: int) -> None:
    """A lot with many photos and log entries: written straight into the tables, since only their number counts."""
    subprocess.run(
        [sys.executable, "-m", "tests.bench.backup_bench", "fill", str(photos), str(entries)], cwd=ROOT,
        env={**os.environ, **lot}, check=True,
    )  # fmt: skip
    path = FOLDER / "large.zip"
    for what, words in {
        "backup": ("backup", str(path)), "check": ("restore", str(path), "--check"),
        "restore": ("restore", str(path), "--replace", "--yes"),
    }.items():  # fmt: skip
        tail, seconds, used = measured(*words, lot=lot)
        print(f"  {what:<8}{seconds:>7.1f} s, {used.ru_utime + used.ru_stime:.1f} s of processor, at most "
              f"{used.ru_maxrss / 1024:.0f} MB, file {path.stat().st_size / 2**20:,.0f} MB", flush=True)  # fmt: skip
    assert "Every row" in tail


def measured(*words: str, lot: dict[str, str]) -> tuple[str, float, resource.struct_rusage]:
    """What it said, how long it took, and what that one process used."""
    began, out = time.monotonic(), FOLDER / "out"
    with out.open("w") as file:
        command = [sys.executable, "manage.py", *words]
        process = subprocess.Popen(command, cwd=ROOT, env={**os.environ, **lot}, stdout=file)
        _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    return out.read_text(), time.monotonic() - began, used


def fill(photos: int, *, entries: int) -> None:
    at, stay = timezone.now(), build.consignment(at=timezone.now())
    media = Path(os.environ["DATA_DIR"]) / "media" / "photos"
    media.mkdir(parents=True, exist_ok=True)
    rows = []
    for number in range(photos):
        name = f"{number:06}"
        (media / f"{name}.jpg").write_bytes(os.urandom(PHOTO_BYTES))
        (media / f"{name}-small.jpg").write_bytes(os.urandom(THUMBNAIL_BYTES))
        rows.append(
            Photo(consignment=stay, file=f"photos/{name}.jpg", thumbnail=f"photos/{name}-small.jpg", digest=name, at=at)
        )
    Photo.objects.bulk_create(rows, batch_size=500)
    for first in range(0, entries, 10_000):
        LogEntry.objects.bulk_create(
            LogEntry(at=at, action="ask.set", consignment=stay, subject_kind="consignment", subject_id=stay.pk,
                     actor_kind="command", actor_name="bench", data={"amount": f"{number}.00", "because": "; x"})
            for number in range(first, min(first + 10_000, entries))
        )  # fmt: skip


class Databases:
    """Empty databases of both kinds, each a copy of one that was made once."""

    def __init__(self, url: str) -> None:
        self._url, self._count = url, 0
        self._sqlite = {"DATA_DIR": str(FOLDER / "migrated"), "DATABASE_URL": ""}
        self._postgres = {"DATA_DIR": str(FOLDER / "migrated-too"), "DATABASE_URL": url}
        for lot in (self._sqlite, self._postgres):
            command = [sys.executable, "-m", "tests.bench.backup_bench", "make"]
            subprocess.run(command, cwd=ROOT, env={**os.environ, **lot}, check=True)

    def sqlite(self) -> dict[str, str]:
        self._count += 1
        folder = FOLDER / f"lot-{self._count}"
        shutil.copytree(self._sqlite["DATA_DIR"], folder)
        return {"DATA_DIR": str(folder), "DATABASE_URL": ""}

    def postgres(self) -> dict[str, str]:
        self._count += 1
        name = f"lot_{self._count}"
        server_at = self._url.rsplit("/", 1)[0]
        with psycopg.connect(f"{server_at}/template1", autocommit=True) as server:
            server.execute(f"CREATE DATABASE {name} TEMPLATE postgres")
        return {"DATA_DIR": str(FOLDER / name), "DATABASE_URL": f"{server_at}/{name}"}


def main(*, writers: int = 3, seconds: float = 30, photos: int = 5000, entries: int = 500_000) -> None:
    with postgres() as url:
        databases = Databases(url)
        print(f"  {'made of':<11}{'rows':>8}{'files':>7}{'stays':>7}{'settled':>8}{'backup s':>9}{'back s':>9}"
              f"   {'buyers paid':>14}   in the other kind of database", flush=True)  # fmt: skip
        if writers:  # none: only the large lot
            at_work(databases.sqlite(), other=databases.postgres, writers=writers, seconds=seconds)
            at_work(databases.postgres(), other=databases.sqlite, writers=writers, seconds=seconds)
        for name, lot in {"SQLite": databases.sqlite(), "PostgreSQL": databases.postgres()}.items():
            print(f"{name}, {photos:,} photos of {PHOTO_BYTES:,} bytes, {entries:,} log entries", flush=True)
            large(lot, photos=photos, entries=entries)
    shutil.rmtree(FOLDER)


if __name__ == "__main__":
    ways = {"write": lambda: write(sys.argv[2], seconds=float(sys.argv[3])), "look": look, "make": make,
            "fill": lambda: fill(int(sys.argv[2]), entries=int(sys.argv[3]))}  # fmt: skip
    if len(sys.argv) > 1 and sys.argv[1] in ways:
        ways[sys.argv[1]]()
    else:
        numbers = [int(word) for word in sys.argv[1:]]
        main(**dict(zip(("writers", "seconds", "photos", "entries"), numbers, strict=False)))
