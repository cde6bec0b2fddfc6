"""Sales elsewhere: looked through, recorded by hand, corrected, taken out, imported."""

import uuid

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.actions import elsewhere as actions
from inventory.forms.elsewhere import CorrectionForm, DropForm, ElsewhereForm, ElsewhereSearch, initial_of
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.import_flow import TOLD, look, rejects_of, send
from inventory.queries import elsewhere as queries
from inventory.queries.pricing_desk import fits_in_short
from inventory.rules.roles import Act
from inventory.sheets import ELSEWHERE, Elsewhere
from inventory.sheets.serials import vin_remarks


@require_GET
@staff_page(Act.SEE_PRICE)
def elsewhere(request: StaffRequest) -> HttpResponse:
    search = ElsewhereSearch(request.GET)
    text = search.cleaned_data["q"] if search.is_valid() else ""
    piece = queries.sales_piece(text, place=request.GET.get("place", ""))
    shown = {"search": search, "text": text, "piece": piece, "told": queries.standing(fits_in_short().first())}
    return render(request, "inventory/elsewhere/page.html", shown)


@staff_page(Act.RECORD_ELSEWHERE)
def add(request: StaffRequest) -> HttpResponse:
    form = ElsewhereForm(request.POST or None)
    if form.is_valid():
        said, sure, key = form.said(), form.cleaned_data["sure"], form.client_key()
        at = timezone.now()
        done = attempt(form, lambda: actions.add_sale(said, sure=sure, client_key=key, by=request.actor, at=at))
        if done is not None:
            _tell(request, said=said, what="recorded")
            return redirect("elsewhere")
    return render(request, "inventory/elsewhere/add.html", {"form": form}, status=422 if form.errors else 200)


@staff_page(Act.RECORD_ELSEWHERE)
def correct(request: StaffRequest, sale_id: int) -> HttpResponse:
    row = queries.sale(sale_id)
    form = CorrectionForm(request.POST or None, initial=initial_of(row))
    if form.is_valid():
        said, given, at = form.said(), form.cleaned_data, timezone.now()
        done = attempt(
            form,
            lambda: actions.correct_sale(
                row.pk, said=said, reason=given["reason"], client_key=form.client_key(), by=request.actor, at=at
            ),
        )
        if done is not None:
            _tell(request, said=said, what="corrected")
            return redirect("elsewhere")
    shown = {"row": row, "form": form, "drop": DropForm()}
    return render(request, "inventory/elsewhere/correct.html", shown, status=422 if form.errors else 200)


@staff_page(Act.RECORD_ELSEWHERE)
def drop(request: StaffRequest, sale_id: int) -> HttpResponse:
    row = queries.sale(sale_id)
    if request.method != "POST":  # whoever signs in anew after sending the form comes back by GET
        return redirect("correct_elsewhere", sale_id=sale_id)
    form = DropForm(request.POST)
    if form.is_valid():
        reason, at = form.cleaned_data["reason"], timezone.now()
        if attempt(form, lambda: actions.drop_sale(row.pk, reason=reason, by=request.actor, at=at)) is not None:
            messages.success(request, f"{row.year} {row.make} {row.model} is taken out.")
            return redirect("elsewhere")
    shown = {"row": row, "form": CorrectionForm(initial=initial_of(row)), "drop": form}
    return render(request, "inventory/elsewhere/correct.html", shown, status=422)


@require_http_methods(["GET", "POST"])
@staff_page(Act.RECORD_ELSEWHERE)
def upload(request: StaffRequest) -> HttpResponse:
    return send(request, flow=TOLD)


@require_http_methods(["GET", "POST"])
@staff_page(Act.RECORD_ELSEWHERE)
def review(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    return look(request, flow=TOLD, code=code)


@require_GET
@staff_page(Act.RECORD_ELSEWHERE)
def rejects(request: StaffRequest, code: uuid.UUID) -> FileResponse:
    return rejects_of(flow=TOLD, code=code)


def _tell(request: StaffRequest, *, said: Elsewhere, what: str) -> None:
    """What was done, and what is odd about it: kept, and worth a look."""
    messages.success(request, f"{said.year} {said.make} {said.model} is {what}; it is used in the next fit.")
    for _, remark in ELSEWHERE.oddities(said):
        messages.warning(request, remark)
    for remark in vin_remarks(said.vin, year=said.year):
        messages.warning(request, remark)
