"""Past sales come in once, whole, and with every bad row told."""

import errno
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError
from pytest_django import Settings

from inventory.actions import importing, jobs, tasks
from inventory.actions.import_reports import judged_anew
from inventory.actions.importing import Report, import_sales
from inventory.errors import NotAllowed, Refused
from inventory.models import Job, LogEntry, SaleOutcome, SalesImport
from inventory.rules.roles import Actor
from inventory.sheets import Options
from tests import build

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
HEADER = "Stock #,Yr,Make,Model,Sale Date,Sold Price,Odometer\n"
UGLY = Path(__file__).resolve().parents[2] / "fixtures" / "ugly" / "past_sales_ugly.csv"

Send = Callable[..., Report]


@pytest.fixture
def send(tmp_path: Path, owner: Actor) -> Send:
    def sent(rows: str, *, header: str = HEADER, dry_run: bool = False, rejects_to: Path | None = None) -> Report:
        path = tmp_path / "sales.csv"
        path.write_text(header + rows, encoding="utf-8")
        return import_sales(
            path, name=path.name, options=Options(), by=owner, at=NOW, dry_run=dry_run, rejects_to=rejects_to
        )

    return sent


def test_good_rows_are_kept_as_they_were(send: Send) -> None:
    report = send('A-1,1968,Merrow,Alder,2024-03-04,"$42,500.00",61k\n')
    row = SaleOutcome.objects.get()
    assert (report.read, report.imported, report.rejected) == (1, 1, 0)
    assert (row.price, row.effective_price, row.mileage) == (Decimal("42500.00"), Decimal("42500.00"), 61000)
    assert row.modifications is None
    assert row.condition_low is None


def test_file_sent_twice_imports_nothing_twice(send: Send) -> None:
    rows = "A-1,1968,Merrow,Alder,2024-03-04,42500,\n,1971,Tarn,Six,2024-05-06,18000,\n"
    send(rows)
    report = send(rows)
    assert (report.imported, report.already) == (0, 2)
    assert SaleOutcome.objects.count() == 2


def test_known_stock_number_with_other_facts_is_rejected_not_overwritten(send: Send) -> None:
    send("A-1,1968,Merrow,Alder,2024-03-04,42500,\n")
    report = send("a-1,1968,Merrow,Alder,2024-03-04,99999,\n")
    assert report.rejects[0]["column"] == "stock_number"
    assert "other facts" in report.rejects[0]["reason"]
    assert SaleOutcome.objects.get().price == Decimal("42500.00")


def test_stock_number_of_the_lots_own_sale_is_not_taken_twice(send: Send) -> None:
    stay = build.consignment(build.State.SOLD, at=NOW)
    assert send(f"{stay.stock_number},1968,Merrow,Alder,2024-03-04,42500,\n").rejected == 1


def test_mended_rejects_file_imports_what_was_rejected(send: Send, tmp_path: Path) -> None:
    rejects = tmp_path / "rejects.csv"
    report = send(
        "A-1,1968,Merrow,Alder,2024-03-04,nothing,\nA-2,1970,Tarn,Six,2024-03-05,18000,\n", rejects_to=rejects
    )
    assert (report.imported, report.rejected) == (1, 1)
    mended = rejects.read_text(encoding="utf-8-sig").replace("nothing", "42500", 1)
    again = send(mended, header="")
    assert (again.imported, again.rejected) == (1, 0)
    assert SaleOutcome.objects.count() == 2


def test_dry_run_writes_nothing(send: Send) -> None:
    assert send("A-1,1968,Merrow,Alder,2024-03-04,42500,\n", dry_run=True).imported == 1
    assert not SaleOutcome.objects.exists()
    assert not SalesImport.objects.exists()


def test_crash_in_the_middle_leaves_nothing(send: Send, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importing, "BATCH", 1)
    written = iter([True])

    def breaks(*args: object, **kwargs: object) -> SaleOutcome:
        next(written)
        return original(*args, **kwargs)  # type: ignore[arg-type]

    original = importing._outcome
    monkeypatch.setattr(importing, "_outcome", breaks)
    with pytest.raises(RuntimeError):
        send("A-1,1968,Merrow,Alder,2024-03-04,42500,\nA-2,1970,Tarn,Six,2024-03-05,18000,\n")
    assert not SaleOutcome.objects.exists()


def test_ugly_file_accounts_for_every_row(owner: Actor) -> None:
    report = import_sales(UGLY, name=UGLY.name, options=Options(), by=owner, at=NOW)
    assert report.read == report.imported + report.already + report.rejected == 49
    assert report.rejected == len(report.rejects) == 40
    assert all(reject["reason"] for reject in report.rejects)
    assert sum(not reject["column"] for reject in report.rejects) == 3  # broken as rows: no one column is named
    assert SaleOutcome.objects.count() == report.imported == 7


def test_import_is_logged_with_its_counts(send: Send) -> None:
    send("A-1,1968,Merrow,Alder,2024-03-04,42500,\n")
    assert LogEntry.objects.get(action="import.finished").data["imported"] == 1


def test_only_the_owner_imports(sales: Actor, tmp_path: Path) -> None:
    with pytest.raises(NotAllowed):
        import_sales(tmp_path / "x.csv", name="x.csv", options=Options(), by=sales, at=NOW)


def test_upload_of_another_kind_of_file_is_refused(owner: Actor) -> None:
    for name, content in (("sales.pdf", b"%PDF"), ("sales.csv", b"")):
        with pytest.raises(Refused) as refusal:
            importing.keep_upload(SimpleUploadedFile(name, content), name=name, by=owner, at=NOW)
        assert refusal.value.field == "file"


def test_import_that_another_file_overtook_is_judged_once_more() -> None:
    """On PostgreSQL the database refuses the second of two files with the same rows."""
    tries = []

    @judged_anew
    def take() -> Report:
        tries.append(1)
        if len(tries) == 1:
            raise IntegrityError
        return Report(already=3)

    assert take().already == 3
    assert len(tries) == 2


def test_import_cut_off_after_its_rows_came_in_makes_only_the_rejects_again(owner: Actor) -> None:
    sheet = (HEADER + "A-1,1968,Merrow,Alder,2024-03-04,42500,\nA-2,1968,Merrow,Alder,2024-03-04,,\n").encode()
    record = importing.keep_upload(SimpleUploadedFile("sales.csv", sheet), name="sales.csv", by=owner, at=NOW)
    for _ in range(2):
        job = Job.objects.create(kind="import", asked_by="x", asked_at=NOW)
        tasks.run_import.func(job_id=job.pk, actor=jobs.actor_as_json(owner), import_id=record.pk)
        job.refresh_from_db()
        assert (job.status, job.message) == ("done", "1 of 2 rows imported.")
        record.refresh_from_db()
        assert (record.report["imported"], record.report["rejected"]) == (1, 1)
        assert b"A-2" in Path(record.rejects.path).read_bytes()
        SalesImport.objects.update(rejects="")  # as if the worker had been cut off before it kept them
    assert SaleOutcome.objects.count() == 1
    assert LogEntry.objects.filter(action="import.finished").count() == 1


def test_upload_on_a_full_disk_leaves_no_piece_of_the_file(owner: Actor, settings: Settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path

    class Full(SimpleUploadedFile):
        def chunks(self, chunk_size: int | None = None) -> Iterator[bytes]:
            yield b"Yr,Make"
            if any(tmp_path.rglob("*.csv")):  # it is being written
                raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        importing.keep_upload(Full("sales.csv", b"Yr,Make"), name="sales.csv", by=owner, at=NOW)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]
    assert not SalesImport.objects.exists()
