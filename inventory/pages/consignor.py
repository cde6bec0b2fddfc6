"""The consignor's side of one vehicle: what they are asked, what they ask, and their private link."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import consenting, questioning
from inventory.actions.consenting import Question
from inventory.errors import NotFound
from inventory.forms.consents import AnswerForm, AskForm, ReplyForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import consents, questions_asked
from inventory.queries.links import link_of
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_MONEY)
def consignor(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number)


@require_POST
@staff_page(Act.ASK_CONSENT)
def ask(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = AskForm(request.POST, auto_id="ask-%s")
    if form.is_valid():
        said = dict(form.cleaned_data)
        key = said.pop("client_key")
        row = attempt(
            form,
            lambda: consenting.ask_consent(
                stay.pk, question=Question(**said), client_key=key, by=request.actor, at=timezone.now()
            ),
        )
        if row is not None:
            messages.success(request, "The consignor is asked. Nothing changes before they have answered.")
            return redirect("consignor", stock_number=stock_number)
    return _show(request, stock_number, ask_form=form)


@require_POST
@staff_page(Act.RECORD_ANSWER)
def record_answer(request: StaffRequest, stock_number: str, request_id: int) -> HttpResponse:
    _open(stock_number, request_id=request_id)
    form = AnswerForm(request.POST, auto_id=f"answer{request_id}-%s")
    if form.is_valid():
        said = form.said()
        deed = lambda: consenting.record_answer(request_id, **said, by=request.actor, at=timezone.now())  # noqa: E731
        if attempt(form, deed) is not None:
            messages.success(request, "The answer is recorded.")
            return redirect("consignor", stock_number=stock_number)
    return _show(request, stock_number, answered=(request_id, form))


@require_POST
@staff_page(Act.ASK_CONSENT)
def take_back(request: StaffRequest, stock_number: str, request_id: int) -> HttpResponse:
    _open(stock_number, request_id=request_id)
    consenting.take_back(request_id, by=request.actor, at=timezone.now())
    messages.success(request, "The question is taken back.")
    return redirect("consignor", stock_number=stock_number)


@require_POST
@staff_page(Act.ANSWER_QUESTION)
def reply(request: StaffRequest, stock_number: str, question_id: int) -> HttpResponse:
    stay = stay_by_number(stock_number)
    if not questions_asked.questions_of(stay).filter(pk=question_id).exists():
        raise NotFound("not_found", f"There is no such question on {stock_number}.", got=question_id)
    form = ReplyForm(request.POST, auto_id=f"reply{question_id}-%s")
    if form.is_valid():
        deed = lambda: questioning.answer_question(  # noqa: E731
            question_id, text=form.cleaned_data["text"], by=request.actor, at=timezone.now()
        )
        if attempt(form, deed) is not None:
            messages.success(request, "The answer is on the consignor's status page.")
            return redirect("consignor", stock_number=stock_number)
    return _show(request, stock_number, replied=(question_id, form))


def _open(stock_number: str, *, request_id: int) -> None:
    if consents.open_request(request_id, stay=stay_by_number(stock_number)) is None:
        raise NotFound("not_found", f"No such question waits on {stock_number}.", got=request_id)


def _show(
    request: StaffRequest,
    stock_number: str,
    *,
    ask_form: AskForm | None = None,
    answered: tuple[int, AnswerForm] | None = None,
    replied: tuple[int, ReplyForm] | None = None,
) -> HttpResponse:
    stay = stay_by_number(stock_number)
    failed_answer, failed_reply = dict([answered] if answered else []), dict([replied] if replied else [])
    context = {
        "stay": stay,
        "here": "consignor",
        "ask_form": ask_form or AskForm(auto_id="ask-%s"),
        "ask_failed": ask_form is not None,
        "questions": [
            (row, failed_answer.get(row.row.pk) or AnswerForm(auto_id=f"answer{row.row.pk}-%s"))
            for row in consents.question_rows(stay, today=timezone.localdate())
        ],
        "asked_by_consignor": [
            (row, failed_reply.get(row.pk) or ReplyForm(auto_id=f"reply{row.pk}-%s"))
            for row in questions_asked.questions_of(stay)
        ],
        "link": link_of(stay),
    }
    status = 422 if ask_form or answered or replied else 200
    return render(request, "inventory/consignor/page.html", context, status=status)
