"""Wrong passwords are counted by django-axes, in the database and so for all workers; here is what it asks the house.

Nothing but the typed name (the one that the owner knows, so that a wait can be lifted), a stand-in for the address and
a count is kept. The address itself, the browser and the page are not. Tries of a browser that is known for the account
(`known_browsers`) are counted by themselves, under a digest that stands where others keep what the browser says it is.
"""

from datetime import timedelta
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.crypto import salted_hmac

from inventory.pages.known_browsers import known_as
from inventory.rules import throttle

WAIT = timedelta(seconds=throttle.SIGN_IN_WAIT)


def client_of(request: HttpRequest) -> str:
    """The network of whoever asks."""
    return throttle.client_of(
        remote=request.META.get("REMOTE_ADDR", ""),
        forwarded=request.META.get("HTTP_X_FORWARDED_FOR", ""),
        behind_proxy=settings.BEHIND_PROXY,
    )


def address_of(request: HttpRequest) -> str:
    """For a column that takes nothing but an address."""
    return throttle.stand_in(salted_hmac("inventory.sign_in", client_of(request), algorithm="sha256").hexdigest())


def name_of(_: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """As the account is looked up, so that other capitals are no fresh start."""
    return str((credentials or {}).get("username") or "").strip().lower()[:60]


class SignInTries(AxesDatabaseHandler):  # type: ignore[misc]
    """One count for an account, another for an address, one for each known browser; the least that can be kept."""

    def filter_user_attempts(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> list[Any]:
        """All that axes reads goes through here: a known browser's own rows, or those of everybody else."""
        of_account, of_address = super().filter_user_attempts(request, credentials)
        known = known_as(request, name=name_of(request, credentials))
        return [of_account.filter(user_agent=known), of_address.none() if known else of_address.filter(user_agent="")]

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        of_account, of_address = (
            sum(rows.values_list("failures_since_start", flat=True))
            for rows in self.get_user_attempts(request, credentials)
        )
        return throttle.sign_in_failures(of_account=of_account, of_address=of_address)

    def user_login_failed(
        self, sender: Any, credentials: dict[str, Any], request: Any = None, **kwargs: Any
    ) -> None:  # fmt: skip
        if request is not None:
            request.axes_user_agent = known_as(request, name=name_of(request, credentials))
            request.axes_http_accept = request.axes_path_info = ""
        super().user_login_failed(sender, credentials, request, **kwargs)

    def seconds_left(self, request: Any, *, credentials: dict[str, Any] | None) -> int:
        """Until the last wrong try that counts is forgotten."""
        last = max(
            (at for rows in self.get_user_attempts(request, credentials)
             for at in rows.values_list("attempt_time", flat=True)),
            default=timezone.now(),
        )  # fmt: skip
        return max(1, round((last + WAIT - timezone.now()).total_seconds()))


def told_to_wait(request: HttpRequest, _: Any, credentials: dict[str, Any] | None) -> HttpResponse:
    """The same answer whether there is such an account or not."""
    left = AxesProxyHandler.get_implementation().seconds_left(request, credentials=credentials)
    until = timezone.now() + timedelta(seconds=left)
    answer = render(request, "inventory/account/wait.html", {"until": until, "minutes": -(-left // 60)}, status=429)
    answer["Retry-After"] = str(left)
    return answer
