"""What all pages under a private link share: the cookie, the one answer to what is not valid, and the headers."""

import uuid
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from inventory import logs
from inventory.errors import NotFound
from inventory.pages import throttling
from inventory.pages.throttling import TooMany
from inventory.queries import links
from inventory.rules.roles import Role

View = Callable[..., HttpResponseBase]
PREFIX = "/status/"
PRIVATE = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "same-origin",  # with no-referrer a form's Origin is null and CSRF refuses it
    "X-Content-Type-Options": "nosniff",
    "X-Robots-Tag": "noindex, nofollow",
}


class PrivateAnswers:
    """Every answer under the prefix, refusals and files too, is kept by no cache and found by no search."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if f"{request.path_info}/".startswith(PREFIX):
            for name, value in PRIVATE.items():
                response[name] = value
        return response


def by_link(view: View) -> View:
    """Only for the cookie that opens this stay; the view is given the link."""

    @wraps(view)
    def guarded(request: HttpRequest, code: uuid.UUID, **kwargs: Any) -> HttpResponseBase:
        return answer(
            request,
            find=lambda: links.live_link(token_of(request, code=code), code=code, at=timezone.now()),
            then=lambda link: view(request, link=link, **kwargs),
        )

    return guarded


def answer(
    request: HttpRequest, *, find: Callable[[], Any], then: Callable[[Any], HttpResponseBase]
) -> HttpResponseBase:
    """Find the link, then act on it. Unknown, malformed, expired, revoked and another stay's: one answer."""
    try:
        throttling.refuse_flood(request)
        try:
            link = find()
        except NotFound:
            throttling.count_failure(request)
            return not_valid(request)
        logs.add(role=Role.CONSIGNOR.value)
        return then(link)
    except NotFound:  # the link is right, what it asks for is not there
        return not_valid(request)
    except TooMany as problem:
        return wait(request, seconds=problem.seconds)


def not_valid(request: HttpRequest) -> HttpResponse:
    return render(request, "inventory/status/not_valid.html", status=404)


def wait(request: HttpRequest, *, seconds: int) -> HttpResponse:
    response = render(request, "inventory/status/wait.html", {"minutes": -(-seconds // 60)}, status=429)
    response["Retry-After"] = str(seconds)
    return response


def cookie_name(code: uuid.UUID) -> str:
    """With HTTPS the browser itself sees to it that only this host set the cookie, and over TLS."""
    return f"{'__Host-' if settings.HTTPS else ''}status_{code.hex}"


def token_of(request: HttpRequest, *, code: uuid.UUID) -> str:
    """What the browser was given; the database is asked each time whether it still opens anything."""
    return request.COOKIES.get(cookie_name(code), "")


def keep_token(response: HttpResponse, *, code: uuid.UUID, token: str, lasts: timedelta) -> None:
    response.set_cookie(
        cookie_name(code), token, max_age=lasts, path="/", secure=settings.HTTPS, httponly=True, samesite="Lax"
    )
