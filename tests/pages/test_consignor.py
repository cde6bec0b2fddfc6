"""The consignor's page: what is asked, what is answered, and that nothing takes effect in between."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions import agreeing, asking, charging, consenting, linking, questioning
from inventory.actions.consenting import Question
from inventory.errors import Refused
from inventory.models import ConsentRequest, Consignment, Terms
from inventory.queries import consents, facts
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def listed(db: None) -> Consignment:
    return build.consignment(State.LISTED, at=timezone.now())


def ask(stay: Consignment, *, by: Actor, **said: Any) -> ConsentRequest:
    return consenting.ask_consent(stay.pk, question=Question(**said), by=by, at=timezone.now())


def answer(request: ConsentRequest, *, by: Actor, agreed: bool = True) -> None:
    consenting.record_answer(
        request.pk, agreed=agreed, given_by="Ada Fenwick", how="by phone", by=by, at=timezone.now()
    )


def floor_of(stay: Consignment) -> Decimal | None:
    return facts.facts_of(stay, today=timezone.localdate(), by=build.BUILDER).consent_down_to


def test_lower_floor_counts_only_once_it_is_agreed(client: Client, owner: Actor, listed: Consignment) -> None:
    sign_in(client, owner)
    said = {"kind": "floor", "amount": "28,000", "client_key": "5f0f3f34-31f5-4f7e-8bb5-0d1c7a1d2c12"}
    for _ in range(2):  # sent twice it is asked once
        assert client.post(url(listed, "ask_consent"), said).status_code == 302
    row = ConsentRequest.objects.get()
    assert "may be sold for $28,000.00 or more. The lowest price agreed before was $30,000.00." in row.text
    assert floor_of(listed) is None
    given = {"agreed": "yes", "given_by": "Ada Fenwick", "how": "on paper"}
    answered = client.post(url(listed, "record_consent_answer", request_id=row.pk), given, follow=True)
    assert "Agreed by Ada Fenwick" in text_of(answered)
    assert floor_of(listed) == Decimal("28000.00")
    assert client.post(url(listed, "record_consent_answer", request_id=row.pk), given).status_code == 404


def test_unanswered_question_ages_in_sight(client: Client, owner: Actor, listed: Consignment) -> None:
    question = Question(kind="ask", amount=Decimal(45000))
    consenting.ask_consent(listed.pk, question=question, by=owner, at=timezone.now() - timedelta(days=5))
    sign_in(client, owner)
    assert "asked 5 days ago" in text_of(client.get(url(listed, "consignor")))
    assert "the consignor has not answered, asked 5 days ago" in text_of(client.get("/"))


def test_proposed_terms_wait_and_count_from_the_answer(owner: Actor, listed: Consignment) -> None:
    agreeing.agree_terms(
        listed.pk, terms=build.terms(timezone.now(), rate=Decimal(7), signed_by="", signed_on=None), by=owner,
        at=timezone.now(),
    )  # fmt: skip
    before = facts.terms_of(listed)
    assert before is not None
    assert before.number == 1
    request = ask(listed, by=owner, kind="terms")
    assert "7 % of the sale price" in request.text
    answer(request, by=owner)
    assert (facts.terms_of(listed), Terms.objects.count()) == (Terms.objects.get(number=2), 2)


def test_answer_to_terms_that_were_proposed_anew_is_refused(owner: Actor, listed: Consignment) -> None:
    unsigned = build.terms(timezone.now(), signed_by="", signed_on=None)
    agreeing.agree_terms(listed.pk, terms=unsigned, by=owner, at=timezone.now())
    request = ask(listed, by=owner, kind="terms")
    agreeing.agree_terms(listed.pk, terms=unsigned, by=owner, at=timezone.now())
    with pytest.raises(Refused, match="newer terms"):
        answer(request, by=owner)
    assert consents.open_request(request.pk, stay=listed) is not None


def test_ask_below_the_threshold_is_set_by_the_answer_alone(owner: Actor, listed: Consignment) -> None:
    agreeing.agree_terms(
        listed.pk, terms=build.terms(timezone.now(), consent_below=Decimal(47000)), by=owner, at=timezone.now()
    )
    with pytest.raises(Refused) as refusal:
        asking.set_ask(listed.pk, amount=Decimal(46000), by=owner, at=timezone.now())
    assert refusal.value.code == "consent_needed"
    request = ask(listed, by=owner, kind="ask", amount=Decimal(46000))
    assert listed.asks.count() == 1
    answer(request, by=owner)
    assert listed.asks.order_by("-pk")[0].amount == Decimal(46000)
    asking.set_ask(listed.pk, amount=Decimal(46500), by=owner, at=timezone.now())  # what was agreed to covers it


def test_declined_and_taken_back_questions_change_nothing(owner: Actor, listed: Consignment) -> None:
    first = ask(listed, by=owner, kind="floor", amount=Decimal(20000))
    second = ask(listed, by=owner, kind="floor", amount=Decimal(21000))
    first.refresh_from_db()
    assert first.answer.result == "taken_back"
    answer(second, by=owner, agreed=False)
    assert floor_of(listed) is None
    third = ask(listed, by=owner, kind="charge", amount=Decimal(10), charge_kind="repair", what="hose")
    consenting.take_back(third.pk, by=owner, at=timezone.now())
    assert facts.live_charges(listed) == []


def test_agreed_charge_is_charged_with_its_consent(owner: Actor, listed: Consignment) -> None:
    request = ask(listed, by=owner, kind="charge", amount=Decimal("640.00"), charge_kind="repair", what="hoses")
    answer(request, by=owner)
    (charge,) = facts.live_charges(listed)
    assert (charge.amount, charge.agreed_by, charge.consent) == (Decimal("640.00"), "Ada Fenwick", request)


def test_question_of_the_consignor_is_answered_once(client: Client, owner: Actor, listed: Consignment) -> None:
    link, _ = linking.make_link(listed.pk, by=owner, at=timezone.now())
    row = questioning.ask_question(text="Is it dry?", link=link, by=linking.actor_of(link), at=timezone.now())
    sign_in(client, owner)
    assert "Answer what the consignor asked" in text_of(client.get("/"))
    reply = url(listed, "reply_question", question_id=row.pk)
    assert client.post(reply, {"text": "Yes."}).status_code == 302
    assert client.post(reply, {"text": "No."}).status_code == 422
    assert "Yes." in text_of(client.get(url(listed, "consignor")))


def test_page_takes_as_many_queries_with_one_question_as_with_ten(
    client: Client, owner: Actor, listed: Consignment
) -> None:
    sign_in(client, owner)
    ask(listed, by=owner, kind="charge", amount=Decimal(10), charge_kind="repair", what="hose")
    with CaptureQueriesContext(connection) as few:
        client.get(url(listed, "consignor"))
    for count in range(9):
        ask(listed, by=owner, kind="charge", amount=Decimal(10 + count), charge_kind="repair", what="hose")
    with CaptureQueriesContext(connection) as many:
        client.get(url(listed, "consignor"))
    assert len(many) == len(few)


def test_fee_and_storage_follow_from_the_terms(owner: Actor) -> None:
    """250.00 for taking it back early; 12.00 a day after 14 free days: 6 days of 20 after the end, 72.00."""
    now = timezone.now()
    stay = build.consignment(State.INSPECTED, at=now - timedelta(days=100))
    ends = timezone.localdate() - timedelta(days=20)
    agreeing.agree_terms(
        stay.pk, by=owner, at=now - timedelta(days=90),
        terms=build.terms(
            now - timedelta(days=90), ends_on=ends, storage_per_day=Decimal(12), storage_free_days=14,
            withdrawal_fee=Decimal(250), protection_days=60,
        ),
    )  # fmt: skip
    row = charging.charge_storage(stay.pk, by=owner, at=now)
    assert (row.amount, row.kind) == (Decimal("72.00"), "storage")
    with pytest.raises(Refused, match="no storage is due"):
        charging.charge_storage(stay.pk, by=owner, at=now)
    early = build.consignment(State.INSPECTED, at=now)
    agreeing.agree_terms(early.pk, terms=build.terms(now, withdrawal_fee=Decimal(250)), by=owner, at=now)
    build.step_to(State.WITHDRAWN, early, at=now, price=Decimal(1))
    assert [charge.amount for charge in facts.live_charges(early)] == [Decimal("250.00")]
