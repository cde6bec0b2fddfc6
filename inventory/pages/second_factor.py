"""The second factor: the step after the password, switching it on and off, recovery codes."""

from typing import Any

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from django_otp import login as mark_verified

from inventory.actions import second_factor
from inventory.forms.account import BareForm, CodeForm, ConfirmForm
from inventory.pages import known_browsers, signed_in
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries.facts import the_lot
from inventory.queries.sign_in import pending_device
from inventory.rules import sign_in
from inventory.rules.roles import Act
from inventory.rules.sign_in import Owed


@never_cache
@staff_page(Act.SEE_LOT, answers=Owed.CODE)
def sign_in_code(request: StaffRequest) -> HttpResponse:
    """After the password. Whoever gave the code already, or has no second factor, is let through."""
    if request.owed is None:
        return redirect(_way_on(request))
    form = CodeForm(request.POST or None)
    if form.is_valid():
        device = attempt(
            form, lambda: second_factor.check(form.cleaned_data["code"], by=request.actor, at=timezone.now())
        )
        if device is not None:
            _verified(request, device=device)
            return known_browsers.remember(redirect(_way_on(request)), request=request, user=request.user)
    return render(request, "inventory/account/code.html", {"form": form, "next": _asked(request)})


@never_cache
@staff_page(Act.SEE_LOT, answers=Owed.SET_UP)
def set_up_factor(request: StaffRequest) -> HttpResponse:
    if request.user.has_second_factor:  # type: ignore[union-attr]  # staff only
        return redirect("your_sign_in")
    return _set_up(request, form=ConfirmForm(), status=200)


@never_cache
@require_POST
@staff_page(Act.SEE_LOT, answers=Owed.SET_UP)
def begin_factor(request: StaffRequest) -> HttpResponse:
    """A secret of one's own, once the password was typed lately."""
    form = BareForm(request.POST)
    signed_in.ask_again(request, form=form)
    if not form.is_valid() or not signed_in.is_known(request, form=form):
        return _set_up(request, form=ConfirmForm(), status=422, begin=form)
    if attempt(form, lambda: second_factor.begin(by=request.actor, at=timezone.now())) is not None:
        return redirect("set_up_factor")
    return _set_up(request, form=ConfirmForm(), status=422, begin=form)


@never_cache
@require_POST
@staff_page(Act.SEE_LOT, answers=Owed.SET_UP)
def switch_on_factor(request: StaffRequest) -> HttpResponse:
    """The recovery codes are in this answer and nowhere else."""
    form = ConfirmForm(request.POST)
    if form.is_valid():
        device = pending_device(request.actor.id or 0)
        codes = attempt(
            form,
            lambda: second_factor.switch_on(
                form.cleaned_data["code"], keep=signed_in.digest_of(request), by=request.actor, at=timezone.now()
            ),
        )
        if codes is not None and device is not None:
            _verified(request, device=device)
            shown = render(request, "inventory/account/recovery_codes.html", {"codes": codes, "is_new": True})
            return known_browsers.remember(shown, request=request, user=request.user)
    return _set_up(request, form=form, status=422)


@never_cache
@staff_page(Act.SEE_LOT)
def switch_off_factor(request: StaffRequest) -> HttpResponse:
    """With the password and a code, both."""
    form = CodeForm(request.POST or None)
    signed_in.ask_again(request, form=form, always=True)
    if form.is_valid() and signed_in.is_known(request, form=form):
        keep, given = signed_in.digest_of(request), form.cleaned_data["code"]
        user = attempt(
            form, lambda: second_factor.switch_off(given, keep=keep, by=request.actor, at=timezone.now())
        )  # fmt: skip
        if user is not None:
            messages.success(request, "Your second factor is off. You are signed out everywhere else.")
            return redirect("your_sign_in")
    return render(request, "inventory/account/switch_off.html", {"form": form}, status=422 if form.errors else 200)


@never_cache
@staff_page(Act.SEE_LOT)
def renew_recovery_codes(request: StaffRequest) -> HttpResponse:
    form = BareForm(request.POST if request.method == "POST" else None)
    signed_in.ask_again(request, form=form, always=True)
    if form.is_valid() and signed_in.is_known(request, form=form):
        codes = attempt(form, lambda: second_factor.renew_recovery_codes(by=request.actor, at=timezone.now()))
        if codes is not None:
            return render(request, "inventory/account/recovery_codes.html", {"codes": codes})
    return render(request, "inventory/account/new_codes.html", {"form": form}, status=422 if form.errors else 200)


def _set_up(request: StaffRequest, *, form: ConfirmForm, status: int, begin: BareForm | None = None) -> HttpResponse:
    """Before the secret was made: a button. After: the code to scan, the same to type, and a field for the answer."""
    device, start = pending_device(request.actor.id or 0), begin or BareForm()
    if begin is None:
        signed_in.ask_again(request, form=start)
    shown = {"form": form, "begin": start, "is_asked": request.owed is not None}
    if device is not None and signed_in.is_fresh(request):
        uri = sign_in.key_uri(request.user.get_username(), issuer=the_lot().name, key=device.bin_key)
        code = segno.make(uri, error="m", micro=False)
        shown |= {
            "secret": sign_in.typed_secret(device.bin_key), "uri": uri,
            "picture": code.svg_data_uri(scale=5, border=4, dark="#000", light="#fff"),
        }  # fmt: skip
    return render(request, "inventory/account/set_up.html", shown, status=status)


def _verified(request: StaffRequest, *, device: Any) -> None:
    """Rights grow with the code, so the session gets a new key."""
    mark_verified(request, device)
    request.session.cycle_key()
    request.owed = None
    signed_in.note(request, user_id=request.actor.id or 0)
    signed_in.stamp_check(request)


def _asked(request: StaffRequest) -> str:
    asked = request.POST.get("next", request.GET.get("next", ""))
    is_here = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if is_here else ""


def _way_on(request: StaffRequest) -> str:
    return _asked(request) or "lot"
