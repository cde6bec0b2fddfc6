"""Signing in and out, one's own password, and where one is signed in."""

from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import sessions, staffing
from inventory.forms.account import ChangePasswordForm, SignInForm
from inventory.pages import known_browsers, signed_in
from inventory.pages.access import StaffRequest, attempt, open_page, staff_page
from inventory.queries import sign_in as queries
from inventory.rules.roles import Act


@method_decorator(open_page("whoever works here signs in by it"), name="dispatch")
class SignIn(LoginView):
    template_name = "inventory/account/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        answer = super().form_valid(form)
        user = form.get_user()
        signed_in.note(self.request, user_id=user.pk)
        signed_in.stamp_check(self.request)
        if user.has_second_factor:  # the code comes first
            return answer
        return known_browsers.remember(answer, request=self.request, user=user)


@require_POST
@open_page("it ends a session, where there is one")
def sign_out(request: HttpRequest) -> HttpResponse:
    if request.user.is_authenticated:
        sessions.forget(signed_in.digest_of(request))
    logout(request)
    return redirect("sign_in")


@require_GET
@never_cache
@staff_page(Act.SEE_LOT)
def your_sign_in(request: StaffRequest) -> HttpResponse:
    user_id = request.actor.id or 0
    shown = {
        "sessions": queries.sessions_of(
            user_id, this=signed_in.digest_of(request), network=signed_in.network_of(request), at=timezone.now()
        ),
        "codes_left": queries.recovery_codes_left(user_id),
    }
    return render(request, "inventory/account/page.html", shown)


@require_POST
@staff_page(Act.SEE_LOT)
def end_session(request: StaffRequest, session_id: int) -> HttpResponse:
    """One's own, or, for the owner, anybody's. This one ends by signing out."""
    keep = signed_in.digest_of(request)
    whose = sessions.end_one(session_id, keep=keep, by=request.actor, at=timezone.now())
    messages.success(request, "That browser is signed out.")
    return redirect("your_sign_in") if whose.pk == request.actor.id else redirect("change_staff", user_id=whose.pk)


@require_POST
@staff_page(Act.SEE_LOT)
def end_other_sessions(request: StaffRequest) -> HttpResponse:
    count = sessions.end_others(keep=signed_in.digest_of(request), by=request.actor, at=timezone.now())
    messages.success(request, f"Signed out elsewhere: {count}.")
    return redirect("your_sign_in")


@staff_page(Act.SEE_LOT)
def change_password(request: StaffRequest) -> HttpResponse:
    form = ChangePasswordForm(request.POST or None)
    if form.is_valid():
        given, keep = form.cleaned_data, signed_in.digest_of(request)
        user = attempt(
            form,
            lambda: staffing.change_own_password(
                given["old"], new=given["new"], keep=keep, by=request.actor, at=timezone.now()
            ),
        )
        if user is not None:
            update_session_auth_hash(request, user)  # this browser stays signed in, all others are signed out
            signed_in.note(request, user_id=user.pk)
            signed_in.stamp_check(request)
            messages.success(request, "Your password is changed. You are signed out everywhere else.")
            return known_browsers.remember(redirect("lot"), request=request, user=user)
        if "old" in form.errors:
            signed_in.count_wrong(request)
    return render(request, "inventory/account/change_password.html", {"form": form})
