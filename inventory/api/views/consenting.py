"""Questions between lot and consignor, and their answers."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import consenting, questioning
from inventory.actions.consenting import Question
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.consenting import (
    ConsentAnswerGiven,
    ConsentRequestGiven,
    ConsentRequestShown,
    ConsignorQuestionShown,
    QuestionAnswerGiven,
)
from inventory.api.views.base import Answering, Rows
from inventory.queries import money_records
from inventory.rules.roles import Act


class ConsentRequests(Rows):
    """What the consignor was asked to agree to, with the answers, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.ASK_CONSENT}
    serializer_class = ConsentRequestShown

    def rows(self) -> QuerySet[Any]:
        return money_records.consent_requests(self.stay, by=self.by)

    @writes(ConsentRequestGiven, ConsentRequestShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Put one question to the consignor. It changes nothing before it is answered."""
        question = Question(**self.given(ConsentRequestGiven))
        return self.done(ConsentRequestShown, lambda: self.posed(question))

    def posed(self, question: Question) -> Any:
        row = consenting.ask_consent(self.stay.pk, question=question, by=self.by, at=self.at)
        return money_records.consent_request(self.stay, request_id=row.pk, by=self.by)


class ConsentAnswers(Answering):
    acts = {"post": Act.RECORD_ANSWER}

    @writes(ConsentAnswerGiven, ConsentRequestShown)
    def post(self, request: Request, stock_number: str, request_id: int) -> Response:
        """Record what the consignor said. What was agreed to takes effect with it."""
        given = self.given(ConsentAnswerGiven)
        asked = money_records.consent_request(self.stay, request_id=request_id, by=self.by)
        return self.done(ConsentRequestShown, lambda: self.answered(asked.pk, **given))

    def answered(self, request_id: int, **given: Any) -> Any:
        consenting.record_answer(request_id, **given, by=self.by, at=self.at)
        return money_records.consent_request(self.stay, request_id=request_id, by=self.by)


class ConsentTakenBack(Answering):
    acts = {"post": Act.ASK_CONSENT}

    @writes(Nothing, ConsentRequestShown)
    def post(self, request: Request, stock_number: str, request_id: int) -> Response:
        """The lot no longer wants the answer."""
        self.given(Nothing)
        asked = money_records.consent_request(self.stay, request_id=request_id, by=self.by)
        return self.done(ConsentRequestShown, lambda: self.taken_back(asked.pk))

    def taken_back(self, request_id: int) -> Any:
        consenting.take_back(request_id, by=self.by, at=self.at)
        return money_records.consent_request(self.stay, request_id=request_id, by=self.by)


class ConsignorQuestions(Rows):
    """What the consignor asked on the status page, with the answers, newest first."""

    acts = {"get": Act.ANSWER_QUESTION}
    serializer_class = ConsignorQuestionShown

    def rows(self) -> QuerySet[Any]:
        return money_records.questions(self.stay, by=self.by)


class QuestionAnswers(Answering):
    acts = {"post": Act.ANSWER_QUESTION}

    @writes(QuestionAnswerGiven, ConsignorQuestionShown)
    def post(self, request: Request, stock_number: str, question_id: int) -> Response:
        """Answer one question, once. The answer stands on the status page."""
        given = self.given(QuestionAnswerGiven)
        asked = money_records.question(self.stay, question_id=question_id, by=self.by)
        return self.done(ConsignorQuestionShown, lambda: self.answered(asked.pk, **given))

    def answered(self, question_id: int, **given: Any) -> Any:
        questioning.answer_question(question_id, **given, by=self.by, at=self.at)
        return money_records.question(self.stay, question_id=question_id, by=self.by)
