"""Signing in and out, and one's own password."""

from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.actions import staffing
from inventory.forms.account import ChangePasswordForm, SignInForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.rules.roles import Act


class SignIn(LoginView):
    template_name = "inventory/account/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign_in")


@staff_page(Act.SEE_LOT)
def change_password(request: StaffRequest) -> HttpResponse:
    form = ChangePasswordForm(request.POST or None)
    if form.is_valid():
        given = form.cleaned_data
        user = attempt(
            form,
            lambda: staffing.change_own_password(given["old"], new=given["new"], by=request.actor, at=timezone.now()),
        )
        if user is not None:
            update_session_auth_hash(request, user)  # this browser stays signed in, all others are signed out
            messages.success(request, "Your password is changed. You are signed out everywhere else.")
            return redirect("lot")
    return render(request, "inventory/account/change_password.html", {"form": form})
