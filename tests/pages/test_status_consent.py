"""Behind the private link: a question is read and answered, the lot is asked, mail is chosen. Opening does nothing."""

import re
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.actions import agreeing, asking, consenting, linking, offering, questioning
from inventory.actions.consenting import Question
from inventory.models import ConsentAnswer, ConsentRequest, Consignment, ConsignorQuestion, LogEntry
from inventory.queries import facts
from inventory.queries.messages import turned_off
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(client: Client, now: datetime) -> Consignment:
    """Listed, and its link opened in this browser."""
    row = build.consignment(State.LISTED, at=now)
    _, token = linking.make_link(row.pk, by=build.BUILDER, at=now)
    client.get(reverse("open_link", args=[token]))
    return row


def ask(stay: Consignment, *, kind: str = "floor", amount: str = "27000.00", at: datetime | None = None) -> Any:
    given = None if kind == "terms" else Decimal(amount)
    return consenting.ask_consent(
        stay.pk, question=Question(kind=kind, amount=given), by=build.BUILDER, at=at or timezone.now()
    )


def agree_url(row: ConsentRequest) -> str:
    return reverse("status_agree", args=[row.consignment.code, row.code])


def said(row: ConsentRequest, **changes: Any) -> dict[str, Any]:
    return {"text": row.text, "given_by": "Ada Fenwick", "read": "on", "do": "agree", **changes}


def page_of(client: Client, stay: Consignment) -> str:
    return text_of(client.get(reverse("status", args=[stay.code])))


def test_question_waits_at_the_top_and_is_in_effect_when_agreed_to(client: Client, stay: Consignment) -> None:
    row = ask(stay, at=timezone.now() - timedelta(days=4))
    page = page_of(client, stay)
    assert page.index("The lot asks you") < page.index("What has happened")
    assert "asked 4 days ago" in page
    shown = text_of(client.get(agree_url(row)))
    assert row.text in shown
    assert not ConsentAnswer.objects.exists()  # reading answers nothing
    done = text_of(client.post(agree_url(row), said(row), follow=True))
    assert "Agreed</strong> by Ada Fenwick on" in done
    assert "With that the lowest price agreed was changed." in done
    answer = ConsentAnswer.objects.get()
    assert (answer.text, answer.link, answer.how) == (row.text, stay.links.get(), "status page")
    page = page_of(client, stay)
    assert "The lot asks you" not in page
    assert "You have since agreed to a sale at <strong>$27,000.00</strong> or more." in page
    assert "Ada Fenwick agreed: a sale below the floor" in page


def test_agreed_ask_is_the_ask_and_a_declined_one_changes_nothing(client: Client, stay: Consignment) -> None:
    declined, agreed = ask(stay, kind="ask", amount="45000.00"), None
    done = client.post(agree_url(declined), said(declined, do="decline", read=""), follow=True)
    assert "Nothing has changed." in text_of(done)
    assert facts.current_ask(stay).amount == Decimal("48500.00")  # type: ignore[union-attr]
    agreed = ask(stay, kind="ask", amount="44000.00")
    client.post(agree_url(agreed), said(agreed))
    page = page_of(client, stay)
    assert "Asking price changed from $48,500.00 to $44,000.00" in page
    assert '<p class="figure">$44,000.00</p>' in page


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"given_by": " "}, "Type your full name"),
        ({"read": ""}, "Tick that you have read it"),
        ({"do": ""}, "Choose to agree or to decline"),
        ({"text": "Something else"}, "The text has changed since the page was opened"),
        ({"text": ""}, "The page does not say what was on it"),
    ],
)
def test_incomplete_answer_is_refused_and_the_page_comes_back(
    client: Client, stay: Consignment, changes: dict[str, str], told: str
) -> None:
    row = ask(stay)
    response = client.post(agree_url(row), said(row, **changes))
    assert response.status_code == 422
    assert told in text_of(response)
    assert row.text in text_of(response)  # what is sent next is the text as it stands
    assert not ConsentAnswer.objects.exists()


def test_second_answer_is_told_of_the_first_and_names_nobody_of_the_lot(
    client: Client, stay: Consignment, owner: Actor
) -> None:
    row = ask(stay)
    consenting.take_back(row.pk, by=owner, at=timezone.now())
    response = client.post(agree_url(row), said(row))
    page = text_of(response)
    assert response.status_code == 422
    assert "What you sent just now was not taken." in page
    assert "Taken back by the lot" in page
    assert owner.name not in page + page_of(client, stay)
    assert ConsentAnswer.objects.count() == 1


def test_superseded_terms_are_refused_in_plain_words(client: Client, stay: Consignment, now: datetime) -> None:
    draft = build.terms(now, signed_by="", signed_on=None, rate=Decimal(8))
    agreeing.agree_terms(stay.pk, terms=draft, by=build.BUILDER, at=now)
    row = ask(stay, kind="terms")
    agreeing.agree_terms(stay.pk, terms=draft, by=build.BUILDER, at=now)
    response = client.post(agree_url(row), said(row))
    assert response.status_code == 422
    assert "The lot has proposed newer terms since." in text_of(response)


def test_terms_agreed_to_over_several_lines_as_a_browser_sends_them(
    client: Client, stay: Consignment, now: datetime
) -> None:
    """HTML, form submission: line ends are sent as CR LF."""
    draft = build.terms(now, signed_by="", signed_on=None, rate=Decimal(8))
    agreeing.agree_terms(stay.pk, terms=draft, by=build.BUILDER, at=now)
    row = ask(stay, kind="terms")
    client.post(agree_url(row), said(row, text=row.text.replace("\n", "\r\n")))
    page = page_of(client, stay)
    assert "Your terms, version 2" in page
    assert "8 % of the sale price" in page


def test_question_of_another_stay_is_not_found(client: Client, stay: Consignment, now: datetime) -> None:
    other = ask(build.consignment(State.LISTED, at=now))
    address = reverse("status_agree", args=[stay.code, other.code])
    assert client.get(address).status_code == 404
    assert client.post(address, said(other)).status_code == 404
    assert not ConsentAnswer.objects.exists()


def test_answer_without_the_forms_token_or_the_cookie_is_refused(stay: Consignment) -> None:
    row = ask(stay)
    strict = Client(enforce_csrf_checks=True)
    response = strict.post(agree_url(row), said(row))
    assert response.status_code == 403
    assert "This was not taken" in text_of(response)
    assert response["X-Robots-Tag"] == "noindex, nofollow"
    assert Client().post(agree_url(row), said(row)).status_code == 404
    assert not ConsentAnswer.objects.exists()


def test_question_is_asked_answered_and_signed_by_the_lot_alone(
    client: Client, stay: Consignment, owner: Actor
) -> None:
    address = reverse("status_ask", args=[stay.code])
    page = text_of(client.post(address, {"text": "When is the next showing?"}, follow=True))
    assert "Your question is with the lot." in page
    assert "Not answered yet." in page
    row = ConsignorQuestion.objects.get()
    questioning.answer_question(row.pk, text="On Saturday.", by=owner, at=timezone.now())
    page = page_of(client, stay)
    assert "On Saturday." in page
    assert owner.name not in page
    refused = client.post(address, {"text": "  "})
    assert refused.status_code == 422
    assert "Write what you want to know." in text_of(refused)


def test_mail_is_chosen_and_the_page_shows_the_choice(client: Client, stay: Consignment) -> None:
    address = reverse("status_mail", args=[stay.code])
    page = client.post(address, {"wanted": ["offer", "sold"]}, follow=True).content.decode()
    assert "Your choice of mail is kept." in page
    ticked = re.findall(r'name="wanted" value="(\w+)"[^>]* checked', page)
    assert ticked == ["offer", "sold"]
    assert "summary" in turned_off(stay.consignor)
    assert client.post(address, {"wanted": ["gossip"]}).status_code == 422


def test_more_than_twenty_deeds_in_an_hour_wait(client: Client, stay: Consignment) -> None:
    address = reverse("status_ask", args=[stay.code])
    answers = [client.post(reverse("status_ask", args=[stay.code]), {"text": ""}) for _ in range(21)]
    assert [row.status_code for row in answers] == [422] * 20 + [429]
    assert 0 < int(answers[-1]["Retry-After"]) <= 3600
    assert client.post(address, {"text": "x"}).status_code == 429
    assert client.get(reverse("status", args=[stay.code])).status_code == 200  # reading goes on


def test_offers_show_their_conditions_and_those_held_back_are_not_there(client: Client, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(stay, at=now, ask=Decimal(48500), convey_from=Decimal(40000))
    asking.list_vehicle(stay.pk, by=build.BUILDER, at=now)
    day = timezone.localdate(now) + timedelta(days=3)
    for amount in ("41000.00", "12345.00"):
        offering.log_offer(
            stay.pk, amount=Decimal(amount), bidder="Zebulon Bidder", conditions="after a test drive",
            expires_on=day, by=build.BUILDER, at=now,
        )  # fmt: skip
    client.get(reverse("open_link", args=[linking.make_link(stay.pk, by=build.BUILDER, at=now)[1]]))
    page = page_of(client, stay)
    assert f"$41,000.00</strong>, not answered yet; stands until {day}; on condition: after a test drive" in page
    assert "12,345.00" not in page
    assert LogEntry.objects.filter(action="link.used").count() == 1


def test_papers_open_by_the_link_of_their_own_stay_alone(client: Client, owner: Actor) -> None:
    """Statement and agreement are made when asked for; another consignor's link opens neither."""
    stay = build.consignment(State.SETTLED, at=timezone.now())
    other = build.consignment(State.ON_LOT, at=timezone.now())
    for row in (stay, other):
        _, token = linking.make_link(row.pk, by=owner, at=timezone.now())
        client.get(reverse("open_link", args=[token]))
    number = stay.settlements.get().number
    for route, named in (("status_statement", number), ("status_agreement", 1)):
        paper = client.get(reverse(route, args=[stay.code, named]))
        assert (paper.status_code, paper.content[:5]) == (200, b"%PDF-")
        assert (
            reverse(route, args=[stay.code, named]) in client.get(reverse("status", args=[stay.code])).content.decode()
        )
        assert client.get(reverse(route, args=[other.code, named])).status_code == 404
