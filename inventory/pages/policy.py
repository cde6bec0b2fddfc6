"""The weights of condition and originality: those in force, their history, and the owner's form."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions.policy import set_policy
from inventory.forms.policy import PolicyForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import policy as queries
from inventory.rules.policy import checked, mark_of
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.SEE_LOT)
def policy(request: StaffRequest) -> HttpResponse:
    page, versions = queries.versions(request.GET.get("page", "1"))
    force = queries.in_force()
    shown = {
        "force": force, "groups": queries.groups_in_force(force), "page": page, "versions": versions,
        "carrying": queries.carrying(), "belonging": queries.belonging(),
    }  # fmt: skip
    return render(request, "inventory/policy/page.html", shown)


@staff_page(Act.SET_POLICY)
def change_policy(request: StaffRequest) -> HttpResponse:
    """Look at the effect on the stock first, which writes nothing; then put in force what was looked at."""
    known = queries.in_force()
    form = PolicyForm(request.POST or None, weights=known.weights, version=known.number)
    weights = attempt(form, lambda: checked(form.weights())) if form.is_valid() else None
    if weights is not None and request.POST.get("do") == "force" and _put_in_force(request, form, weights=weights):
        return redirect("policy")
    effects = None if weights is None else queries.effects_of(weights)
    shown = {"force": known, "form": form, "effects": effects, "carrying": queries.carrying()}
    return render(request, "inventory/policy/change.html", shown)


def _put_in_force(request: StaffRequest, form: PolicyForm, *, weights: dict[str, Any]) -> bool:
    given = form.cleaned_data
    if given["previewed"] != mark_of(weights):
        form.add_error(None, "The weights were changed after their effect was shown. It is shown anew: look again.")
        return False
    row = attempt(
        form,
        lambda: set_policy(
            weights, reason=given["reason"], version=given["version"], by=request.actor, at=timezone.now()
        ),
    )
    if row is not None:
        messages.success(request, f"Version {row.number} is in force for inspections begun from now on.")
    return row is not None
