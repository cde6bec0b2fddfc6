"""The papers of a deal: bill of sale, deposit receipt, and the buyer's name and address on them."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.actions import dealing
from inventory.errors import NotFound, Refused
from inventory.forms.releases import BuyerForm
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.papers.bill_of_sale import bill_of_sale as bill_of_sale_pdf
from inventory.papers.deposit_receipt import deposit_receipt as deposit_receipt_pdf
from inventory.queries import deal_papers as queries
from inventory.queries import facts
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.RECORD_PAYMENT)
def bill_of_sale(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Without the buyer's address there is none: the way leads to the form that gives it."""
    stay = stay_by_number(stock_number)
    try:
        paper = queries.bill_of_sale_paper(stay, today=timezone.localdate())
    except NotFound:
        raise
    except Refused as problem:
        messages.error(request, str(problem))
        return redirect("correct_buyer", stock_number)
    return _pdf(bill_of_sale_pdf(paper), name=f"bill-of-sale-{stock_number}.pdf")


@require_GET
@staff_page(Act.RECORD_PAYMENT)
def deposit_receipt(request: StaffRequest, stock_number: str) -> HttpResponse:
    paper = queries.deposit_receipt_paper(stay_by_number(stock_number), today=timezone.localdate())
    return _pdf(deposit_receipt_pdf(paper), name=f"deposit-receipt-{stock_number}.pdf")


@staff_page(Act.RECORD_PAYMENT)
def correct_buyer(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    sent = request.POST or None
    form = BuyerForm(sent, deal=facts.deal_of(stay), version=stay.version)
    if sent and form.is_valid() and attempt(form, lambda: _correct(request, stay.pk, form=form)) is not None:
        messages.success(request, "The buyer's name and address are recorded.")
        return redirect("sale_desk", stock_number)
    return render(request, "inventory/releases/buyer.html", {"stay": stay, "form": form}, status=422 if sent else 200)


def _correct(request: StaffRequest, consignment_id: int, *, form: BuyerForm) -> object:
    return dealing.correct_buyer(consignment_id, **form.cleaned_data, by=request.actor, at=timezone.now())


def _pdf(content: bytes, *, name: str) -> HttpResponse:
    """A paper of people and money: kept by no cache."""
    headers = {
        "Content-Disposition": serving.disposition(name), "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
    }  # fmt: skip
    return HttpResponse(content, content_type="application/pdf", headers=headers)
