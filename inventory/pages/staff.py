"""Staff, tokens and the settings of the lot; for the owner."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

from inventory.actions import recording, staffing
from inventory.forms.staff import ChangeStaffForm, LotForm, NewStaffForm, NewTokenForm, initial_of
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import staff as queries
from inventory.rules.roles import Act


@staff_page(Act.MANAGE_STAFF)
def staff(request: StaffRequest) -> HttpResponse:
    if request.method != "POST":
        return _show(request)
    form = NewStaffForm(request.POST, auto_id="new_%s")
    if form.is_valid():
        given = dict(form.cleaned_data)
        username = given.pop("username")
        row = attempt(form, lambda: staffing.add_staff(username, **given, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"{row} may sign in as {row.username}.")
            return redirect("staff")
    return _show(request, new=form)


def _show(request: StaffRequest, *, secret: str = "", **sent: BaseForm) -> HttpResponse:
    """The whole page; a form that was sent and refused stands open in its place."""
    page = queries.staff_page()
    blank = {
        "new": NewStaffForm(auto_id="new_%s"), "token": NewTokenForm(auto_id="token_%s"),
        "lot": LotForm(initial=initial_of(LotForm, row=page.settings), auto_id="lot_%s"),
    }  # fmt: skip
    shown = {"page": page, "forms": {**blank, **sent}, "sent": list(sent), "secret": secret}
    return render(request, "inventory/staff/page.html", shown)


@staff_page(Act.MANAGE_STAFF)
def change_staff(request: StaffRequest, user_id: int) -> HttpResponse:
    member = queries.member(user_id)
    form = ChangeStaffForm(request.POST or None, initial=initial_of(ChangeStaffForm, row=member))
    if form.is_valid():
        row = attempt(
            form,
            lambda: staffing.change_staff(user_id, values=form.cleaned_data, by=request.actor, at=timezone.now()),
        )
        if row is not None:
            if row.pk == request.actor.id:
                update_session_auth_hash(request, row)  # whoever changes their own password stays signed in here
            messages.success(request, f"{row} is changed.")
            return redirect("staff")
    return render(request, "inventory/staff/change.html", {"member": member, "form": form})


@staff_page(Act.MANAGE_STAFF)
def make_token(request: StaffRequest) -> HttpResponse:
    """The token is shown in the answer itself, once: kept in no session, no message and no browser's store."""
    if request.method != "POST":
        return redirect("staff")
    form = NewTokenForm(request.POST, auto_id="token_%s")
    if form.is_valid():
        given = form.cleaned_data
        made = attempt(
            form, lambda: staffing.make_token(given["name"], role=given["role"], by=request.actor, at=timezone.now())
        )
        if made is not None:
            answer = _show(request, secret=made[1])
            add_never_cache_headers(answer)
            return answer
    return _show(request, token=form)


@staff_page(Act.MANAGE_STAFF)
def revoke_token(request: StaffRequest, token_id: int) -> HttpResponse:
    if request.method == "POST":
        row = staffing.revoke_token(token_id, by=request.actor, at=timezone.now())
        messages.success(request, f"{row.name} can no longer get in.")
    return redirect("staff")


@staff_page(Act.MANAGE_STAFF)
def change_lot(request: StaffRequest) -> HttpResponse:
    if request.method != "POST":
        return redirect("staff")
    form = LotForm(request.POST, auto_id="lot_%s")
    if form.is_valid():
        row = attempt(form, lambda: recording.change_lot(form.cleaned_data, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, "The settings are kept.")
            return redirect("staff")
    return _show(request, lot=form)
