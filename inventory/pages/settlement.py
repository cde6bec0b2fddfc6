"""The settlement: drafted line by line, approved to the cent, paid out."""

from pathlib import PurePath

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import settling
from inventory.errors import NotFound
from inventory.forms.settlement import ApproveForm, PayForm, ReverseForm
from inventory.forms.trust import MoveForm
from inventory.pages import serving, signed_in
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import settlements as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.trust import ledger_of
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_MONEY)
def settlement(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number)


@require_POST
@staff_page(Act.APPROVE_SETTLEMENT)
def approve(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = ApproveForm(request.POST)
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        said = form.cleaned_data
        row = attempt(
            form,
            lambda: settling.approve_settlement(
                stay.pk,
                expected_due=said["expected_due"],
                pay_on=said["pay_on"],
                version=said["version"],
                by=request.actor,
                at=timezone.now(),
            ),
        )
        if row is not None:
            messages.success(request, f"Settlement {row.number} is approved.")
            return redirect("settlement", stock_number=stock_number)
    return _show(request, stock_number, refused=form)


@require_POST
@staff_page(Act.PAY)
def pay(request: StaffRequest, stock_number: str) -> HttpResponse:
    page = _page(request, stock_number)
    approved = page.settlement
    if approved is None:
        raise NotFound("not_approved", f"No settlement of {stock_number} has been approved.", field="settlement")
    form = PayForm(request.POST, request.FILES, to_pay=page.payees)
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        said = form.cleaned_data
        row = attempt(
            form, lambda: settling.record_disbursement(approved.pk, **said, by=request.actor, at=timezone.now())
        )
        if row is not None:
            messages.success(request, "The payment is recorded.")
            return redirect("settlement", stock_number=stock_number)
    return _show(request, stock_number, unpaid=form)


@require_POST
@staff_page(Act.APPROVE_SETTLEMENT)
def reverse(request: StaffRequest, stock_number: str) -> HttpResponse:
    page = _page(request, stock_number)
    if page.settlement is None:
        raise NotFound("not_approved", f"No settlement of {stock_number} stands.", field="settlement")
    form, wrong = ReverseForm(request.POST, auto_id="reverse-%s"), page.settlement
    signed_in.ask_again(request, form=form)
    if (
        form.is_valid()
        and signed_in.is_known(request, form=form)
        and None
        is not attempt(
            form,
            lambda: settling.reverse_settlement(
                wrong.pk, reason=form.cleaned_data["reason"], by=request.actor, at=timezone.now()
            ),
        )
    ):
        messages.success(request, f"{wrong.number} is taken back. Approve the right one below.")
        return redirect("settlement", stock_number=stock_number)
    return _show(request, stock_number, reversing=form)


@require_GET
@staff_page(Act.SEE_MONEY)
def proof(request: StaffRequest, stock_number: str, paid_id: int) -> HttpResponseBase:
    row = queries.paid_with_proof(paid_id, stay=stay_by_number(stock_number))
    return serving.attachment(row.proof, name=f"proof-{stock_number}-{row.pk}{PurePath(str(row.proof.name)).suffix}")


def _page(request: StaffRequest, stock_number: str) -> queries.Page:
    return queries.page(stay_by_number(stock_number), by=request.actor, today=timezone.localdate())


def _show(
    request: StaffRequest,
    stock_number: str,
    *,
    refused: ApproveForm | None = None,
    unpaid: PayForm | None = None,
    reversing: ReverseForm | None = None,
) -> HttpResponse:
    page = _page(request, stock_number)
    due = page.draft.statement.due if page.draft else None
    forms = {
        "approve_form": ApproveForm(initial={"version": page.stay.version, "expected_due": due}),
        "pay_form": PayForm(to_pay=page.to_pay),
        "reverse_form": ReverseForm(auto_id="reverse-%s"),
    }
    for form in forms.values():
        signed_in.ask_again(request, form=form)
    sent: dict[str, BaseForm | None] = {"pay_form": unpaid, "reverse_form": reversing}
    if refused and "own_password" in refused.errors:
        sent["approve_form"] = refused
    context = {
        "page": page,
        "stay": page.stay,
        "here": "settlement",
        "refused": refused,
        **forms,
        **{name: form for name, form in sent.items() if form is not None},
        "move_form": MoveForm(auto_id="trust-%s"),
        "ledger": ledger_of(page.stay),
    }
    wrong = refused or unpaid or reversing
    return render(request, "inventory/settlement/page.html", context, status=422 if wrong else 200)
