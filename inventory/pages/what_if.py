"""What if: the band after a repair, a verified component or a change, beside its cost."""

from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.forms.what_if import WhatIfForm
from inventory.pages.access import StaffRequest, staff_page
from inventory.queries import what_if as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.work import from_what_if
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_PRICE)
def what_if(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Sent by GET, so that a result can be linked: nothing is written."""
    stay = stay_by_number(stock_number)
    here = queries.situation_of(stay, today=timezone.localdate())
    form = WhatIfForm(request.GET or None, here=here)
    plan = form.plan() if form.is_valid() else queries.Plan()
    outcome = queries.outcome_of(here, plan=plan)
    shown = {
        "stay": stay, "form": form, "situation": here, "outcome": outcome,
        "supposed": not plan.is_empty, "here": "price",
        "order": urlencode(from_what_if(plan, outcome=outcome), doseq=True),
    }  # fmt: skip
    return render(request, "inventory/what_if/page.html", shown, status=422 if form.errors else 200)
