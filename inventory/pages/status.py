"""The consignor's status page, opened by a private link; and, for staff, the link itself."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.actions import linking
from inventory.errors import NotFound
from inventory.forms.status import REVOKE, LinkForm, MailForm, QuestionForm, mail_first
from inventory.pages import serving
from inventory.pages.access import ANY, StaffRequest, attempt, link_page, open_page, staff_page
from inventory.pages.by_link import answer, keep_token, not_valid
from inventory.pages.receipts import paper
from inventory.queries import links
from inventory.queries import status as queries
from inventory.queries.media import public_clip, public_photo
from inventory.queries.pricing_desk import stay_by_number
from inventory.queries.receipts import receipt as receipt_of
from inventory.rules.roles import Act


@require_safe
@open_page("the token in the address is the key")
def open_link(request: HttpRequest, token: str) -> HttpResponseBase:
    """Swap the token for a cookie, so that it stands in no address from here on."""
    at = timezone.now()
    return answer(
        request,
        find=lambda: links.live_link(token, at=at),
        then=lambda link: _opened(request, link=link, token=token),
    )


def _opened(request: HttpRequest, *, link: Any, token: str) -> HttpResponse:
    """Mail scanners open links too: nothing is answered or used up, only that it was opened is noted."""
    at, code = timezone.now(), link.consignment.code
    if request.method == "GET":
        linking.use_link(token, at=at)
    response = redirect("status", code=code)
    keep_token(response, code=code, token=token, lasts=links.ends_at(link, at=at) - at)
    return response


@require_safe
@link_page(Act.SEE_STATUS)
def status(request: HttpRequest, *, link: Any) -> HttpResponse:
    return show(request, link=link)


def show(
    request: HttpRequest, *, link: Any, question: QuestionForm | None = None, mail: MailForm | None = None
) -> HttpResponse:
    """The whole page; with a form that was refused, as it was sent."""
    page = queries.page(link.consignment, today=timezone.localdate())
    context = {
        "page": page,
        "question": question or QuestionForm(auto_id="question-%s"),
        "mail": mail or MailForm(auto_id="mail-%s", initial={"wanted": mail_first(page.mail_off)}),
        "refused": question or mail,
    }
    return render(request, "inventory/status/page.html", context, status=422 if question or mail else 200)


@require_safe
@link_page(Act.SEE_STATUS)
def photo(request: HttpRequest, *, link: Any, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(public_photo(link.consignment, code=photo).file)


@require_safe
@link_page(Act.SEE_STATUS)
def small_photo(request: HttpRequest, *, link: Any, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(public_photo(link.consignment, code=photo).small)


@require_safe
@link_page(Act.SEE_STATUS)
def clip(request: HttpRequest, *, link: Any, clip: uuid.UUID) -> HttpResponseBase:
    row = public_clip(link.consignment, code=clip)
    return serving.clip(request, row.file, size=row.bytes, sha256=row.sha256, content_type=row.content_type)


@require_safe
@link_page(Act.SEE_STATUS)
def receipt(request: HttpRequest, *, link: Any, receipt: uuid.UUID) -> HttpResponseBase:
    return paper(receipt_of(receipt, stay=link.consignment))


@open_page("whatever is not there answers like a link that is not valid", takes=ANY)
def nothing(request: HttpRequest) -> HttpResponseBase:
    """Whatever else is asked for under the prefix."""
    return answer(request, find=_nothing, then=lambda _: not_valid(request))


def _nothing() -> None:
    raise NotFound("not_found", "There is nothing here.")


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
    context = {"stay": stay, "here": "link", "form": form, "address": address, "link": links.link_of(stay)}
    response = render(request, "inventory/status/link.html", context, status=422 if form.errors else 200)
    response["Cache-Control"] = "no-store"
    return response
