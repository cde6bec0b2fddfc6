"""The comparison grid as a file, a past sale on its own page, and a price opinion as a paper."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inventory.pages import serving
from inventory.pages.access import StaffRequest, staff_page
from inventory.papers.price_opinion import price_opinion
from inventory.queries import comparison as queries
from inventory.queries.comparison_file import as_csv
from inventory.queries.opinion_paper import opinion_paper
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_PRICE)
def comparison_file(request: StaffRequest, stock_number: str) -> HttpResponse:
    text = as_csv(queries.newest_grid(stay_by_number(stock_number), by=request.actor))
    return _kept_by_no_cache(
        text.encode(), content_type="text/csv; charset=utf-8", name=f"comparison-{stock_number}.csv", saved=True
    )


@require_GET
@staff_page(Act.SEE_PRICE)
def opinion_file(request: StaffRequest, stock_number: str, opinion_id: int) -> HttpResponse:
    opinion = queries.opinion_of(stay_by_number(stock_number), opinion_id=opinion_id, by=request.actor)
    name = f"price-opinion-{stock_number}-{opinion_id}.pdf"
    return _kept_by_no_cache(price_opinion(opinion_paper(opinion)), content_type="application/pdf", name=name)


@require_GET
@staff_page(Act.SEE_PRICE)
def past_sale(request: StaffRequest, outcome_id: int) -> HttpResponse:
    return render(request, "inventory/past_sales/sale.html", queries.past_sale(outcome_id))


def _kept_by_no_cache(content: bytes, *, content_type: str, name: str, saved: bool = False) -> HttpResponse:
    headers = {
        "Content-Disposition": serving.disposition(name, saved=saved), "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
    }  # fmt: skip
    return HttpResponse(content, content_type=content_type, headers=headers)
