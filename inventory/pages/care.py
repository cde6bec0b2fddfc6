"""The care rota: what is due today, done by one tap, and how often it is wanted."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions import caring
from inventory.actions.caring import Cared
from inventory.forms import care as forms
from inventory.forms.fields import once
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import care as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.care import NO_SOURCE, STARTING_SET
from inventory.rules.floor_words import CareKind
from inventory.rules.roles import Act, Actor


@staff_page(Act.SEE_LOT)
def care(request: StaffRequest) -> HttpResponse:
    """A form for each kind that something wants; `kind` says which was sent."""
    today, place = timezone.localdate(), request.GET.get("place", "").strip()
    kind = request.POST.get("kind", "")
    found = [
        (group, forms.CareDoneForm(request.POST if group.kind == kind else None, group=group))
        for group in queries.care_groups(today=today, place=place)
    ]
    sent = next((form for group, form in found if group.kind == kind), None)
    if sent is not None and sent.is_valid():
        done = attempt(sent, lambda: _do(sent, kind=kind, by=request.actor))
        if done is not None:
            messages.success(request, f"{CareKind(kind).label.capitalize()} is done: {done}.")
            return redirect(f"{reverse('care')}?place={place}" if place else "care")
    if request.method == "POST" and sent is None:
        messages.info(request, "Nothing of this kind is due any more: somebody was faster.")
        return redirect("care")
    shown = {"groups": found, "rules": queries.lot_rules(), "place": place, "tab": "care", "today": today}
    return render(request, "inventory/care/page.html", shown)


def _do(form: forms.CareDoneForm, *, kind: str, by: Actor) -> str:
    """Which vehicles were seen to, and what the readings say."""
    readings = form.readings()
    cared = [Cared(stay_id, readings.get(stay_id)) for stay_id in form.chosen()]
    said = once({"key": form.cleaned_data["key"], "note": form.cleaned_data["note"], "cared": cared})
    rows = caring.record_care(said.pop("cared"), kind=kind, **said, by=by, at=timezone.now())
    return queries.told([row.pk for row in rows])


@staff_page(Act.SET_UP_FLOOR)
def care_rules(request: StaffRequest) -> HttpResponse:
    rules = {row.kind: row for row in queries.lot_rules()}
    kind = request.POST.get("kind", "")
    found = [(one, _rule_form(request, one, rules=rules)) for one in CareKind]
    sent = next((form for one, form in found if one == kind), None)
    if sent is not None and sent.is_valid():
        given = sent.cleaned_data
        if attempt(sent, lambda: caring.set_care_rule(**given, by=request.actor, at=timezone.now())):
            messages.success(request, "It is kept.")
            return redirect("care_rules")
    shown = {"forms": found, "has_all": len(rules) >= len(STARTING_SET), "no_source": NO_SOURCE, "tab": "care"}
    return render(request, "inventory/care/rules.html", {**shown, "starting": STARTING_SET})


def _rule_form(request: StaffRequest, kind: CareKind, *, rules: dict[str, Any]) -> forms.CareRuleForm:
    row = rules.get(kind)
    first = {"kind": kind.value} | (
        {"every_days": row.every_days, "what": row.what, "version": row.version} if row else {}
    )
    sent = request.POST if request.POST.get("kind") == kind else None
    return forms.CareRuleForm(sent, initial=first, auto_id=f"{kind}-%s")


@require_POST
@staff_page(Act.SET_UP_FLOOR)
def start_rota(request: StaffRequest) -> HttpResponse:
    count = caring.start_rota(by=request.actor, at=timezone.now())
    messages.success(request, f"{count} rules are set." if count else "Every kind has a rule already.")
    return redirect("care_rules")


@staff_page(Act.SET_UP_FLOOR)
def own_care_rule(request: StaffRequest, stock_number: str) -> HttpResponse:
    """One vehicle may want a kind of care more often, less often or not at all."""
    stay = stay_by_number(stock_number)
    form = forms.OwnRuleForm(request.POST or None)
    if form.is_valid() and attempt(form, lambda: _set_own(form, stay_id=stay.pk, by=request.actor)):
        messages.success(request, "The rule of this vehicle is kept.")
        return redirect("vehicle_file", stock_number)
    shown = {"form": form, "stay": stay, "care": queries.care_of(stay, today=timezone.localdate())}
    return render(request, "inventory/care/own_rule.html", shown)


def _set_own(form: forms.OwnRuleForm, *, stay_id: int, by: Actor) -> bool:
    said, at = form.cleaned_data, timezone.now()
    if said["how"] == "lot":
        caring.drop_own_rule(stay_id, kind=said["kind"], by=by, at=at)
    else:
        caring.set_care_rule(
            said["kind"], every_days=said["every_days"], what=said["what"], consignment_id=stay_id, by=by, at=at
        )
    return True
