"""Past sales: the list, the import with its preview, the fit, and long work's progress."""

import uuid

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.actions import tasks
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.pages.access import StaffRequest, staff_page
from inventory.pages.import_flow import FLOWS, PAST, look, rejects_of, send
from inventory.queries import past_sales as queries
from inventory.queries.jobs import job_seen
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_PRICE)
def past_sales(request: StaffRequest) -> HttpResponse:
    text = request.GET.get("q", "").strip()
    piece = queries.sales_piece(text, place=request.GET.get("place", ""))
    context = {"book": queries.book(), "piece": piece, "text": text}
    return render(request, "inventory/past_sales/page.html", context)


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_SALES)
def upload(request: StaffRequest) -> HttpResponse:
    return send(request, flow=PAST)


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_SALES)
def review(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    return look(request, flow=PAST, code=code)


@require_GET
@staff_page(Act.IMPORT_SALES)
def rejects(request: StaffRequest, code: uuid.UUID) -> FileResponse:
    return rejects_of(flow=PAST, code=code)


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
    seen = job_seen(code, now=timezone.now())
    row, record = seen.job, seen.record
    if row.status == "done" and record is not None:
        return redirect(FLOWS[record.kind].review, code=record.code)
    if row.status == "done":
        messages.success(request, row.message)
        return redirect("past_sales")
    flow = FLOWS[record.kind] if record else PAST
    return render(request, "inventory/past_sales/job.html", {"job": row, "seen": seen, "record": record, "flow": flow})


@require_POST
@staff_page(Act.SEE_PRICE)
def job_again(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    """The action asks for the act of the work itself: a fit, an import of one kind or another."""
    try:
        code = tasks.start_again(code, by=request.actor, at=timezone.now()).code
    except (NotAllowed, NotFound):
        raise
    except Refused as problem:
        messages.error(request, str(problem))
    return redirect("job", code=code)
