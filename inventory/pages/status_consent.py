"""What a consignor does behind the private link: answers, asks, and chooses mail. Nothing here happens by opening."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.actions import consenting, mailing, questioning
from inventory.actions.linking import actor_of
from inventory.forms.status import AgreeForm, MailForm, QuestionForm
from inventory.pages import throttling
from inventory.pages.access import attempt, link_page
from inventory.pages.status import show
from inventory.queries import status_consent as queries
from inventory.rules.roles import Act

AGREE = "inventory/status/agree.html"


@require_http_methods(["GET", "HEAD", "POST"])
@link_page(Act.SEE_STATUS, post=Act.ANSWER_CONSENT)
def agree(request: HttpRequest, *, link: Any, asked: uuid.UUID) -> HttpResponse:
    """One question with its exact text; afterwards, what was answered, by whom and when."""
    stay, today = link.consignment, timezone.localdate()
    row = queries.asked(asked, stay=stay, today=today)
    form = AgreeForm(request.POST if request.method == "POST" else None, initial={"text": row.text})
    if request.method == "POST":
        throttling.count_deed(link.pk)
        if form.is_valid() and _answered(form, code=asked, link=link):
            return redirect("status_agree", code=stay.code, asked=asked)
        row = queries.asked(asked, stay=stay, today=today)  # somebody may have answered meanwhile
    status = 422 if form.is_bound else 200
    return render(request, AGREE, {"code": stay.code, "vehicle": stay.vehicle, "row": row, "form": form}, status=status)


def _answered(form: AgreeForm, *, code: uuid.UUID, link: Any) -> bool:
    said = form.said()
    row = attempt(
        form,
        lambda: consenting.answer_by_link(code, **said, link=link, by=actor_of(link), at=timezone.now()),
    )
    return row is not None


@require_POST
@link_page(Act.ASK_QUESTION)
def ask(request: HttpRequest, *, link: Any) -> HttpResponse:
    throttling.count_deed(link.pk)
    form = QuestionForm(request.POST, auto_id="question-%s")
    if form.is_valid():
        text = form.cleaned_data["text"]
        deed = lambda: questioning.ask_question(text=text, link=link, by=actor_of(link), at=timezone.now())  # noqa: E731
        if attempt(form, deed) is not None:
            messages.success(request, "Your question is with the lot. The answer will stand on this page.")
            return redirect("status", code=link.consignment.code)
    return show(request, link=link, question=form)


@require_POST
@link_page(Act.CHOOSE_MAIL)
def choose_mail(request: HttpRequest, *, link: Any) -> HttpResponse:
    throttling.count_deed(link.pk)
    form = MailForm(request.POST, auto_id="mail-%s")
    if not form.is_valid():
        return show(request, link=link, mail=form)
    mailing.choose_all(
        link.consignment.consignor_id, wanted=form.cleaned_data["wanted"], by=actor_of(link), at=timezone.now()
    )
    messages.success(request, "Your choice of mail is kept.")
    return redirect("status", code=link.consignment.code)
