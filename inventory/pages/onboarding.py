"""The current stock comes in by spreadsheet."""

import uuid

from django.http import FileResponse, HttpResponse
from django.views.decorators.http import require_GET, require_http_methods

from inventory.pages.access import StaffRequest, staff_page
from inventory.pages.import_flow import HERE, look, rejects_of, send
from inventory.rules.roles import Act
from inventory.sheets import stock_template


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_STOCK)
def upload(request: StaffRequest) -> HttpResponse:
    return send(request, flow=HERE)


@require_http_methods(["GET", "POST"])
@staff_page(Act.IMPORT_STOCK)
def review(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    return look(request, flow=HERE, code=code)


@require_GET
@staff_page(Act.IMPORT_STOCK)
def rejects(request: StaffRequest, code: uuid.UUID) -> FileResponse:
    return rejects_of(flow=HERE, code=code)


@require_GET
@staff_page(Act.IMPORT_STOCK)
def template(request: StaffRequest) -> HttpResponse:
    """The headings, and two invented rows to be written over."""
    answer = HttpResponse(stock_template(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="current-stock.csv"'
    return answer
