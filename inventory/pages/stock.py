"""The stock: what is for sale, what may come of each ask, and what waiting loses."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.forms.stock import StockSearch
from inventory.pages.access import StaffRequest, staff_page
from inventory.queries import stock as queries
from inventory.rules.roles import Act
from inventory.rules.waiting import MORE_DAYS, StockOrder


@require_GET
@staff_page(Act.SEE_PRICE)
def stock(request: StaffRequest) -> HttpResponse:
    search = StockSearch(request.GET)
    search.is_valid()  # what does not fit is told on the form, the rest still counts
    order = StockOrder(search.cleaned_data.get("order") or StockOrder.LOST)
    wanted = queries.Wanted(text=search.cleaned_data.get("q", ""), order=order)
    page = queries.stock_page(wanted, on=timezone.localdate())
    shown = {"search": search, "page": page, "wanted": wanted, "orders": StockOrder, "more_days": MORE_DAYS}
    return render(request, "inventory/stock/page.html", shown)
