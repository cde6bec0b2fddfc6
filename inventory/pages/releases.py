"""What leaves the lot: the release with its receipt, and title papers that are sent elsewhere."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import releasing
from inventory.forms.releases import ReleaseForm, SendPaperForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import releases as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.titles import title_papers_of
from inventory.rules.releases import CAUTION
from inventory.rules.roles import Act


@staff_page(Act.RELEASE)
def sign_release(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Whatever is wrong, the page comes back with everything typed and drawn."""
    stay = stay_by_number(stock_number)
    leaving = queries.leaving(stay)
    if leaving is None:
        return _nothing_to_release(request, stay)
    sent = request.POST or None
    form = ReleaseForm(sent, leaving=leaving, staff=request.actor.name, version=stay.version)
    if sent and form.is_valid() and attempt(form, lambda: _release(request, stay.pk, form=form)) is not None:
        messages.success(request, "The vehicle is released. The receipt is signed and kept.")
        return redirect("sale_desk", stock_number)
    shown = {"stay": stay, "form": form, "leaving": leaving, "caution": CAUTION}
    return render(request, "inventory/releases/page.html", shown, status=422 if sent else 200)


def _nothing_to_release(request: StaffRequest, stay: Any) -> HttpResponse:
    """Gone already (sent twice, say), or neither sold nor withdrawn."""
    told = "It has left the lot already." if stay.released_on else "Only a sold or withdrawn vehicle is released."
    messages.info(request, told)
    return redirect("sale_desk", stay.stock_number)


def _release(request: StaffRequest, consignment_id: int, *, form: ReleaseForm) -> object:
    given = form.given()
    receipt = releasing.ReleaseReceipt(**given["receipt"])
    return releasing.release(
        consignment_id, **given["release"], receipt=receipt, by=request.actor, at=timezone.now()
    )  # fmt: skip


@require_safe
@staff_page(Act.SEE_LOT)
def release(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    """The stored paper as it was signed, kept by no cache."""
    row = queries.release(code)
    answer = FileResponse(queries.release_content(row), content_type="application/pdf", filename=queries.file_name(row))
    answer["Cache-Control"] = "no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@staff_page(Act.RELEASE)
def send_paper(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    sent = request.POST or None
    form = SendPaperForm(sent, papers=title_papers_of(stay, today=timezone.localdate()).rows)
    if sent and form.is_valid() and attempt(form, lambda: _send(request, stay.pk, form=form)) is not None:
        messages.success(request, "The paper is recorded as sent.")
        return redirect("vehicle_file", stock_number)
    shown = {"stay": stay, "form": form}
    return render(request, "inventory/releases/send_paper.html", shown, status=422 if sent else 200)


def _send(request: StaffRequest, consignment_id: int, *, form: SendPaperForm) -> object:
    said = dict(form.cleaned_data)
    paper_id = said.pop("paper")
    sending = releasing.Sending(**said)
    return releasing.send_paper(
        consignment_id, paper_id=paper_id, sending=sending, by=request.actor, at=timezone.now()
    )  # fmt: skip
