"""Condition and originality opened up, and two inspections side by side."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from inventory.pages.access import StaffRequest, staff_page
from inventory.queries.differences import comparison_of
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.scores import score_page
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.SEE_LOT)
def score(request: StaffRequest, stock_number: str, figure: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    asked = {name: request.GET.get(name, "") for name in ("number", "order")}
    shown = {"stay": stay, "page": score_page(stay, figure=figure, **asked), "here": "file"}
    return render(request, "inventory/scores/page.html", shown)


@require_safe
@staff_page(Act.SEE_LOT)
def compare(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    asked = {name: request.GET.get(name, "") for name in ("a", "b")}
    shown = {"stay": stay, "two": comparison_of(stay, **asked), "here": "file"}
    return render(request, "inventory/scores/compare.html", shown)
