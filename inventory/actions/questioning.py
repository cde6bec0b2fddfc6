"""Questions of consignors: asked on the status page, answered by staff."""

from datetime import datetime, timedelta

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, locked
from inventory.errors import NotFound, Refused
from inventory.models import ConsignorQuestion, QuestionAnswer, StatusLink
from inventory.rules.roles import Act, Actor, require

MOST_A_DAY = 20  # questions of one consignment; more is a robot or a slip


@transaction.atomic
def ask_question(*, text: str, link: StatusLink, by: Actor, at: datetime) -> ConsignorQuestion:
    """Keep a question of the consignor; it stands in the log and waits for an answer."""
    require(by, Act.ASK_QUESTION)
    stay = locked(link.consignment_id)
    asked = ConsignorQuestion.objects.filter(consignment=stay, at__gt=at - timedelta(days=1))
    if not text.strip():
        raise Refused("no_text", "The question is empty.", field="text", mend="Write what you want to know.")
    same = asked.filter(text=text.strip()).first()
    if same is not None:
        return same
    if asked.count() >= MOST_A_DAY:
        raise Refused("too_many", f"There were {MOST_A_DAY} questions today.", field="text", mend="Phone the lot.")
    row = add(ConsignorQuestion(consignment=stay, text=text.strip(), link=link, at=at))
    logbook.record("question.asked", row, by=by, at=at, consignment=stay, text=row.text)
    return row


@transaction.atomic
def answer_question(question_id: int, *, text: str, by: Actor, at: datetime) -> QuestionAnswer:
    require(by, Act.ANSWER_QUESTION)
    question = ConsignorQuestion.objects.filter(pk=question_id).first()
    if question is None:
        raise NotFound("not_found", "There is no such question.", got=question_id)
    stay = locked(question.consignment_id)
    if QuestionAnswer.objects.filter(question=question).exists():
        raise Refused("answered_already", "This question is answered already.", field="text")
    row = add(QuestionAnswer(question=question, text=text.strip(), by=by.name, at=at))
    logbook.record("question.answered", row, by=by, at=at, consignment=stay, text=row.text)
    return row
