"""Past sales: the list, the import with its preview, the fit, and long work's progress."""

import uuid
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.actions import importing, tasks
from inventory.errors import Refused
from inventory.forms.past_sales import ReviewForm, UploadForm, wording
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import past_sales as queries
from inventory.rules.roles import Act
from inventory.sheets import Preview, Reject, preview


@require_GET
@staff_page(Act.SEE_PRICE)
def past_sales(request: StaffRequest) -> HttpResponse:
    text = request.GET.get("q", "").strip()
    page = queries.sales_page(text, number=_page_number(request))
    context = {"book": queries.book(), "page": page, "text": text}
    return render(request, "inventory/past_sales/page.html", context)


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_SALES)
def upload(request: StaffRequest) -> HttpResponse:
    form = UploadForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        kept = attempt(form, lambda: importing.keep_upload(file, name=file.name, by=request.actor, at=timezone.now()))
        if kept is not None:
            return redirect("import_review", code=kept.code)
    return render(request, "inventory/past_sales/upload.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_SALES)
def review(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    record = queries.import_by_code(code)
    if record.report:
        return render(request, "inventory/past_sales/report.html", {"record": record, "report": record.report})
    try:
        seen = _look(record)
    except Refused as problem:
        return render(
            request, "inventory/past_sales/unreadable.html", {"record": record, "problem": problem}, status=422
        )
    form = ReviewForm(request.POST or None, seen=seen, initial=_initial(record))
    if request.method == "POST" and form.is_valid():
        record = importing.keep_choices(record.pk, choices=form.choices(), by=request.actor)
        if request.POST.get("do") == "import" and not _still_open(record):
            job = tasks.start_import(record, by=request.actor, at=timezone.now())
            return redirect("job", code=job.code)
        return redirect("import_review", code=code)
    return render(request, "inventory/past_sales/review.html", _review_context(record, form=form, seen=seen))


@require_GET
@staff_page(Act.IMPORT_SALES)
def rejects(request: StaffRequest, code: uuid.UUID) -> FileResponse:
    record = queries.import_by_code(code)
    if not record.rejects:
        raise Http404("There is no rejects file.")
    name = f"{Path(record.name).stem}-rejects.csv"
    return FileResponse(record.rejects.open("rb"), as_attachment=True, filename=name, content_type="text/csv")


@require_POST
@staff_page(Act.FIT_PRICES)
def fit(request: StaffRequest) -> HttpResponse:
    job = tasks.start_fit(by=request.actor, at=timezone.now())
    return redirect("job", code=job.code)


@require_POST
@staff_page(Act.FIT_PRICES)
def price_stock(request: StaffRequest) -> HttpResponse:
    job = tasks.start_pricing(by=request.actor, at=timezone.now())
    return redirect("job", code=job.code)


@require_GET
@staff_page(Act.SEE_PRICE)
def job(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.job_by_code(code)
    record = row.imports.first()
    if row.status == "done" and record is not None:
        return redirect("import_review", code=record.code)
    if row.status == "done":
        messages.success(request, row.message)
        return redirect("past_sales")
    return render(request, "inventory/past_sales/job.html", {"job": row, "record": record})


def _page_number(request: StaffRequest) -> int:
    text = request.GET.get("page", "1")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 1


def _look(record: Any) -> Preview:
    return preview(
        Path(record.file.path), name=record.name, options=tasks.options_of(record), today=timezone.localdate()
    )


def _initial(record: Any) -> dict[str, Any]:
    said = record.choices
    return {
        "date_order": said.get("date_order") or "",
        "two_digit_years": str(said.get("two_digit_years") or ""),
        "two_digit_dates": str(said.get("two_digit_dates") or ""),
        "decimal_mark": said.get("decimal_mark", "."),
    }


def _still_open(record: Any) -> bool:
    return any(question.blocks for question in _look(record).questions)


def _review_context(record: Any, *, form: ReviewForm, seen: Preview) -> dict[str, Any]:
    """The first rows beside what would become of each."""
    fate = {outcome.row: outcome.reason if isinstance(outcome, Reject) else "" for outcome in seen.outcomes}
    rows = [{"number": number, "cells": cells, "reason": fate.get(number, "")} for number, cells in seen.rows]
    matched = [(wording(column), header) for column, header in seen.matched]
    blocked = any(question.blocks for question in seen.questions)
    return {"record": record, "form": form, "seen": seen, "rows": rows, "matched": matched, "blocked": blocked}
