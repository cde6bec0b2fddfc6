"""Consent on a phone, from the link in the mail to the ask in effect; the page at its emptiest and its fullest."""

from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from inventory.actions import charging, consenting, linking, offering, questioning
from inventory.actions.consenting import Question
from inventory.models import Consignment, ConsignorQuestion
from inventory.queries import facts
from inventory.rules.states import State
from tests import build
from tests.browser.chromium import DESKTOP, PHONE
from tests.browser.conftest import Open
from tests.browser.looking import looked_at

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
LONG = "Wilhelmina-Theodora Featherstonehaugh-Cholmondeley of the Lower Marshes and Upper Meadows Estate"


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def full_stay(*, at: datetime) -> Consignment:
    stay = build.consignment(
        State.LISTED, at=at, make="Merrow-Blankenship", model="Alder Grand Tourer de Luxe", consignor_name=LONG
    )
    offering.log_offer(
        stay.pk, amount=Decimal(41000), bidder="Zeb", conditions="after a test drive and a look from below",
        by=build.BUILDER, at=at,
    )  # fmt: skip
    charging.add_charge(
        stay.pk, kind="repair", what="new master cylinder, lines and fluid", amount=Decimal("612.40"),
        agreed_by="Ada", by=build.BUILDER, at=at,
    )  # fmt: skip
    asked = Question(kind="ask", amount=Decimal("44000.00"))
    consenting.ask_consent(stay.pk, question=asked, by=build.BUILDER, at=at)
    return stay


def test_consignor_agrees_on_a_phone_and_the_ask_is_in_effect(open_page: Open, now: datetime) -> None:
    stay = full_stay(at=now)
    _, token = linking.make_link(stay.pk, by=build.BUILDER, at=now)
    page = open_page(viewport=PHONE)
    page.goto(f"/status/open/{token}")
    assert token not in page.url
    looked_at(page, "waiting")
    page.get_by_role("link", name="Read and answer").click()
    page.get_by_text("at an asking price of $44,000.00 instead of $48,500.00").wait_for()
    page.get_by_label("Your full name").fill(LONG)
    page.get_by_role("button", name="I agree").click()
    page.get_by_text("Tick that you have read it").wait_for()
    looked_at(page, "refused")
    assert page.get_by_label("Your full name").input_value() == LONG
    page.get_by_label("I have read the text above").check()
    page.get_by_role("button", name="I agree").click()
    page.get_by_text("With that the asking price was changed.").wait_for()
    looked_at(page, "agreed")
    ask = facts.current_ask(stay)
    assert ask is not None
    assert ask.amount == Decimal("44000.00")
    page.get_by_role("link", name="Back to").click()
    page.get_by_label("Your question to the lot").fill("When is the next showing?")
    page.get_by_role("button", name="Send the question").click()
    page.get_by_text("Your question is with the lot.").wait_for()
    question = ConsignorQuestion.objects.get()
    questioning.answer_question(question.pk, text="On Saturday at ten.", by=build.BUILDER, at=now)
    page.reload()
    page.get_by_text("On Saturday at ten.").wait_for()
    page.set_viewport_size(DESKTOP)
    looked_at(page, "full")


def test_emptiest_page_and_a_link_that_opens_nothing(open_page: Open, now: datetime) -> None:
    _, token = linking.make_link(build.consignment(at=now).pk, by=build.BUILDER, at=now)
    page = open_page(viewport=PHONE)
    page.goto(f"/status/open/{token}")
    page.get_by_text("No offers so far.").wait_for()
    looked_at(page, "empty")
    page.goto("/status/open/nonsense")
    page.get_by_role("heading", name="This link is not valid").wait_for()
    looked_at(page, "not-valid")
