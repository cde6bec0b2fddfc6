"""What runs in the background: `manage.py db_worker` does it, or the caller at once where TASKS=immediate."""

import uuid
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.files import File
from django.db import transaction
from django.utils import timezone
from django_tasks import task

from inventory.actions import importing, importing_elsewhere, importing_stock, jobs, pricing, tending, workers
from inventory.actions.import_reports import ACTS, Report
from inventory.actions.writing import write_file
from inventory.bridge import LEAST_SALES
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Job, SalesImport
from inventory.queries.history import count_for_fit
from inventory.queries.pricing_desk import is_stale, latest_fit
from inventory.rules.floor_words import ImportKind
from inventory.rules.jobs import STARTABLE
from inventory.rules.roles import Act, Actor, command, require
from inventory.rules.words import JobStatus
from inventory.sheets import Options
from inventory.uploads import on_disk

IMPORTS: dict[str, Callable[..., Report]] = {
    ImportKind.PAST_SALES: importing.import_sales,
    ImportKind.ELSEWHERE: importing_elsewhere.import_elsewhere,
    ImportKind.STOCK: importing_stock.import_stock,
}
AFTER_A_SALE = command("the worker, after a sale")


@task()
def run_fit(*, job_id: int, actor: dict[str, Any], unless_fresh: bool = False, asked_in: str = "") -> None:
    """Fit, hold the fit against the last sales, and price all stock with it."""
    with jobs.running(job_id, asked_in=asked_in) as job:
        last = latest_fit()
        if unless_fresh and last is not None and not is_stale(last):
            job.message = "The last fit knows all sales already."
            return
        by = jobs.actor_from_json(actor)
        fit = pricing.fit_prices(by=by, at=timezone.now(), progress=jobs.show_progress(job, every=1))
        job.message = f"Fitted to {fit.sales_used:,} sales. {' '.join(fit.flags)}".strip()
        job.message += f" {pricing.price_stock(by=by, at=timezone.now())}"


@task()
def run_pricing(*, job_id: int, actor: dict[str, Any], asked_in: str = "") -> None:
    with jobs.running(job_id, asked_in=asked_in) as job:
        job.message = str(pricing.price_stock(by=jobs.actor_from_json(actor), at=timezone.now()))


@task()
def run_import(*, job_id: int, actor: dict[str, Any], import_id: int, asked_in: str = "") -> None:
    """Read a file in. Where a worker was cut off after the rows were in, only the file of rejects is made again."""
    with jobs.running(job_id, asked_in=asked_in) as job:
        record = SalesImport.objects.get(pk=import_id)
        was = record.report
        with TemporaryDirectory() as folder, on_disk(record.file) as sheet:
            rejects = Path(folder) / "rejects.csv"
            report = IMPORTS[record.kind](
                sheet,
                name=record.name,
                options=options_of(record),
                by=jobs.actor_from_json(actor),
                at=timezone.now(),
                dry_run=bool(was),
                rejects_to=rejects,
                progress=jobs.show_progress(job),
                record=record,
            )
            if report.rejected:
                with rejects.open("rb") as file:
                    write_file(record.rejects, name=f"{record.code}-rejects.csv", content=File(file))
        SalesImport.objects.filter(pk=record.pk).update(rejects=record.rejects.name)
        told = was or report.as_json()
        job.message = f"{told['imported']:,} of {told['read']:,} rows imported."


def options_of(record: SalesImport) -> Options:
    """How the columns of an upload are read, from the answers kept with it."""
    said = record.choices
    return Options(
        columns=dict(said.get("columns", {})),
        ignore=tuple(said.get("ignore", ())),
        date_order=said.get("date_order") or None,
        two_digit_years=said.get("two_digit_years"),
        two_digit_dates=said.get("two_digit_dates"),
        decimal_mark=said.get("decimal_mark", "."),
        source=said.get("source", ""),
    )


def start_fit(*, by: Actor, at: datetime) -> Job:
    """Asked twice before a worker has begun, it is one fit: it will see all that was written until then."""
    return jobs.waiting("fit", at=at) or jobs.start("fit", enqueue=run_fit.enqueue, by=by, at=at)


def fit_after_sale(*, by: Actor, at: datetime) -> Job | None:
    """Ask the worker for a new fit, unless it has been asked already. Never done in the request itself.

    Without a worker, or with too few sales for a band, nothing is asked: the fit stays stale, and the desk says so.
    """
    if not workers.has_worker() or jobs.is_waiting("fit", at=at) or count_for_fit() < LEAST_SALES:
        return None
    return jobs.start("fit", enqueue=run_fit.enqueue, by=by, at=at, acting=AFTER_A_SALE, unless_fresh=True)


def start_pricing(*, by: Actor, at: datetime) -> Job:
    waiting = jobs.waiting("price_stock", at=at)
    return waiting or jobs.start("price_stock", enqueue=run_pricing.enqueue, by=by, at=at)


@transaction.atomic
def start_import(record: SalesImport, *, by: Actor, at: datetime) -> Job:
    """Sent twice, it is one job; a job that has stopped or failed makes room for another one."""
    kept = SalesImport.objects.select_for_update(of=("self",)).get(pk=record.pk)
    # Read after the lock: joined to the locked row, PostgreSQL would not show a job that was made while it waited.
    last = Job.objects.filter(imports=kept).first()
    if last is not None and (last.status == JobStatus.DONE or jobs.is_going_on(last, at=at)):
        return last
    job = jobs.start("import", enqueue=run_import.enqueue, by=by, at=at, import_id=record.pk)
    SalesImport.objects.filter(pk=record.pk).update(job=job)
    return job


@transaction.atomic
def start_again(code: uuid.UUID, *, by: Actor, at: datetime) -> Job:
    """A job that stopped or failed, once more: the work begins anew, and what is there already is left alone."""
    job = Job.objects.select_for_update().filter(code=code).first()
    if job is None:
        raise NotFound("not_found", "There is no such job.", got=str(code))
    record = SalesImport.objects.filter(job=job).first()
    require(by, ACTS[record.kind] if record is not None else Act.FIT_PRICES)
    if job.status != JobStatus.FAILED:
        _end_stopped(job, by=by, at=at)
    if record is not None:
        return start_import(record, by=by, at=at)
    if job.kind not in STARTABLE or job.kind == "import":
        raise Refused("started_again", "This was started again already.", got=job.kind, mend="Look where it is now.")
    return start_fit(by=by, at=at) if job.kind == "fit" else start_pricing(by=by, at=at)


def _end_stopped(job: Job, *, by: Actor, at: datetime) -> None:
    if job.status == JobStatus.DONE or jobs.is_going_on(job, at=at):
        raise TooLate(
            "goes_on", f"This work is {job.get_status_display()}.", field="status", got=job.status,
            mend="Only work that has stopped is started again.",
        )  # fmt: skip
    tending.mark_one_stopped(job, by=by, at=at)
