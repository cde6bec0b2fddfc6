"""Past sales: the list, the import with its preview, long work and its progress."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from inventory.actions import jobs, tasks
from inventory.errors import Refused
from inventory.models import Job, SaleOutcome, SalesImport
from inventory.rules.roles import Role
from tests import build

pytestmark = pytest.mark.django_db(transaction=True)  # what a task does happens after the commit
SHEET = "Yr,Make,Model,Sale Date,Sold for\n1969,Merrow,Alder,3/14/2021,42500\n1971,Tarn,Six,5/25/2021,nothing\n"


@pytest.fixture
def signed_in(client: Client, settings: Any, tmp_path: Any) -> Client:
    settings.MEDIA_ROOT = tmp_path
    build.staff(Role.OWNER, at=timezone.now())
    client.login(username="the-owner", password=build.PASSWORD)
    return client


def send(client: Client, text: str = SHEET, *, name: str = "sales.csv") -> SalesImport:
    response = client.post("/past-sales/import/", {"file": SimpleUploadedFile(name, text.encode())})
    assert response.status_code == 302, response.content.decode()
    return SalesImport.objects.get()


def answers(**changes: str) -> dict[str, str]:
    columns = {f"column_{place}": name for place, name in enumerate(("year", "make", "model", "ended_on", "price"))}
    return {**columns, "decimal_mark": ".", "do": "import", **changes}


def test_upload_shows_what_would_happen_and_imports_nothing(signed_in: Client) -> None:
    record = send(signed_in)
    page = signed_in.get(f"/past-sales/import/{record.code}/").content.decode()
    assert "2 rows" in page
    assert "“nothing”" in page
    assert not SaleOutcome.objects.exists()


def test_confirmed_import_reports_every_row(signed_in: Client) -> None:
    record = send(signed_in)
    page = signed_in.post(f"/past-sales/import/{record.code}/", answers(), follow=True).content.decode()
    assert "What was rejected" in page
    assert SaleOutcome.objects.count() == 1
    rejects = signed_in.get(f"/past-sales/import/{record.code}/rejects/")
    assert "reject_reason" in b"".join(rejects.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    assert Job.objects.get().status == "done"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"column_4": ""}, ""),
        ({"column_0": ""}, "Say which column holds the year"),
        ({"column_1": "model"}, "is the model already"),
    ],
)
def test_answers_that_do_not_add_up_are_refused(signed_in: Client, changes: dict[str, str], said: str) -> None:
    record = send(signed_in)
    page = signed_in.post(f"/past-sales/import/{record.code}/", answers(**changes), follow=True).content.decode()
    assert said in page
    if said:
        assert not Job.objects.exists()


def test_open_question_keeps_the_import_waiting(signed_in: Client) -> None:
    record = send(signed_in, "Yr,Make,Model,Sale Date,Sold for\n1969,Merrow,Alder,3/4/2021,42500\n")
    page = signed_in.post(f"/past-sales/import/{record.code}/", answers(), follow=True).content.decode()
    assert "Which order is it?" in page
    assert not SaleOutcome.objects.exists()
    signed_in.post(f"/past-sales/import/{record.code}/", answers(date_order="dmy"))
    assert str(SaleOutcome.objects.get().ended_on) == "2021-04-03"


def test_file_that_is_no_sheet_is_told(signed_in: Client) -> None:
    response = signed_in.post("/past-sales/import/", {"file": SimpleUploadedFile("sales.exe", b"MZ")})
    assert response.status_code == 422
    assert "is no CSV or XLSX file" in response.content.decode()
    record = send(signed_in, "\x00\x01\x02", name="broken.csv")
    page = signed_in.get(f"/past-sales/import/{record.code}/")
    assert page.status_code == 422
    assert "cannot be read" in page.content.decode()


def test_rejects_of_a_clean_import_are_a_404(signed_in: Client) -> None:
    record = send(signed_in)
    assert signed_in.get(f"/past-sales/import/{record.code}/rejects/").status_code == 404


def test_fit_without_sales_says_so(signed_in: Client) -> None:
    page = signed_in.post("/past-sales/fit/", follow=True).content.decode()
    assert "There are 0 sold outcomes; a band needs at least 12." in page
    assert Job.objects.get().status == "failed"


def test_waiting_job_looks_again_by_itself(signed_in: Client) -> None:
    job = Job.objects.create(kind="fit", asked_by="x", asked_at=timezone.now(), total=10, done=4)
    page = signed_in.get(f"/jobs/{job.code}/").content.decode()
    assert 'http-equiv="refresh"' in page
    assert "4 of 10" in page
    assert "db_worker" in page


def test_job_that_breaks_is_marked_failed() -> None:
    job = Job.objects.create(kind="fit", asked_by="x", asked_at=timezone.now())
    with pytest.raises(ZeroDivisionError), jobs.running(job.pk):
        raise ZeroDivisionError
    job.refresh_from_db()
    assert (job.status, job.message) == ("failed", jobs.STOPPED)


def test_refused_job_says_why_and_ends_quietly() -> None:
    job = Job.objects.create(kind="fit", asked_by="x", asked_at=timezone.now())
    with jobs.running(job.pk):
        raise Refused("x", "No.", mend="Mend it.")
    job.refresh_from_db()
    assert (job.status, job.message) == ("failed", "No. Mend it.")


def test_progress_is_written_now_and_then() -> None:
    job = Job.objects.create(kind="import", asked_by="x", asked_at=timezone.now())
    told = jobs.show_progress(job, every=10)
    told(3, 100)
    assert Job.objects.get().done == 0
    told(12, 100)
    assert (Job.objects.get().done, Job.objects.get().total) == (12, 100)
    told(100, 100)
    assert Job.objects.get().done == 100


def test_answers_are_read_as_options() -> None:
    record = SalesImport(
        choices={"columns": {"year": "Yr"}, "ignore": ["x"], "date_order": "", "two_digit_years": 1900}
    )
    options = tasks.options_of(record)
    assert (options.columns, options.ignore, options.date_order, options.two_digit_years) == (
        {"year": "Yr"},
        ("x",),
        None,
        1900,
    )


def test_list_finds_sales_in_a_constant_number_of_queries(
    signed_in: Client, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    for count in (3, 30):
        SaleOutcome.objects.bulk_create(
            SaleOutcome(
                result="sold", price=1000 + number, effective_price=1000 + number, ended_on="2024-01-01", year=1968,
                make="Merrow", model="Alder", stock_number=f"{count}-{number}", by="x", at=timezone.now(),
            )
            for number in range(count)
        )  # fmt: skip
        with django_assert_num_queries(9):
            page = signed_in.get("/past-sales/", {"q": "merrow 1968"}).content.decode()
        assert page.count("1968 Merrow Alder") == (3 if count == 3 else 25)
        assert ("Older" in page) == (count == 30)
    assert "No past sale matches" in signed_in.get("/past-sales/", {"q": "zebra"}).content.decode()
    assert signed_in.get("/past-sales/", {"place": "x"}).status_code == 404


def test_sales_staff_see_the_book_but_do_not_import(client: Client) -> None:
    build.staff(Role.SALES, at=timezone.now())
    client.login(username="the-sales", password=build.PASSWORD)
    assert client.get("/past-sales/").status_code == 200
    assert client.get("/past-sales/import/").status_code == 403
