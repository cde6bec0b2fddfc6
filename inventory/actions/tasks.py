"""What runs in the background: `manage.py db_worker` does it, or the caller at once where TASKS=immediate."""

from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.files import File
from django.utils import timezone
from django_tasks import task

from inventory.actions import importing, jobs, pricing
from inventory.models import Job, SalesImport
from inventory.rules.roles import Actor
from inventory.sheets import Options


@task()
def run_fit(*, job_id: int, actor: dict[str, Any]) -> None:
    with jobs.running(job_id) as job:
        fit = pricing.fit_prices(by=jobs.actor_from_json(actor), at=timezone.now())
        job.message = f"Fitted to {fit.sales_used:,} sales."


@task()
def run_import(*, job_id: int, actor: dict[str, Any], import_id: int) -> None:
    with jobs.running(job_id) as job:
        record = SalesImport.objects.get(pk=import_id)
        with TemporaryDirectory() as folder:
            rejects = Path(folder) / "rejects.csv"
            report = importing.import_sales(
                Path(record.file.path),
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
    )


def start_fit(*, by: Actor, at: datetime) -> Job:
    return jobs.start("fit", enqueue=run_fit.enqueue, by=by, at=at)


def start_import(record: SalesImport, *, by: Actor, at: datetime) -> Job:
    job = jobs.start("import", enqueue=run_import.enqueue, by=by, at=at, import_id=record.pk)
    SalesImport.objects.filter(pk=record.pk).update(job=job)
    return job
