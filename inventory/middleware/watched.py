"""Each request gets a number, one line in the log and its place in the counts."""

import logging
import time
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.functional import SimpleLazyObject

from inventory import logs, metrics

access = logging.getLogger("inventory.access")


class Watched:
    """The server's own access log stays off: it would write paths, and with them link tokens."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        given = request.headers.get("X-Request-Id", "") if settings.BEHIND_PROXY else ""
        number = logs.request_id_for(given)
        began = time.perf_counter()
        with logs.about(request=number), metrics.IN_FLIGHT.track_inprogress():
            response = self.get_response(request)
            response["X-Request-Id"] = number
            _tell(request, status=response.status_code, seconds=time.perf_counter() - began)
        return response


def _tell(request: HttpRequest, *, status: int, seconds: float) -> None:
    route, method = logs.route_of(request), request.method or ""
    metrics.answered(route=route, method=method, status=status, seconds=seconds)
    facts = {"route": route, "method": method, "status": status, "ms": int(seconds * 1000)}
    if role := role_of(request):
        facts["role"] = role
    access.log(logging.WARNING if status >= 500 else logging.INFO, "answered", extra={"facts": facts})


def role_of(request: HttpRequest) -> str:
    """The role of whoever asked, if that is known already: the log asks no database."""
    caller = request.__dict__.get("user")
    if isinstance(caller, SimpleLazyObject):
        caller = request.__dict__.get("_cached_user")  # set once somebody asked who it is
    if caller is None or not caller.is_authenticated:
        return ""
    return str(caller.as_actor().role.value)
