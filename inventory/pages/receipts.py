"""The arrival receipt: made and signed on one page, read as the paper it is."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import receiving
from inventory.forms import receipts as forms
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import receipts as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@staff_page(Act.RECORD_FACTS)
def sign_receipt(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Whatever is wrong, the page comes back with everything typed and drawn."""
    stay = stay_by_number(stock_number)
    earlier = queries.latest_receipt(stay)
    sent = request.POST or None
    form = forms.ReceiptForm(sent, initial=forms.first_values(stay, earlier=earlier, staff=request.actor.name))
    damage, items = forms.lines(sent, earlier=earlier)
    if sent and all([form.is_valid(), damage.is_valid(), items.is_valid()]):
        row = _signed(request, stay.pk, form=form, given=forms.written(form, damage=damage, items=items))
        if row is not None:
            messages.success(request, f"Arrival receipt {row.number} is signed and kept.")
            return redirect("vehicle_file", stock_number)
    shown = {"stay": stay, "form": form, "damage": damage, "items": items, "earlier": earlier}
    return render(request, "inventory/receipts/page.html", shown, status=422 if sent else 200)


def _signed(request: StaffRequest, consignment_id: int, *, form: forms.ReceiptForm, given: dict[str, Any]) -> Any:
    return attempt(
        form,
        lambda: receiving.sign_receipt(
            consignment_id, receipt=receiving.NewReceipt(**given), client_key=forms.once(form, given=given),
            by=request.actor, at=timezone.now(),
        ),
    )  # fmt: skip


@require_safe
@staff_page(Act.SEE_LOT)
def receipt(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    return paper(queries.receipt(code))


def paper(row: Any) -> HttpResponseBase:
    """The stored paper as it was signed, shown in the browser and kept by no cache."""
    name = queries.file_name(row)
    answer = FileResponse(queries.receipt_content(row), content_type="application/pdf", filename=name)
    answer["Cache-Control"] = "no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
