"""The way of every spreadsheet: sent, looked at, its columns confirmed, read in by the worker, and told row by row."""

import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from inventory.actions import importing, tasks
from inventory.errors import Refused
from inventory.forms.past_sales import ReviewForm, UploadForm, wording
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt
from inventory.queries.past_sales import import_by_code
from inventory.rules.floor_words import ImportKind
from inventory.sheets import ELSEWHERE, PAST_SALES, STOCK, Kind, Preview, Reject, preview
from inventory.uploads import on_disk


@dataclass(frozen=True)
class Flow:
    """The addresses and words of one kind of import."""

    kind: ImportKind
    sheet: Kind[Any]
    home: str
    to_home: str
    upload: str
    review: str
    rejects: str
    what: str  # one row of it

    @property
    def holds(self) -> str:
        return self.sheet.layout.holds

    @property
    def intro(self) -> str:
        return f"inventory/past_sales/_intro_{self.kind.value}.html"


PAST = Flow(
    ImportKind.PAST_SALES, PAST_SALES, "past_sales", "To the past sales", "import_sales", "import_review",
    "import_rejects", "a sale",
)  # fmt: skip
TOLD = Flow(
    ImportKind.ELSEWHERE, ELSEWHERE, "elsewhere", "To the sales elsewhere", "import_elsewhere",
    "import_elsewhere_review", "import_elsewhere_rejects", "a sale",
)  # fmt: skip
HERE = Flow(
    ImportKind.STOCK, STOCK, "lot", "To the lot", "import_stock", "import_stock_review", "import_stock_rejects",
    "a vehicle",
)  # fmt: skip
FLOWS: dict[str, Flow] = {flow.kind: flow for flow in (PAST, TOLD, HERE)}


def send(request: StaffRequest, *, flow: Flow) -> HttpResponse:
    """The file is kept; nothing is imported yet."""
    form = UploadForm(request.POST or None, request.FILES or None, kind=flow.sheet)
    if request.method == "POST" and form.is_valid():
        file, at = form.cleaned_data["file"], timezone.now()
        kept = attempt(
            form, lambda: importing.keep_upload(file, name=file.name, kind=flow.kind, by=request.actor, at=at)
        )
        if kept is not None:
            return redirect(flow.review, code=kept.code)
    shown = {"form": form, "flow": flow}
    return render(request, "inventory/past_sales/upload.html", shown, status=422 if form.errors else 200)


def look(request: StaffRequest, *, flow: Flow, code: uuid.UUID) -> HttpResponse:
    """What would happen, the answers that are wanted, and afterwards what came of it."""
    record = _record(code, flow=flow)
    shown = {"record": record, "flow": flow}
    if record.report:
        return render(request, "inventory/past_sales/report.html", {**shown, "report": record.report})
    try:
        seen = _look(record, flow=flow)
    except Refused as problem:
        return render(request, "inventory/past_sales/unreadable.html", {**shown, "problem": problem}, status=422)
    form = ReviewForm(request.POST or None, seen=seen, initial=_initial(record))
    if request.method == "POST" and form.is_valid():
        record = importing.keep_choices(record.pk, choices=form.choices(), by=request.actor)
        if request.POST.get("do") == "import" and not _still_open(record, flow=flow):
            job = tasks.start_import(record, by=request.actor, at=timezone.now())
            return redirect("job", code=job.code)
        return redirect(flow.review, code=code)
    return render(request, "inventory/past_sales/review.html", shown | _review(form=form, seen=seen))


def rejects_of(*, flow: Flow, code: uuid.UUID) -> FileResponse:
    record = _record(code, flow=flow)
    if not record.rejects:
        raise Http404("There is no rejects file.")
    name = f"{Path(record.name).stem}-rejects.csv"
    return serving.attachment(record.rejects, name=name, content_type="text/csv; charset=utf-8")


def _record(code: uuid.UUID, *, flow: Flow) -> Any:
    """An import of this kind: another kind has pages of its own, for whoever may see those."""
    record = import_by_code(code)
    if record.kind != flow.kind:
        raise Http404("There is no such import here.")
    return record


def _look(record: Any, *, flow: Flow) -> Preview:
    with on_disk(record.file) as path:
        return preview(
            path, name=record.name, options=tasks.options_of(record), today=timezone.localdate(), kind=flow.sheet
        )


def _initial(record: Any) -> dict[str, Any]:
    said = record.choices
    return {
        "source": said.get("source", ""),
        "date_order": said.get("date_order") or "",
        "two_digit_years": str(said.get("two_digit_years") or ""),
        "two_digit_dates": str(said.get("two_digit_dates") or ""),
        "decimal_mark": said.get("decimal_mark", "."),
    }


def _still_open(record: Any, *, flow: Flow) -> bool:
    return any(question.blocks for question in _look(record, flow=flow).questions)


def _review(*, form: ReviewForm, seen: Preview) -> dict[str, Any]:
    """The first rows beside what would become of each."""
    fate = {outcome.row: outcome.reason if isinstance(outcome, Reject) else "" for outcome in seen.outcomes}
    rows = [{"number": number, "cells": cells, "reason": fate.get(number, "")} for number, cells in seen.rows]
    matched = [(wording(column), header) for column, header in seen.matched]
    blocked = any(question.blocks for question in seen.questions)
    return {"form": form, "seen": seen, "rows": rows, "matched": matched, "blocked": blocked}
