"""The mail to consignors: what went out and what did not, and how each kind is worded."""

from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from inventory.actions import mailing
from inventory.forms.messages import MailSearch, TextForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import messages as queries
from inventory.rules import mail_texts
from inventory.rules.mail_texts import Wording
from inventory.rules.messages import LINK_MARK, paragraphs
from inventory.rules.roles import Act
from inventory.rules.words import MessageKind


@require_safe
@staff_page(Act.SEE_MESSAGES)
def mails(request: StaffRequest) -> HttpResponse:
    search = MailSearch(request.GET)
    status = search.cleaned_data["status"] if search.is_valid() else ""
    shown = queries.mail_page(status=status, place=request.GET.get("place", ""))
    return render(request, "inventory/messages/page.html", {"search": search, "shown": shown, "piece": shown.piece})


@staff_page(Act.SEE_MESSAGES)
def send_again(request: StaffRequest, message_id: int) -> HttpResponse:
    if request.method != "POST":
        return redirect("mails")
    form = Form(request.POST)
    row = attempt(form, lambda: mailing.send_again(message_id, by=request.actor, at=timezone.now()))
    if row is not None:
        messages.success(request, f"The mail to {row.to} is waiting to be sent again.")
    for told in form.non_field_errors():
        messages.error(request, str(told))
    return redirect("mails")


@require_safe
@staff_page(Act.SEE_MESSAGES)
def texts(request: StaffRequest) -> HttpResponse:
    return render(request, "inventory/messages/texts.html", {"texts": queries.texts()})


@require_http_methods(["GET", "POST"])
@staff_page(Act.EDIT_MESSAGES)
def text(request: StaffRequest, kind: str) -> HttpResponse:
    """Look at a wording first, which writes nothing; keep it; or go back to the house's own."""
    of = queries.kind_called(kind)
    known = queries.text_in_force(of)
    begin = {"subject": known.wording.subject, "body": known.wording.body, "version": known.number}
    form = TextForm(request.POST or None, initial=begin)
    looked = None
    if form.is_valid():
        do = request.POST.get("do", "look")
        if do != "look" and _kept(request, form, of=of, do=do):
            return redirect("mail_text", kind=kind)
        looked = _look(form, of=of)
    shown = {
        "kind": of, "known": known, "form": form, "looked": looked, "places": mail_texts.places_of(of),
        "versions": queries.versions_of(of), "mark": LINK_MARK,
    }  # fmt: skip
    return render(request, "inventory/messages/text.html", shown, status=422 if form.errors else 200)


def _kept(request: StaffRequest, form: TextForm, *, of: MessageKind, do: str) -> bool:
    said, by, at = form.cleaned_data, request.actor, timezone.now()
    if do == "own":
        row = attempt(form, lambda: mailing.set_house_text(of, version=said["version"], by=by, at=at))
    else:
        row = attempt(form, lambda: mailing.set_text(of, **said, by=by, at=at))
    if row is not None:
        messages.success(request, f"Version {row.number} is used for mails from now on.")
    return row is not None


def _look(form: TextForm, *, of: MessageKind) -> dict[str, Any] | None:
    """The wording with an invented vehicle, as it would be sent."""
    if form.errors:
        return None
    said = form.cleaned_data
    worded = Wording(said["subject"], said["body"])
    attempt(form, lambda: mailing.check_text(of, subject=worded.subject, body=worded.body))
    if form.errors:
        return None
    filled = mail_texts.filled(worded, values=mail_texts.EXAMPLE)
    return {"subject": filled.subject, "paragraphs": paragraphs(filled.body)}
