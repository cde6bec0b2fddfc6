"""The printed papers of a vehicle: window sheet, condition report, agreement and settlement statement."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.errors import NotFound, Refused
from inventory.pages import serving
from inventory.pages.access import StaffRequest, staff_page
from inventory.papers.agreement import agreement as agreement_pdf
from inventory.papers.condition_report import condition_report as condition_report_pdf
from inventory.papers.statement import statement as statement_pdf
from inventory.papers.window_sheet import window_sheet as window_sheet_pdf
from inventory.queries.agreement_paper import agreement_paper, terms_by_number
from inventory.queries.condition_report import condition_report_paper
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.statement_paper import settlement_by_id, statement_paper
from inventory.queries.window_sheet import window_sheet_paper
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_LOT)
def window_sheet(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Without an ask there is none: the file says what is missing."""
    try:
        paper = window_sheet_paper(stay_by_number(stock_number), today=timezone.localdate())
    except NotFound:
        raise
    except Refused as problem:
        messages.error(request, str(problem))
        return redirect("vehicle_file", stock_number)
    return _pdf(window_sheet_pdf(paper), name=f"window-sheet-{stock_number}.pdf")


@require_GET
@staff_page(Act.SEE_LOT)
def condition_report(request: StaffRequest, stock_number: str) -> HttpResponse:
    paper = condition_report_paper(stay_by_number(stock_number), today=timezone.localdate())
    return _pdf(condition_report_pdf(paper), name=f"condition-report-{stock_number}.pdf")


@require_GET
@staff_page(Act.SEE_MONEY)
def agreement(request: StaffRequest, stock_number: str, number: int) -> HttpResponse:
    terms = terms_by_number(stay_by_number(stock_number), number=number)
    paper = agreement_paper(terms, today=timezone.localdate())
    return _pdf(agreement_pdf(paper), name=f"agreement-{stock_number}-{number}.pdf")


@require_GET
@staff_page(Act.SEE_MONEY)
def statement(request: StaffRequest, stock_number: str, statement_id: int) -> HttpResponse:
    paper = statement_paper(settlement_by_id(stay_by_number(stock_number), statement_id=statement_id))
    return _pdf(statement_pdf(paper), name=f"statement-{paper.number}.pdf")


def _pdf(content: bytes, *, name: str) -> HttpResponse:
    """A paper of people and money: kept by no cache."""
    headers = {
        "Content-Disposition": serving.disposition(name), "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
    }  # fmt: skip
    return HttpResponse(content, content_type="application/pdf", headers=headers)
