"""Two workers at one job, one import asked for twice, one file sent twice, two fits at once."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

from django.core.files.base import ContentFile
from django.db import connection
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from inventory.actions import importing, tasks
from inventory.models import Job, LogEntry, ModelFit, SaleOutcome, SalesImport
from inventory.rules.roles import Role
from tests import build, records
from tests.bench.faults.cases.worker import _own
from tests.bench.faults.house import House, Row, forget_tasks
from tests.bench.make_sales_file import HEADERS, sales

ROWS = 1500
WORKERS = 3


def two_at_once(house: House) -> Iterator[Row]:
    if not SaleOutcome.objects.exists():
        records.sold(30, at=timezone.now())
    yield _one_record_twice(house)
    yield _one_file_twice(house)
    yield _fits(house)


def _one_record_twice(house: House) -> Row:
    """The button pressed by four at once; three workers wait for the job."""
    forget_tasks()
    record, before = _kept(1), LogEntry.objects.filter(action="job.started").count()
    with ThreadPoolExecutor(4) as people:
        codes = {job.code for job in people.map(lambda _: _start(record), range(4))}
    runs = _workers(house)
    rows, done = SaleOutcome.objects.filter(imported_with=record).count(), _ends()
    begun = LogEntry.objects.filter(action="job.started").count() - before
    found = f"{len(codes)} job, begun {begun} time(s), taken by {runs} worker(s); {rows:,} of {ROWS:,} rows; {done}"
    return "one import asked for 4 times, 3 workers", "4 posts", found, _half(record), "all see the same job"


def _one_file_twice(house: House) -> Row:
    """Sent by two people, as two imports with two jobs, read in by three workers at the same time."""
    forget_tasks()
    records_of = [_kept(2), _kept(2)]
    for record in records_of:
        _start(record)
    _workers(house)
    rows = [SaleOutcome.objects.filter(imported_with=record).count() for record in records_of]
    told = [SalesImport.objects.get(pk=record.pk).report for record in records_of]
    said = " and ".join(f"{one.get('imported')} imported, {one.get('already')} there already" for one in told)
    found = f"{sum(rows):,} of {ROWS:,} rows; the reports say {said}; {_ends()}"
    return "one file as two imports at once, 3 workers", "2 jobs", found, str(int(sum(rows) != ROWS)), "both told"


def _fits(house: House) -> Row:
    forget_tasks()
    before, by = ModelFit.objects.count(), build.staff(Role.OWNER, at=timezone.now())
    jobs = {tasks.start_fit(by=by, at=timezone.now()).pk for _ in range(2)}
    asked = house.manage("fit", "--no-record")
    _workers(house)
    asked.wait(timeout=400)
    found = f"{len(jobs)} job for 2 clicks beside 1 command: {ModelFit.objects.count() - before} fits, {_ends()}"
    return "two clicks on “fit”, and the command at once", "3 asked", found, "0", "the newest counts"


def _kept(number: int) -> SalesImport:
    rows = [HEADERS, *(_own(row, number=number) for row in sales(rows=ROWS, bad_every=0, seed=number))]
    sheet = "\n".join(",".join(f'"{cell}"' for cell in row) for row in rows).encode()
    owner = build.staff(Role.OWNER, at=timezone.now())
    return importing.keep_upload(ContentFile(sheet), name=f"r{number}.csv", by=owner, at=timezone.now())


def _start(record: SalesImport) -> Job:
    try:
        return tasks.start_import(record, by=build.staff(Role.OWNER, at=timezone.now()), at=timezone.now())
    finally:
        connection.close()


def _workers(house: House) -> int:
    """All at once, until there is no more to do. How many workers took something."""
    running = [house.manage("db_worker", "--batch", "--no-startup-delay") for _ in range(WORKERS)]
    for one in running:
        one.wait(timeout=400)
    return len({tuple(task.worker_ids) for task in DBTaskResult.objects.filter(status="SUCCESSFUL")})


def _ends() -> str:
    jobs = Job.objects.order_by("-pk")[:2].values_list("status", flat=True)
    tasks_left = DBTaskResult.objects.exclude(status="SUCCESSFUL").count()
    return f"jobs {', '.join(jobs)}; rows of the queue not successful: {tasks_left}"


def _half(record: SalesImport) -> str:
    return str(int(SaleOutcome.objects.filter(imported_with=record).count() not in {0, ROWS}))
