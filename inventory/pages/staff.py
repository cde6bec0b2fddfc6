"""Staff, tokens and the settings of the lot; for the owner."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_POST

from inventory.actions import recording, second_factor, sessions, staffing
from inventory.forms.account import BareForm
from inventory.forms.staff import ChangeStaffForm, FactorRuleForm, LotForm, NewStaffForm, NewTokenForm, initial_of
from inventory.pages import signed_in
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import sign_in
from inventory.queries import staff as queries
from inventory.rules.roles import Act


@staff_page(Act.MANAGE_STAFF)
def staff(request: StaffRequest) -> HttpResponse:
    if request.method != "POST":
        return _show(request)
    form = NewStaffForm(request.POST, auto_id="new_%s")
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        given = dict(form.cleaned_data)
        username = given.pop("username")
        row = attempt(form, lambda: staffing.add_staff(username, **given, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"{row} may sign in as {row.username}.")
            return redirect("staff")
    return _show(request, new=form)


def _show(request: StaffRequest, *, secret: str = "", **sent: BaseForm) -> HttpResponse:
    """The whole page; a form that was sent and refused stands open in its place."""
    page = queries.staff_page(timezone.now())
    blank = {
        "new": NewStaffForm(auto_id="new_%s"), "token": NewTokenForm(auto_id="token_%s"),
        "factor": FactorRuleForm(initial={"second_factor": page.settings.second_factor}, auto_id="factor_%s"),
        "lot": LotForm(initial=initial_of(LotForm, row=page.settings), auto_id="lot_%s"),
    }  # fmt: skip
    for name in ("new", "token"):
        if name not in sent:
            signed_in.ask_again(request, form=blank[name])
    if "factor" not in sent:
        signed_in.ask_again(request, form=blank["factor"], always=True)
    shown = {"page": page, "forms": {**blank, **sent}, "sent": list(sent), "secret": secret}
    return render(request, "inventory/staff/page.html", shown)


@staff_page(Act.MANAGE_STAFF)
def change_staff(request: StaffRequest, user_id: int) -> HttpResponse:
    member = queries.member(user_id)
    form = ChangeStaffForm(request.POST or None, initial=initial_of(ChangeStaffForm, row=member))
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        values, keep = form.cleaned_data, signed_in.digest_of(request)
        row = attempt(
            form,
            lambda: staffing.change_staff(user_id, values=values, keep=keep, by=request.actor, at=timezone.now()),
        )
        if row is not None:
            if row.pk == request.actor.id:
                update_session_auth_hash(request, row)  # whoever changes their own password stays signed in here
                signed_in.note(request, user_id=row.pk)
            messages.success(request, f"{row} is changed.")
            return redirect("staff")
    return _show_member(request, member=member, form=form)


def _show_member(request: StaffRequest, *, member: Any, form: BaseForm, reset: BaseForm | None = None) -> HttpResponse:
    """One member of staff: what can be changed, where they are signed in, what their sign-in stands on."""
    reset_form = reset or BareForm(auto_id="reset_%s")
    if reset is None:
        signed_in.ask_again(request, form=reset_form)
    this, network = signed_in.digest_of(request), signed_in.network_of(request)
    shown = {
        "member": member, "form": form, "reset_form": reset_form,
        "sessions": sign_in.sessions_of(member.pk, this=this, network=network, at=timezone.now()),
        "wait": sign_in.waits(timezone.now()).get(member.username),
    }  # fmt: skip
    return render(request, "inventory/staff/change.html", shown)


@require_POST
@staff_page(Act.MANAGE_STAFF)
def reset_factor(request: StaffRequest, user_id: int) -> HttpResponse:
    """Somebody lost the phone and the recovery codes."""
    member, form = queries.member(user_id), BareForm(request.POST, auto_id="reset_%s")
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        row = attempt(form, lambda: second_factor.reset(user_id, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"{row} signs in with the password alone until they set up another.")
            return redirect("change_staff", user_id=user_id)
    change = ChangeStaffForm(initial=initial_of(ChangeStaffForm, row=member))
    return _show_member(request, member=member, form=change, reset=form)


@require_POST
@staff_page(Act.MANAGE_STAFF)
def lift_wait(request: StaffRequest, user_id: int) -> HttpResponse:
    row = staffing.lift_wait(user_id, by=request.actor, at=timezone.now())
    messages.success(request, f"{row} may try to sign in at once.")
    return redirect("change_staff", user_id=user_id)


@require_POST
@staff_page(Act.MANAGE_STAFF)
def end_staff_sessions(request: StaffRequest, user_id: int) -> HttpResponse:
    """Everywhere; of the owner's own, all but this one."""
    keep = signed_in.digest_of(request)
    count = sessions.end_all_of(user_id, keep=keep, by=request.actor, at=timezone.now())
    messages.success(request, f"Browsers signed out: {count}.")
    return redirect("change_staff", user_id=user_id)


@staff_page(Act.MANAGE_STAFF)
def change_factor_rule(request: StaffRequest) -> HttpResponse:
    if request.method != "POST":
        return redirect("staff")
    form = FactorRuleForm(request.POST, auto_id="factor_%s")
    signed_in.ask_again(request, form=form, always=True)
    if form.is_valid() and signed_in.is_known(request, form=form):
        given = form.cleaned_data
        row = attempt(form, lambda: recording.change_lot(given, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, "The settings are kept.")
            return redirect("staff")
    return _show(request, factor=form)


@staff_page(Act.MANAGE_STAFF)
def make_token(request: StaffRequest) -> HttpResponse:
    """The token is shown in the answer itself, once: kept in no session, no message and no browser's store."""
    if request.method != "POST":
        return redirect("staff")
    form = NewTokenForm(request.POST, auto_id="token_%s")
    signed_in.ask_again(request, form=form)
    if form.is_valid() and signed_in.is_known(request, form=form):
        given = dict(form.cleaned_data)
        name = given.pop("name")
        made = attempt(form, lambda: staffing.make_token(name, **given, by=request.actor, at=timezone.now()))
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
