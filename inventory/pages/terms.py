"""Terms and charges: what lot and consignor agreed, and what it comes to."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.actions import agreeing, charging
from inventory.actions.agreeing import NewTerms
from inventory.errors import NotFound
from inventory.forms.terms import (
    AsideForm,
    ChargeForm,
    LienQuoteForm,
    PriceForm,
    ProtectedForm,
    StorageForm,
    TermsForm,
)
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import terms as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_http_methods(["GET", "POST"])
@staff_page(Act.SEE_MONEY, post=Act.AGREE_TERMS)
def terms(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method == "GET":
        return _show(request, stock_number)
    stay = stay_by_number(stock_number)
    form = TermsForm(request.POST)
    if form.is_valid():
        version = form.cleaned_data["version"]
        row = attempt(
            form,
            lambda: agreeing.agree_terms(
                stay.pk, terms=NewTerms(**form.given()), version=version, by=request.actor, at=timezone.now()
            ),
        )
        if row is not None:
            messages.success(request, f"Terms, version {row.number}, are recorded.")
            return redirect("terms", stock_number=stock_number)
    return _show(request, stock_number, terms_form=form)


@require_POST
@staff_page(Act.ADD_CHARGE)
def add_charge(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = ChargeForm(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        if attempt(form, lambda: charging.add_charge(stay.pk, **said, by=request.actor, at=timezone.now())) is not None:
            messages.success(request, "The charge is added.")
            return redirect("terms", stock_number=stock_number)
    return _show(request, stock_number, charge_form=form)


@require_POST
@staff_page(Act.ADD_CHARGE)
def set_charge_aside(request: StaffRequest, stock_number: str, charge_id: int) -> HttpResponse:
    stay = stay_by_number(stock_number)
    if charge_id not in {charge.row.pk for charge in queries.charge_rows(stay)}:
        raise NotFound("not_found", f"There is no such charge on {stock_number}.", got=charge_id)
    form = AsideForm(request.POST)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        row = attempt(
            form, lambda: charging.set_charge_aside(charge_id, reason=reason, by=request.actor, at=timezone.now())
        )
        if row is not None:
            messages.success(request, "The charge is set aside.")
            return redirect("terms", stock_number=stock_number)
    return _show(request, stock_number, aside=(charge_id, form))


@require_POST
@staff_page(Act.ADD_CHARGE)
def lien_quote(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _small_deed(
        request, stock_number, form=LienQuoteForm(request.POST, auto_id="quote-%s"), deed=agreeing.record_lien_quote,
        told="The payoff quote is recorded.", name="quote_form",
    )  # fmt: skip


@require_POST
@staff_page(Act.ADD_CHARGE)
def charge_storage(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _small_deed(
        request, stock_number, form=StorageForm(request.POST, auto_id="storage-%s"), deed=charging.charge_storage,
        told="The storage is charged.", name="storage_form",
    )  # fmt: skip


@require_POST
@staff_page(Act.ADD_CHARGE)
def claim_protected(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _small_deed(
        request, stock_number, form=ProtectedForm(request.POST, auto_id="protected-%s"),
        deed=charging.claim_protected_commission, told="The commission is charged.", name="protected_form",
    )  # fmt: skip


def _small_deed(
    request: StaffRequest, stock_number: str, *, form: Any, deed: Callable[..., Any], told: str, name: str
) -> HttpResponse:
    stay = stay_by_number(stock_number)
    if form.is_valid() and attempt(
        form, lambda: deed(stay.pk, **form.cleaned_data, by=request.actor, at=timezone.now())
    ):
        messages.success(request, told)
        return redirect("terms", stock_number=stock_number)
    return _show(request, stock_number, failed={name: form})


def _show(
    request: StaffRequest,
    stock_number: str,
    *,
    terms_form: TermsForm | None = None,
    charge_form: ChargeForm | None = None,
    aside: tuple[int, AsideForm] | None = None,
    failed: dict[str, Any] | None = None,
) -> HttpResponse:
    stay = stay_by_number(stock_number)
    price_form = PriceForm(request.GET if "price" in request.GET else None)
    asked = price_form.cleaned_data["price"] if price_form.is_valid() else None
    page = queries.page(stay, today=timezone.localdate(), price=asked)
    start = {**queries.terms_to_start_from(stay), "version": stay.version}
    charge_id, aside_form = aside or (None, None)
    context = {
        "page": page,
        "stay": stay,
        "here": "terms",
        "terms_form": terms_form or TermsForm(initial=start, auto_id="terms-%s"),
        "terms_failed": terms_form is not None,
        "charge_form": charge_form or ChargeForm(auto_id="charge-%s"),
        "charge_failed": charge_form is not None,
        "charges": [
            (charge, aside_form if charge.row.pk == charge_id else AsideForm(auto_id=f"aside{charge.row.pk}-%s"))
            for charge in page.charges
        ],
        "aside_failed": charge_id,
        "price_form": price_form,
        "quote_form": LienQuoteForm(auto_id="quote-%s"),
        "storage_form": StorageForm(auto_id="storage-%s"),
        "protected_form": ProtectedForm(auto_id="protected-%s"),
        **(failed or {}),
    }
    wrong = terms_form or charge_form or aside or failed
    return render(request, "inventory/terms/page.html", context, status=422 if wrong else 200)
