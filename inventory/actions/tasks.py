"""What runs in the background: `manage.py db_worker` does it, or the caller at once where TASKS=immediate."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.files import File
from django.utils import timezone
from django_tasks import task

from inventory.actions import importing, importing_elsewhere, importing_stock, jobs, pricing, workers
from inventory.actions.import_reports import Report
from inventory.bridge import LEAST_SALES
from inventory.models import Job, SalesImport
from inventory.queries.history import count_for_fit
from inventory.queries.pricing_desk import is_stale, latest_fit
from inventory.rules.floor_words import ImportKind
from inventory.rules.roles import Actor, command
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
    with jobs.running(job_id, asked_in=asked_in) as job:
        record = SalesImport.objects.get(pk=import_id)
        with TemporaryDirectory() as folder, on_disk(record.file) as sheet:
            rejects = Path(folder) / "rejects.csv"
            report = IMPORTS[record.kind](
                sheet,
                name=record.name,
                options=options_of(record),
                by=jobs.actor_from_json(actor),
                at=timezone.now(),
                rejects_to=rejects,
                progress=jobs.show_progress(job),
                record=record,
            )
            if report.rejected:
                with rejects.open("rb") as file:
                    record.rejects.save(f"{record.code}-rejects.csv", File(file))
        job.message = f"{report.imported:,} of {report.read:,} rows imported."


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
    return jobs.start("fit", enqueue=run_fit.enqueue, by=by, at=at)


def fit_after_sale(*, by: Actor, at: datetime) -> Job | None:
    """Ask the worker for a new fit, unless it has been asked already. Never done in the request itself.

    Without a worker, or with too few sales for a band, nothing is asked: the fit stays stale, and the desk says so.
    """
    if not workers.has_worker() or jobs.is_waiting("fit", at=at) or count_for_fit() < LEAST_SALES:
        return None
    return jobs.start("fit", enqueue=run_fit.enqueue, by=by, at=at, acting=AFTER_A_SALE, unless_fresh=True)


def start_pricing(*, by: Actor, at: datetime) -> Job:
    return jobs.start("price_stock", enqueue=run_pricing.enqueue, by=by, at=at)


def start_import(record: SalesImport, *, by: Actor, at: datetime) -> Job:
    job = jobs.start("import", enqueue=run_import.enqueue, by=by, at=at, import_id=record.pk)
    SalesImport.objects.filter(pk=record.pk).update(job=job)
    return job
