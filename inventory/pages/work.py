"""Work orders: of one vehicle with the steps that fit now, and of the whole lot."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import working
from inventory.actions.working import Invoice, NewOrder
from inventory.forms import work as forms
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import work as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act
from inventory.rules.work import Step


def _ask(form: Any, order_id: int, **who: Any) -> object:
    return working.ask_consignor(order_id, **form.cleaned_data, **who)


def _change(form: Any, order_id: int, **who: Any) -> object:
    return working.change_order(order_id, **form.cleaned_data, **who)


def _out(form: Any, order_id: int, **who: Any) -> object:
    return working.send_out(order_id, **form.cleaned_data, **who)


def _back(form: Any, order_id: int, **who: Any) -> object:
    return working.bring_back(order_id, **form.cleaned_data, **who)


def _regrade(_form: Any, order_id: int, **who: Any) -> object:
    return working.regrade(order_id, **who)


def _invoice(form: Any, order_id: int, **who: Any) -> object:
    said = dict(form.cleaned_data)
    version = said.pop("version")
    return working.record_invoice(order_id, invoice=Invoice(**said), version=version, **who)


def _charge(form: Any, order_id: int, **who: Any) -> object:
    return working.charge_order(order_id, **form.cleaned_data, **who)


def _call_off(form: Any, order_id: int, **who: Any) -> object:
    return working.call_off(order_id, **form.cleaned_data, **who)


@dataclass(frozen=True)
class StepPage:
    """One step on the page: its form, its action, its words. `at_once` has no field to fill."""

    form: type[forms.StepForm]
    act: Callable[..., object]
    title: str
    told: str
    caution: str = ""
    at_once: bool = False


STEPS: dict[Step, StepPage] = {
    Step.ASK: StepPage(
        forms.AskStep, _ask, "Ask the consignor", "The consignor is asked. Work waits for the answer.", at_once=True
    ),
    Step.OUT: StepPage(
        forms.OutStep, _out, "Begin the work", "It is at work, and not for sale meanwhile.",
        "Lift, fuel and brakes are for a licensed mechanic; follow the shop's safety rules.",
    ),
    Step.BACK: StepPage(forms.BackStep, _back, "Work is done", "It is back."),
    Step.REGRADE: StepPage(
        forms.RegradeStep, _regrade, "Grade the checks again",
        "An inspection is open: it asks what was worked on, all else is carried over.", at_once=True,
    ),
    Step.INVOICE: StepPage(forms.InvoiceStep, _invoice, "Record the invoice", "The invoice is recorded."),
    Step.CHARGE: StepPage(
        forms.ChargeStep, _charge, "Charge it and close", "It is charged, and the work order closed.", at_once=True
    ),
    Step.CHANGE: StepPage(forms.ChangeStep, _change, "Change it", "The work order is changed."),
    Step.CALL_OFF: StepPage(
        forms.CallOffStep, _call_off, "Call it off", "It is called off. Record where the vehicle stands, if it was out."
    ),
}  # fmt: skip


@require_GET
@staff_page(Act.ORDER_WORK)
def work_orders(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    rows = [(one, one.days_out(today=today)) for one in queries.open_orders()]
    return render(request, "inventory/work_orders/list.html", {"rows": rows, "tab": "work"})


@require_GET
@staff_page(Act.ORDER_WORK)
def work(request: StaffRequest, stock_number: str) -> HttpResponse:
    """The address may carry what an order begins with, from a “what if” say."""
    return _show(request, stock_number)


@require_POST
@staff_page(Act.ORDER_WORK)
def open_work(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = forms.OpenForm(request.POST, groups=queries.check_choices(stay))
    if form.is_valid():
        order, key = NewOrder(**form.order()), form.cleaned_data["client_key"]
        row = attempt(
            form,
            lambda: working.open_order(stay.pk, order=order, client_key=key, by=request.actor, at=timezone.now()),
        )
        if row is not None:
            messages.success(request, "The work order is open.")
            return redirect("work", stock_number)
    return _show(request, stock_number, opening=form)


@require_POST
@staff_page(Act.ORDER_WORK, deeds=queries.STEP_ACTS)
def work_step(request: StaffRequest, stock_number: str, code: uuid.UUID, deed: str) -> HttpResponse:
    chosen = STEPS.get(Step(deed)) if deed in Step.values else None
    if chosen is None:
        raise Http404("There is no such step.")
    one = queries.order_of(stay_by_number(stock_number), code=code)
    form = chosen.form(request.POST, one=one)
    if form.is_valid():
        deed_done = attempt(form, lambda: chosen.act(form, one.row.pk, by=request.actor, at=timezone.now()))
        if deed_done is not None:
            messages.success(request, chosen.told)
            return redirect("walk" if chosen.act is _regrade else "work", stock_number)
    return _show(request, stock_number, failed=(one.row.pk, form))


Failed = tuple[int, forms.StepForm]
BEGUN_WITH = ("kind", "what", "estimate", "started_from")  # what an address may carry, beside the checks


def _show(
    request: StaffRequest, stock_number: str, *, opening: forms.OpenForm | None = None, failed: Failed | None = None
) -> HttpResponse:
    stay = stay_by_number(stock_number)
    given = {name: request.GET[name] for name in BEGUN_WITH if name in request.GET}
    checks = request.GET.getlist("checks")
    keys = queries.last_keys(stay)
    shown = {
        "stay": stay, "here": "work", "opening": bool(opening or given or checks),
        "open_form": opening or forms.OpenForm(groups=queries.check_choices(stay), initial={**given, "checks": checks}),
        "orders": [
            (one, _steps(one, request=request, keys=keys, failed=failed)) for one in queries.orders_of(stay)
        ],
    }  # fmt: skip
    wrong = opening is not None or failed is not None
    return render(request, "inventory/work_orders/page.html", shown, status=422 if wrong else 200)


def _steps(one: queries.OrderSeen, *, request: StaffRequest, keys: str, failed: Failed | None) -> list[Any]:
    """Each step that fits now and that this person may do, with its form; one that failed is shown open."""
    found = []
    wrong = failed[1].slug if failed is not None and failed[0] == one.row.pk else ""
    for step, page in STEPS.items():
        is_wrong = wrong == page.form.slug
        if is_wrong or (step in one.steps and queries.may_step(step, by=request.actor)):
            form = failed[1] if failed is not None and is_wrong else page.form(one=one, keys=keys)
            found.append((step, page, form, is_wrong))
    return found
