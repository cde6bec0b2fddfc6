"""The consignor's status page, opened by a private link; and, for staff, the link itself."""

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.actions import linking
from inventory.errors import NotFound
from inventory.forms.status import REVOKE, LinkForm
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.receipts import paper
from inventory.queries import status as queries
from inventory.queries.media import public_clip, public_photo
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.receipts import receipt as receipt_of
from inventory.rules.roles import Act

View = Callable[..., HttpResponseBase]
PRIVATE = {
    "Cache-Control": "no-store",
    "Referrer-Policy": "same-origin",
    "X-Robots-Tag": "noindex, nofollow",
}


def private(view: View) -> View:
    """Kept by no cache, sent to no other site, found by no search; what is not valid is told in plain words."""

    @wraps(view)
    def guarded(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
        try:
            response = view(request, **kwargs)
        except NotFound:
            response = render(request, "inventory/status/not_valid.html", status=404)
        for name, value in PRIVATE.items():
            response[name] = value
        return response

    return guarded


def cookie_name(code: uuid.UUID) -> str:
    """With HTTPS the browser itself sees to it that only this host set the cookie, and over TLS."""
    return f"{'__Host-' if settings.HTTPS else ''}status_{code.hex}"


@require_safe
@private
def open_link(request: HttpRequest, token: str) -> HttpResponse:
    """Swap the token for a cookie, so that it stands in no address from here on."""
    at = timezone.now()
    link = linking.use_link(token, at=at)
    code = link.consignment.code
    response = redirect("status", code=code)
    response.set_cookie(
        cookie_name(code),
        token,
        max_age=link.expires_at - at,
        path="/",
        secure=settings.HTTPS,
        httponly=True,
        samesite="Lax",
    )
    return response


@require_safe
@private
def status(request: HttpRequest, code: uuid.UUID) -> HttpResponse:
    link = queries.live_link(_token(request, code=code), code=code, at=timezone.now())
    page = queries.page(link.consignment, today=timezone.localdate())
    return render(request, "inventory/status/page.html", {"page": page})


@require_safe
@private
def photo(request: HttpRequest, code: uuid.UUID, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(public_photo(_stay(request, code=code), code=photo).file)


@require_safe
@private
def small_photo(request: HttpRequest, code: uuid.UUID, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(public_photo(_stay(request, code=code), code=photo).small)


@require_safe
@private
def clip(request: HttpRequest, code: uuid.UUID, clip: uuid.UUID) -> HttpResponseBase:
    row = public_clip(_stay(request, code=code), code=clip)
    return serving.clip(request, row.file, size=row.bytes, sha256=row.sha256, content_type=row.content_type)


def _stay(request: HttpRequest, *, code: uuid.UUID) -> Any:
    return queries.live_link(_token(request, code=code), code=code, at=timezone.now()).consignment


@require_safe
@private
def receipt(request: HttpRequest, code: uuid.UUID, receipt: uuid.UUID) -> HttpResponseBase:
    link = queries.live_link(_token(request, code=code), code=code, at=timezone.now())
    return paper(receipt_of(receipt, stay=link.consignment))


def _token(request: HttpRequest, *, code: uuid.UUID) -> str:
    """What the browser was given; the database is asked each time whether it still opens anything."""
    return request.COOKIES.get(cookie_name(code), "")


@require_http_methods(["GET", "POST"])
@staff_page(Act.MAKE_LINK)
def manage_link(request: StaffRequest, stock_number: str) -> HttpResponse:
    """The address is shown once, in answer to the post that made it: only a digest of it is kept."""
    stay = stay_by_number(stock_number)
    form = LinkForm(request.POST if request.method == "POST" else None)
    address = ""
    if request.method == "POST" and form.is_valid():
        if form.cleaned_data["do"] == REVOKE:
            linking.revoke_link(stay.pk, by=request.actor, at=timezone.now())
            messages.success(request, "The link is revoked: it opens nothing any more.")
            return redirect("manage_link", stock_number=stock_number)
        made = attempt(form, lambda: linking.make_link(stay.pk, by=request.actor, at=timezone.now()))
        address = request.build_absolute_uri(reverse("open_link", args=[made[1]])) if made else ""
    context = {"stay": stay, "here": "link", "form": form, "address": address, "link": queries.link_of(stay)}
    response = render(request, "inventory/status/link.html", context, status=422 if form.errors else 200)
    response["Cache-Control"] = "no-store"
    return response
