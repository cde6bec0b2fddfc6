"""The track record: how the price band has done on the lot's own sales."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inventory.pages.access import StaffRequest, staff_page
from inventory.queries import track_record as queries
from inventory.rules import track_record as rules
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_PRICE)
def track_record(request: StaffRequest, fit_id: int | None = None) -> HttpResponse:
    context = {"record": queries.track_record_of(fit_id), "least_sales": rules.LEAST_SALES}
    return render(request, "inventory/track_record/page.html", context)
