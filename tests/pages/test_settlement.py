"""The settlement page: the draft, what blocks it, the approval to the cent, what is paid out."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import charging, paying
from inventory.actions.paying import Payment
from inventory.models import Consignment, Disbursement, Settlement
from inventory.queries import settlements as queries
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def with_lien(now: datetime) -> Consignment:
    """Sold at 48,500.00: less 9 % 4,365.00, 612.40, 185.00 and a lien of 12,250.37 leaves 31,087.23, by hand."""
    day = timezone.localdate(now)
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(
        stay, at=now, ask=Decimal("48500.00"), lien_holder="Tarn Valley Credit Union",
        lien_amount=Decimal("12250.37"), lien_quoted_on=day, lien_good_until=day + timedelta(days=10),
        starts_on=day, ends_on=day + timedelta(days=60), signed_on=day,
    )  # fmt: skip
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=now)
    for amount in ("612.40", "185.00"):
        charging.add_charge(
            stay.pk, kind="repair", what="work agreed", amount=Decimal(amount), agreed_by="Ada Fenwick",
            by=build.BUILDER, at=now,
        )  # fmt: skip
    build.step_to(State.SOLD, stay, at=now, price=Decimal("48500.00"))
    return stay


def approve(client: Client, stay: Consignment, **changes: Any) -> Any:
    form = client.get(url(stay, "settlement")).context["approve_form"]
    said = {"version": form["version"].value(), "expected_due": form["expected_due"].value(), **changes}
    return client.post(url(stay, "approve_settlement"), said)


def test_draft_shows_each_line_the_money_and_what_blocks_it(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    paying.record_payment(with_lien.pk, payment=Payment(amount=Decimal(20000)), by=owner, at=now)
    page = text_of(sign_in(client, owner).get(url(with_lien, "settlement")))
    for shown in (
        "$48,500.00", "−$4,365.00", "−$612.40", "−$185.00", "−$12,250.37", "$31,087.23", "20 days left",
        "<dt>Received</dt><dd>$20,000.00</dd>", "<dt>Cleared</dt><dd>$0.00</dd>", "<dt>Open</dt><dd>$48,500.00</dd>",
        "money has not cleared in full", "<dt>The lot keeps</dt><dd>$4,365.00</dd>",
    ):  # fmt: skip
        assert shown in page
    assert "Approve $" not in page


def test_approved_amount_equals_the_worked_statement(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    build.pay_in_full(with_lien, at=now)
    assert "Approve $31,087.23" in text_of(sign_in(client, owner).get(url(with_lien, "settlement")))
    assert approve(client, with_lien).status_code == 302
    assert Settlement.objects.get().due == Decimal("31087.23")
    page = text_of(client.get(url(with_lien, "settlement")))
    assert "Due to the consignor" in page
    assert "Nothing has been paid out yet." in page


def test_draft_that_changed_since_it_was_shown_is_refused_at_the_top(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    build.pay_in_full(with_lien, at=now)
    response = approve(sign_in(client, owner), with_lien, expected_due="31087.24")
    assert response.status_code == 422
    assert "The draft now comes to $31,087.23, not $31,087.24." in text_of(response)
    stale = approve(client, with_lien, version=1)
    assert "has changed since you looked" in text_of(stale)
    assert not Settlement.objects.exists()


def test_approval_before_the_money_cleared_is_refused(client: Client, owner: Actor, with_lien: Consignment) -> None:
    response = approve(sign_in(client, owner), with_lien)
    assert response.status_code == 422
    assert "Record the payments and wait" in text_of(response)


def test_lien_quote_that_ran_out_blocks_the_draft_in_words(client: Client, owner: Actor) -> None:
    early = timezone.now() - timedelta(days=3)
    day = timezone.localdate(early)
    stay = build.consignment(State.INSPECTED, at=early)
    build.make_listable(
        stay, at=early, ask=Decimal(48500), lien_holder="Tarn Valley Credit Union", lien_amount=Decimal(100),
        lien_quoted_on=day, lien_good_until=day,
    )  # fmt: skip
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=early)
    build.step_to(State.SOLD, stay, at=early, price=Decimal(48500))
    build.pay_in_full(stay, at=early)
    page = text_of(sign_in(client, owner).get(url(stay, "settlement")))
    assert "Ask the lender for a new quote" in page
    assert "Approve $" not in page
    refused = approve(client, stay, expected_due="1")
    assert "Ask the lender for a new quote" in text_of(refused)


def pay(client: Client, stay: Consignment, **changes: Any) -> Any:
    said = {"payee_kind": "consignor", "payee": "Ada Fenwick", "amount": "31,087.23", "method": "wire", **changes}
    return client.post(url(stay, "pay_settlement"), said)


def test_payments_go_to_each_payee_and_never_beyond_what_is_owed(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    build.pay_in_full(with_lien, at=now)
    approve(sign_in(client, owner), with_lien)
    too_much = pay(client, with_lien, amount="31,087.24")
    assert too_much.status_code == 422
    assert "more than the $31,087.23 left to pay" in too_much.context["pay_form"].errors["amount"][0]
    key = {"client_key": "5f0f3f34-31f5-4f7e-8bb5-0d1c7a1d2c11"}
    for _ in range(2):
        assert pay(client, with_lien, **key, reference="T-77").status_code == 302
    lender = {"payee_kind": "lien_holder", "payee": "Tarn Valley Credit Union", "amount": "12,250.37"}
    assert pay(client, with_lien, **lender, method="cheque").status_code == 302
    assert sum(row.amount for row in Disbursement.objects.all()) == Decimal("43337.60")
    page = text_of(client.get(url(with_lien, "settlement")))
    for shown in ("paid in full", "T-77", "$12,250.37"):
        assert shown in page
    assert "Record a payment" not in page
    assert "days left" not in page


def test_payment_without_a_name_is_refused_on_its_field(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    build.pay_in_full(with_lien, at=now)
    approve(sign_in(client, owner), with_lien)
    response = pay(client, with_lien, payee="", amount="x")
    assert {"payee", "amount"} == set(response.context["pay_form"].errors)
    assert not Disbursement.objects.exists()


def test_payment_before_approval_is_not_found(client: Client, owner: Actor, with_lien: Consignment) -> None:
    assert pay(sign_in(client, owner), with_lien).status_code == 404


def test_negative_settlement_says_due_from_the_consignor(client: Client, owner: Actor, now: datetime) -> None:
    """A sale at 31,000.00 less 9 % 2,790.00 and a lien of 40,000.00 leaves −11,790.00, by hand."""
    day = timezone.localdate(now)
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(
        stay, at=now, ask=Decimal(31000), lien_holder="Tarn Valley Credit Union", lien_amount=Decimal(40000),
        lien_quoted_on=day,
    )  # fmt: skip
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=now)
    build.step_to(State.SOLD, stay, at=now, price=Decimal(31000))
    page = text_of(sign_in(client, owner).get(url(stay, "settlement")))
    assert "Due from the consignor" in page
    assert "−$11,790.00" in page


@pytest.mark.parametrize(
    ("pay_by", "words"),
    # Sold 2026-02-14 and 10 days to pay (RCW 46.70.028): 2026-02-24; today is 2026-02-20 and so on.
    [
        (date(2026, 2, 24), "4 days left"),
        (date(2026, 2, 21), "1 day left"),
        (date(2026, 2, 20), "due today"),
        (date(2026, 2, 19), "1 day late"),
        (date(2026, 2, 10), "10 days late"),
    ],
)
def test_countdown_says_the_days(pay_by: date, words: str) -> None:
    assert queries.countdown(pay_by, today=date(2026, 2, 20)) == words


def test_sales_staff_see_the_draft_but_cannot_approve_or_pay(
    client: Client, sales: Actor, with_lien: Consignment, now: datetime
) -> None:
    build.pay_in_full(with_lien, at=now)
    page = text_of(sign_in(client, sales).get(url(with_lien, "settlement")))
    assert "$31,087.23" in page
    assert "Approve $" not in page
    for name in ("approve_settlement", "pay_settlement"):
        assert client.post(url(with_lien, name)).status_code == 403


def test_intake_staff_are_kept_out_and_strangers_sent_to_sign_in(
    client: Client, intake: Actor, with_lien: Consignment
) -> None:
    assert client.get(url(with_lien, "settlement"))["Location"].startswith(reverse("sign_in"))
    sign_in(client, intake)
    assert client.get(url(with_lien, "settlement")).status_code == 403


def test_nothing_to_settle_is_said_before_a_sale(client: Client, owner: Actor, now: datetime) -> None:
    page = text_of(sign_in(client, owner).get(url(build.consignment(State.LISTED, at=now), "settlement")))
    assert "Nothing to settle" in page


def test_withdrawn_vehicle_shows_its_charges_and_what_was_paid(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=now)
    charging.add_charge(stay.pk, kind="storage", what="storage", amount=Decimal(90), agreed_by="Ada", by=owner, at=now)
    build.step_to(State.WITHDRAWN, stay, at=now, price=Decimal(1))
    charging.record_consignor_payment(stay.pk, amount=Decimal(40), method="cash", by=owner, at=now)
    page = text_of(sign_in(client, owner).get(url(stay, "settlement")))
    assert "<dt>Charges unpaid</dt><dd>$50.00</dd>" in page
    assert "$40.00 on" in page


def test_sale_without_terms_is_told(client: Client, owner: Actor, now: datetime) -> None:
    """The house lists nothing without signed terms; a row brought in round it must not break the page."""
    stay = build.consignment(State.ON_LOT, at=now)
    Consignment.objects.filter(pk=stay.pk).update(state=State.SOLD)
    deal = build.selling.Deal.objects.create(
        consignment=stay, buyer="Bo Larkin", price=Decimal(1000), began_on=timezone.localdate(now),
        ended_on=timezone.localdate(now), end="sold",
        by="tests", at=now,
    )  # fmt: skip
    build.selling.outcomes.append_sale(
        stay, deal=deal, on=timezone.localdate(now), channel="lot", arms_length=True, by=build.BUILDER, at=now
    )
    assert "no terms to settle by" in text_of(sign_in(client, owner).get(url(stay, "settlement")))


def test_page_takes_as_many_queries_with_two_charges_as_with_twenty(
    client: Client, owner: Actor, with_lien: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    with CaptureQueriesContext(connection) as few:
        client.get(url(with_lien, "settlement"))
    for _ in range(18):
        charging.add_charge(
            with_lien.pk, kind="repair", what="more", amount=Decimal(1), agreed_by="Ada", by=owner, at=now
        )
    with CaptureQueriesContext(connection) as many:
        client.get(url(with_lien, "settlement"))
    assert len(many) == len(few)
