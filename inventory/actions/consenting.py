"""Questions to the consignor: asked, answered, and only then in effect."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import agreeing, asking, charging, conceding, logbook, owning
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import ConsentAnswer, ConsentRequest, Consignment, StatusLink, Terms, WorkOrder
from inventory.queries import consents, facts
from inventory.rules import money
from inventory.rules.consent import ONE_AT_A_TIME, text_of
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.words import ChargeKind, ConsentKind, ConsentResult


@dataclass(frozen=True, kw_only=True)
class Question:
    """What the consignor is asked: an amount, and for a charge its kind and what for. Terms are named by number."""

    kind: str
    amount: Decimal | None = None
    what: str = ""
    charge_kind: str = ""
    vendor: str = ""
    answer_by: date | None = None


@transaction.atomic
def ask_consent(
    consignment_id: int, *, question: Question, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> ConsentRequest:
    """Put one question to the consignor. It changes nothing before it is answered."""
    require(by, Act.ASK_CONSENT)
    stay = locked(consignment_id)
    if (known := again(ConsentRequest, client_key=client_key)) is not None:
        return known
    kind = _kind(question.kind)
    terms = _check(stay, question=question, kind=kind, at=at)
    if kind in ONE_AT_A_TIME:
        _take_back_open(stay, kind=kind, by=by, at=at)
    row = add(
        ConsentRequest(
            consignment=stay, kind=kind, text=_text(stay, question=question, kind=kind, terms=terms, at=at),
            amount=question.amount, terms=terms, charge_kind=question.charge_kind, what=question.what.strip(),
            vendor=question.vendor.strip(), answer_by=question.answer_by, client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    change(stay)
    logbook.record("consent.asked", row, by=by, at=at, consignment=stay, text=row.text)
    return row


def _kind(given: str) -> ConsentKind:
    if given not in ConsentKind.values:
        raise Refused("kind_unknown", f"“{given}” is nothing to ask about.", field="kind", got=given,
                      mend=f"Give one of {', '.join(ConsentKind.labels)}.")  # fmt: skip
    return ConsentKind(given)


def _check(stay: Consignment, *, question: Question, kind: ConsentKind, at: datetime) -> Terms | None:
    """Refuse what could not take effect anyway."""
    owning.refuse_own(stay, what="nobody is asked about it")
    today = trade_day(at)
    if question.answer_by is not None and question.answer_by < today:
        raise Refused("answer_by_past", f"{question.answer_by} is past.", field="answer_by",
                      got=str(question.answer_by), mend="Give a day from today on.")  # fmt: skip
    _check_state(stay, kind=kind)
    if kind is ConsentKind.TERMS:
        return _proposal(stay)
    if question.amount is None:
        raise Refused("no_amount", "The amount is missing.", field="amount", mend="Give the amount asked about.")
    money.check_amount(question.amount, field="amount", minimum=money.CENT)
    if kind in {ConsentKind.CHARGE, ConsentKind.CONCESSION} and not question.what.strip():
        raise Refused("no_reason", "It does not say what for.", field="what", mend="Say it as they shall read it.")
    if kind is ConsentKind.CHARGE and question.charge_kind not in ChargeKind.values:
        raise Refused("kind_unknown", "The kind of charge is missing.", field="charge_kind",
                      got=question.charge_kind, mend="Choose the kind.")  # fmt: skip
    if kind is ConsentKind.ASK:
        asking.refuse_below_floor(stay, amount=question.amount, at=at)
    if kind is ConsentKind.CONCESSION:
        conceding.check_concession(stay, amount=question.amount)
    return None


def _check_state(stay: Consignment, *, kind: ConsentKind) -> None:
    fits = {
        ConsentKind.FLOOR: stay.state in BEFORE_SOLD,
        ConsentKind.TERMS: stay.state in BEFORE_SOLD,
        ConsentKind.ASK: stay.state in asking.ASKABLE,
        ConsentKind.CHARGE: stay.state != State.RELEASED and facts.settlement_of(stay) is None,
        ConsentKind.CONCESSION: stay.state in {State.SOLD, State.SETTLED} and facts.settlement_of(stay) is None,
    }
    if not fits[kind]:
        raise Refused(
            "too_late", f"{stay.stock_number} is {stay.get_state_display()}: {kind.label} cannot be agreed now.",
            field="kind", got=stay.state, mend="See what the state of the vehicle allows.",
        )  # fmt: skip


def _proposal(stay: Consignment) -> Terms:
    """The newest version, if the consignor has not accepted it yet."""
    last = Terms.objects.filter(consignment=stay).order_by("-number").first()
    if last is None or facts.is_accepted(last):
        raise Refused(
            "no_proposal", "There is no version of the terms that waits for the consignor.", field="kind",
            mend="Record new terms without a signature first.",
        )  # fmt: skip
    return last


def _text(stay: Consignment, *, question: Question, kind: ConsentKind, terms: Terms | None, at: datetime) -> str:
    asked = consents.asked(
        stay, kind=kind, amount=question.amount, what=question.what.strip(), charge_kind=question.charge_kind,
        terms=terms, today=trade_day(at),
    )  # fmt: skip
    return text_of(kind, asked=asked)


def _take_back_open(stay: Consignment, *, kind: ConsentKind, by: Actor, at: datetime) -> None:
    for row in consents.open_requests(stay).filter(kind=kind):
        _answer(row, result=ConsentResult.TAKEN_BACK, given_by=by.name, how="asked anew", link=None, by=by, at=at)


@transaction.atomic
def take_back(request_id: int, *, by: Actor, at: datetime) -> ConsentAnswer:
    """The lot no longer wants the answer."""
    require(by, Act.ASK_CONSENT)
    row = _locked_request(ConsentRequest.objects.filter(pk=request_id).first())
    return _answer(row, result=ConsentResult.TAKEN_BACK, given_by=by.name, how="by the lot", link=None, by=by, at=at)


def drop(row: ConsentRequest, *, how: str, by: Actor, at: datetime) -> ConsentAnswer:
    """What was asked about has gone or changed: inside the caller's transaction, with the stay locked."""
    open_row = _locked_request(row)
    return _answer(open_row, result=ConsentResult.TAKEN_BACK, given_by=by.name, how=how, link=None, by=by, at=at)


@transaction.atomic
def record_answer(request_id: int, *, agreed: bool, given_by: str, how: str, by: Actor, at: datetime) -> ConsentAnswer:
    """What the consignor said on paper or on the phone, recorded by staff with who and how."""
    require(by, Act.RECORD_ANSWER)
    row = _locked_request(ConsentRequest.objects.filter(pk=request_id).first())
    if not how.strip():
        raise Refused("no_way", "It does not say how the answer came.", field="how", mend="Say it: on paper, by phone.")
    return _take_answer(row, agreed=agreed, given_by=given_by, how=how.strip(), link=None, by=by, at=at)


@transaction.atomic
def answer_by_link(
    code: uuid.UUID, *, agreed: bool, given_by: str, text: str, link: StatusLink, by: Actor, at: datetime
) -> ConsentAnswer:
    """The consignor's own answer on the status page, to the text that stood there."""
    require(by, Act.ANSWER_CONSENT)
    row = _locked_request(ConsentRequest.objects.filter(code=code, consignment=link.consignment_id).first())
    if _plain(text) != _plain(row.text):
        raise Refused("other_text", "The text has changed since the page was opened.", field="text",
                      mend="Read it again, then answer.")  # fmt: skip
    return _take_answer(row, agreed=agreed, given_by=given_by, how="status page", link=link, by=by, at=at)


def _plain(text: str) -> str:
    """A browser sends line ends its own way."""
    return "\n".join(text.strip().splitlines())


def _locked_request(row: ConsentRequest | None) -> ConsentRequest:
    if row is None:
        raise NotFound("not_found", "There is no such question.")
    row.consignment = locked(row.consignment_id)
    done = ConsentAnswer.objects.filter(request=row).first()
    if done is not None:
        raise Refused(
            "answered_already", f"This was {done.get_result_display()} by {done.given_by} on {trade_day(done.at)}.",
            field="request", mend="Look at the page again.",
        )  # fmt: skip
    return row


def _take_answer(
    row: ConsentRequest, *, agreed: bool, given_by: str, how: str, link: StatusLink | None, by: Actor, at: datetime
) -> ConsentAnswer:
    if not given_by.strip():
        raise Refused("no_name", "The name is missing.", field="given_by", mend="Give the full name of who answers.")
    result = ConsentResult.AGREED if agreed else ConsentResult.DECLINED
    said = _answer(row, result=result, given_by=given_by.strip(), how=how, link=link, by=by, at=at)
    if agreed:
        _take_effect(row, said=said, by=by, at=at)
    return said


def _answer(
    row: ConsentRequest, *, result: ConsentResult, given_by: str, how: str, link: StatusLink | None, by: Actor,
    at: datetime,
) -> ConsentAnswer:  # fmt: skip
    said = add(
        ConsentAnswer(
            request=row, result=result, given_by=given_by, how=how, text=row.text, link=link, by=by.name, at=at
        )
    )
    change(row.consignment)
    logbook.record(
        "consent.answered", said, by=by, at=at, consignment=row.consignment, name=given_by,
        result=said.get_result_display(), how=how, text=row.text,
    )  # fmt: skip
    return said


def _take_effect(row: ConsentRequest, *, said: ConsentAnswer, by: Actor, at: datetime) -> None:
    """What was asked comes into effect, in the transaction of the answer; what cannot any more refuses the answer."""
    stay, kind = row.consignment, ConsentKind(row.kind)
    _check_state(stay, kind=kind)
    if kind is ConsentKind.TERMS:
        _check_still_newest(row)
        return  # the answer itself is what makes this version count
    assert row.amount is not None  # noqa: S101  # the database refuses a question about money without an amount
    if kind is ConsentKind.FLOOR:
        agreeing.append_consent(
            stay, down_to=row.amount, given_by=said.given_by, how=said.how, text=row.text, by=by, at=at
        )
    elif kind is ConsentKind.ASK:
        asking.append_agreed(stay, amount=row.amount, asked_by=row.by, by=by, at=at)
    elif kind is ConsentKind.CHARGE:
        if WorkOrder.objects.filter(consent=row).exists():
            return  # work is charged when its invoice is there, and at most this much
        charging.append_agreed(row, agreed_by=said.given_by, by=by, at=at)
    else:
        conceding.append_agreed(row, by=by, at=at)


def _check_still_newest(row: ConsentRequest) -> None:
    newer = Terms.objects.filter(consignment=row.consignment_id, number__gt=row.terms.number) if row.terms else None
    if newer is not None and newer.exists():
        raise Refused("superseded", "The lot has proposed newer terms since.", field="request",
                      mend="Look at the page again.")  # fmt: skip
