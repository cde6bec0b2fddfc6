"""The sale desk: each deed by its form, what is offered to whom, and refusals with nothing lost."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import charging, inquiring, offering, paying, releasing, selling
from inventory.actions.paying import Payment
from inventory.models import (
    BuyerPayment,
    Consent,
    Consignment,
    ConsignorPayment,
    Deal,
    Inquiry,
    Offer,
    SaleOutcome,
    Showing,
)
from inventory.pages.sale_desk import DEEDS
from inventory.queries import sale_desk as queries
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def listed(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def do(client: Client, stay: Consignment, deed: str, **said: Any) -> Any:
    stay.refresh_from_db()
    fields = {"version": stay.version, **said}
    return client.post(url(stay, "sale_deed", deed=deed), {name: str(value) for name, value in fields.items()})


def errors_of(response: Any) -> dict[str, list[str]]:
    """The errors of the one form that was sent, told by field; the page was shown again."""
    assert response.status_code == 422
    slug = response.context["failed"]
    shown = [*response.context["deeds"], *response.context["interest_deeds"]]
    (form,) = [form for name, _, form in shown if name == slug]
    assert f"<details open> <summary>{DEEDS[slug].title}</summary>" in text_of(response)
    return dict(form.errors)


BARGAIN = {"price": "48,500", "buyer": "Bo Larkin"}
INTEREST = {"inquiry", "showing"}
CONSENT = {"given_by": "Ada Fenwick", "how": "by phone", "text": "I agree to 29,000."}


def log_offer(stay: Consignment, amount: str = "45000.00", **more: Any) -> Offer:
    return offering.log_offer(
        stay.pk, amount=Decimal(amount), bidder="Bo Larkin", by=build.BUILDER, at=timezone.now(), **more
    )


@pytest.mark.parametrize(
    ("state", "owner_deeds", "sales_deeds"),
    [
        (State.BOOKED, {"withdraw"}, {"withdraw"}),
        (State.INSPECTED, {"withdraw"}, {"withdraw"}),
        (
            State.LISTED,
            INTEREST | {"offer", "deposit", "sold", "withdraw"},
            INTEREST | {"offer", "deposit", "sold", "withdraw"},
        ),
        (
            State.DEPOSIT,
            INTEREST | {"offer", "sold", "payment", "payment-fate", "extra", "fall-through", "withdraw"},
            INTEREST | {"offer", "sold", "payment", "extra", "fall-through", "withdraw"},
        ),
        (State.SOLD, {"payment", "unwind", "extra", "concession"}, {"payment", "extra"}),
        (State.SETTLED, {"title-sent", "concession", "release"}, {"title-sent", "release"}),
        (State.WITHDRAWN, {"release"}, {"release"}),
        (State.RELEASED, set(), set()),
    ],
)
def test_only_what_state_and_role_allow_is_offered(
    owner: Actor, sales: Actor, now: datetime, state: State, owner_deeds: set[str], sales_deeds: set[str]
) -> None:
    desk = queries.desk(build.consignment(state, at=now), today=timezone.localdate())
    assert set(queries.open_deeds(desk, by=owner)) == owner_deeds
    assert set(queries.open_deeds(desk, by=sales)) == sales_deeds


def test_answer_is_offered_to_the_owner_once_there_is_an_offer(owner: Actor, sales: Actor, listed: Consignment) -> None:
    log_offer(listed)
    desk = queries.desk(listed, today=timezone.localdate())
    assert "answer" in queries.open_deeds(desk, by=owner)
    assert "answer" not in queries.open_deeds(desk, by=sales)


def test_page_shows_the_forms_that_are_offered(client: Client, sales: Actor, listed: Consignment) -> None:
    response = sign_in(client, sales).get(url(listed, "sale_desk"))
    assert [slug for slug, _, _ in response.context["deeds"]] == ["offer", "deposit", "sold", "withdraw"]
    assert "Unwind the sale" not in text_of(response)
    assert f'name="version" value="{listed.version}"' in response.content.decode()


def test_offer_is_logged_once_and_shown_with_what_it_would_leave(
    client: Client, sales: Actor, listed: Consignment
) -> None:
    """29,000.00 less 9 % 2,610.00 leaves 26,390.00, by hand; the floor is 30,000.00."""
    sign_in(client, sales)
    key = client.get(url(listed, "sale_desk")).context["deeds"][0][2]["client_key"].value()
    for _ in range(2):
        response = do(client, listed, "offer", amount="$29,000", bidder="Bo Larkin", client_key=key)
        assert response.status_code == 302
    assert Offer.objects.get().amount == Decimal("29000.00")
    page = text_of(client.get(url(listed, "sale_desk")))
    for shown in ("$29,000.00", "below the floor", "$26,390.00", "Bo Larkin", "not answered"):
        assert shown in page


def test_offer_in_the_future_is_refused_on_its_date_and_nothing_is_lost(
    client: Client, sales: Actor, listed: Consignment
) -> None:
    tomorrow = timezone.localdate() + timedelta(days=1)
    response = do(sign_in(client, sales), listed, "offer", amount="45,000", bidder="Zora Pell", on=tomorrow)
    assert list(errors_of(response)) == ["on"]
    assert 'value="Zora Pell"' in response.content.decode()
    assert not Offer.objects.exists()


def test_offer_without_money_is_refused_on_its_field(client: Client, sales: Actor, listed: Consignment) -> None:
    response = do(sign_in(client, sales), listed, "offer", amount="45k", bidder="")
    assert set(errors_of(response)) == {"amount", "bidder"}


def test_counter_offer_needs_an_amount(client: Client, owner: Actor, listed: Consignment) -> None:
    offer = log_offer(listed)
    response = do(sign_in(client, owner), listed, "answer", offer=offer.pk, answer="countered")
    assert errors_of(response) == {"amount": ["A counter offer has an amount. Give the amount."]}
    assert do(client, listed, "answer", offer=offer.pk, answer="countered", amount="47,000").status_code == 302
    assert "countered at $47,000.00" in text_of(client.get(url(listed, "sale_desk")))


def test_offer_of_another_stay_is_no_choice(client: Client, owner: Actor, listed: Consignment, now: datetime) -> None:
    other = log_offer(build.consignment(State.LISTED, at=now))
    log_offer(listed)
    response = do(sign_in(client, owner), listed, "answer", offer=other.pk, answer="accepted")
    assert list(errors_of(response)) == ["offer"]


def test_deposit_holds_and_sending_the_form_twice_takes_one(client: Client, sales: Actor, listed: Consignment) -> None:
    until = timezone.localdate() + timedelta(days=7)
    said = {
        **BARGAIN, "deposit": "1,000", "method": "card", "hold_until": until, "refundable": "yes",
        "version": listed.version,
        "client_key": "5f0f3f34-31f5-4f7e-8bb5-0d1c7a1d2c11",
    }  # fmt: skip
    for _ in range(2):
        assert do(sign_in(client, sales), listed, "deposit", **said).status_code == 302
    assert Deal.objects.get().hold_until == until
    assert BuyerPayment.objects.get().amount == Decimal("1000.00")
    assert f"<dd>{until}</dd>" in text_of(client.get(url(listed, "sale_desk")))


def test_deposit_above_the_price_is_refused_on_its_field(client: Client, sales: Actor, listed: Consignment) -> None:
    until = timezone.localdate()
    said = {**BARGAIN, "deposit": "50,000", "method": "card", "hold_until": until, "refundable": "yes"}
    assert list(errors_of(do(sign_in(client, sales), listed, "deposit", **said))) == ["deposit"]
    assert not Deal.objects.exists()


def test_hold_that_is_over_is_told(client: Client, sales: Actor) -> None:
    stay = build.consignment(State.DEPOSIT, at=timezone.now() - timedelta(days=9))
    assert "The hold ended on" in text_of(sign_in(client, sales).get(url(stay, "sale_desk")))


def test_deal_that_fell_through_is_kept_with_what_became_of_the_deposit(
    client: Client, sales: Actor, now: datetime
) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    assert list(errors_of(do(sign_in(client, sales), stay, "fall-through", reason=" ", deposit_fate="kept"))) == [
        "reason"
    ]
    assert do(client, stay, "fall-through", reason="loan refused", deposit_fate="returned").status_code == 302
    page = text_of(client.get(url(stay, "sale_desk")))
    assert "fallen through" in page
    assert "loan refused" in page
    assert "return it to the buyer" in page


def test_sale_at_the_ask_is_marked(client: Client, sales: Actor, listed: Consignment) -> None:
    said = {**BARGAIN, "channel": "lot", "concessions": "500", "trade_allowance": "10,000", "trade_value": "9,000"}
    assert do(sign_in(client, sales), listed, "sold", **said).status_code == 302
    outcome = SaleOutcome.objects.get()
    assert (outcome.price, outcome.effective_price) == (Decimal("48500.00"), Decimal("47000.00"))  # − 500 − 1,000
    assert outcome.arms_length is True
    assert "of $38,500.00 received" in text_of(client.get(url(listed, "sale_desk")))


def test_sale_out_of_a_deposit_begins_with_the_deal(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    forms = sign_in(client, sales).get(url(stay, "sale_desk")).context["deeds"]
    (form,) = [form for slug, _, form in forms if slug == "sold"]
    assert (form["price"].value(), form["buyer"].value()) == ("48,500.00", "Bo Larkin")
    assert do(client, stay, "sold", **BARGAIN, channel="online", not_arms_length="on").status_code == 302
    assert SaleOutcome.objects.get().arms_length is False


def test_sale_begins_with_the_offer_that_was_accepted(client: Client, sales: Actor, listed: Consignment) -> None:
    offer = log_offer(listed, contact="555 0100")
    offering.answer_offer(offer.pk, answer="accepted", by=build.BUILDER, at=timezone.now())
    forms = sign_in(client, sales).get(url(listed, "sale_desk")).context["deeds"]
    (form,) = [form for slug, _, form in forms if slug == "sold"]
    assert (form["price"].value(), form["offer"].value()) == ("45,000.00", offer.pk)
    said = {"price": "45,000", "buyer": "Bo Larkin", "offer": offer.pk, "channel": "lot"}
    assert do(client, listed, "sold", **said).status_code == 302
    assert Deal.objects.get().offer == offer


def test_sale_below_the_floor_needs_who_how_and_the_words(client: Client, owner: Actor, listed: Consignment) -> None:
    sign_in(client, owner)
    said = {**BARGAIN, "price": "29,000", "channel": "lot"}
    assert "below the floor" in errors_of(do(client, listed, "sold", **said))["price"][0]
    assert list(errors_of(do(client, listed, "sold", **said, given_by="Ada Fenwick", how="by phone"))) == ["text"]
    assert not Consent.objects.exists()
    assert do(client, listed, "sold", **said, **CONSENT).status_code == 302
    assert Consent.objects.get().down_to == Decimal("29000.00")


def test_consent_and_trade_are_folded_until_something_stands_in_them(
    client: Client, owner: Actor, listed: Consignment
) -> None:
    sign_in(client, owner)
    summary = "<summary>Below the floor: the consignor's consent</summary>".replace("'", "&#x27;")
    assert f"<details> {summary}" in text_of(client.get(url(listed, "sale_desk")))
    said = {**BARGAIN, "price": "29,000", "channel": "lot", "given_by": "Ada Fenwick"}
    assert f"<details open> {summary}" in text_of(do(client, listed, "sold", **said))


def test_sale_on_an_old_page_is_refused_at_the_top_and_writes_nothing(
    client: Client, sales: Actor, listed: Consignment
) -> None:
    response = do(sign_in(client, sales), listed, "sold", **BARGAIN, channel="lot", version=listed.version - 1)
    (told,) = errors_of(response)["__all__"]
    assert "has changed since you looked" in told
    assert f"<p>{told}</p>" in response.content.decode()
    assert not SaleOutcome.objects.exists()


def test_sale_without_a_version_is_refused(client: Client, sales: Actor, listed: Consignment) -> None:
    response = do(sign_in(client, sales), listed, "sold", **BARGAIN, channel="lot", version="")
    assert "which version" in errors_of(response)["__all__"][0]


def test_second_person_who_sells_is_told_by_whom(client: Client, sales: Actor, listed: Consignment) -> None:
    build.step_to(State.SOLD, listed, at=timezone.now(), price=Decimal(48500))
    response = do(sign_in(client, sales), listed, "sold", **BARGAIN, channel="lot")
    assert "sold (by" in errors_of(response)["__all__"][0]
    assert SaleOutcome.objects.count() == 1


def sold(now: datetime, **more: Any) -> Consignment:
    return build.consignment(State.SOLD, at=now, **more)


def test_payment_is_received_then_cleared_by_the_owner(
    client: Client, sales: Actor, owner: Actor, now: datetime
) -> None:
    stay = sold(now)
    assert do(sign_in(client, sales), stay, "payment", amount="48,500", method="wire").status_code == 302
    receipt = BuyerPayment.objects.get()
    fate = {"payment": receipt.pk, "event": "cleared"}
    assert do(client, stay, "payment-fate", **fate).status_code == 403
    assert do(sign_in(client, owner), stay, "payment-fate", **fate).status_code == 302
    assert "cleared in full" in text_of(client.get(url(stay, "sale_desk")))


def test_payment_above_what_is_owed_is_refused_with_what_is_left(client: Client, sales: Actor, now: datetime) -> None:
    response = do(sign_in(client, sales), sold(now), "payment", amount="50,000", method="wire")
    assert "more than the $48,500.00 still to come" in errors_of(response)["amount"][0]


def test_payment_that_bounced_is_owed_again(client: Client, owner: Actor, now: datetime) -> None:
    stay = sold(now)
    receipt = paying.record_payment(stay.pk, payment=Payment(amount=Decimal(48500)), by=owner, at=now)
    assert do(sign_in(client, owner), stay, "payment-fate", payment=receipt.pk, event="bounced").status_code == 302
    page = text_of(client.get(url(stay, "sale_desk")))
    assert "$0.00 of $48,500.00 received" in page
    assert "bounced" in page
    response = do(client, stay, "payment-fate", payment=receipt.pk, event="returned")
    assert "known already" in errors_of(response)["payment"][0]


def test_title_and_vehicle_leave_only_after_the_money(client: Client, sales: Actor, now: datetime) -> None:
    stay = sold(now)
    sign_in(client, sales)
    assert "has not cleared" in errors_of(do(client, stay, "title-sent"))["__all__"][0]
    assert url(stay, "sign_release") not in text_of(client.get(url(stay, "sale_desk")))
    build.pay_in_full(stay, at=now)
    assert do(client, stay, "title-sent").status_code == 302
    assert url(stay, "sign_release") in text_of(client.get(url(stay, "sale_desk")))
    releasing.release(stay.pk, signed_for_by="Bo Larkin", by=sales, at=now)
    stay.refresh_from_db()
    assert (stay.title_sent_on, stay.released_on) == (timezone.localdate(), timezone.localdate())
    page = text_of(client.get(url(stay, "sale_desk")))
    assert "signed for by Bo Larkin" in page
    assert "Nothing on this desk" in page


def test_sale_is_unwound_by_the_owner_only(client: Client, sales: Actor, owner: Actor, now: datetime) -> None:
    stay = sold(now)
    assert do(sign_in(client, sales), stay, "unwind", reason="loan refused").status_code == 403
    assert do(sign_in(client, owner), stay, "unwind", reason="loan refused").status_code == 302
    stay.refresh_from_db()
    assert stay.state == State.LISTED


def test_withdrawn_vehicle_is_released_once_its_charges_are_paid(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.LISTED, at=now)
    charging.add_charge(
        stay.pk, kind="repair", what="hose", amount=Decimal("60.00"), agreed_by="Ada", by=build.BUILDER, at=now
    )
    assert do(sign_in(client, sales), stay, "withdraw", reason="changed_mind").status_code == 302
    assert [slug for slug, _, _ in client.get(url(stay, "sale_desk")).context["deeds"]] == ["charges-paid"]
    assert url(stay, "sign_release") not in text_of(client.get(url(stay, "sale_desk")))
    assert list(errors_of(do(client, stay, "charges-paid", amount="70", method="cash"))) == ["amount"]
    assert do(client, stay, "charges-paid", amount="60", method="cash").status_code == 302
    assert ConsignorPayment.objects.get().amount == Decimal("60.00")
    assert url(stay, "sign_release") in text_of(client.get(url(stay, "sale_desk")))


def test_stay_can_be_withdrawn_although_its_lien_quote_ran_out(client: Client, sales: Actor) -> None:
    early = timezone.now() - timedelta(days=10)
    stay = build.consignment(State.INSPECTED, at=early)
    build.make_listable(
        stay, at=early, ask=Decimal(48500), floor_kind="net", lien_holder="Tarn Valley Credit Union",
        lien_amount=Decimal(100), lien_quoted_on=early.date() - timedelta(days=1), lien_good_until=early.date(),
    )  # fmt: skip
    page = text_of(sign_in(client, sales).get(url(stay, "sale_desk")))
    assert "Ask the lender for a new quote" in page
    assert do(client, stay, "withdraw", reason="price").status_code == 302


def test_desk_before_terms_and_ask_says_what_is_not_there(client: Client, sales: Actor, now: datetime) -> None:
    page = text_of(sign_in(client, sales).get(url(build.consignment(at=now), "sale_desk")))
    for shown in ("not set", "none agreed", "No offers so far."):
        assert shown in page


def test_unknown_deed_is_not_found_and_get_is_no_way(client: Client, owner: Actor, listed: Consignment) -> None:
    assert do(sign_in(client, owner), listed, "give-away").status_code == 404
    assert client.get(url(listed, "sale_deed", deed="sold")).status_code == 405


def test_intake_staff_are_kept_out_and_strangers_sent_to_sign_in(
    client: Client, intake: Actor, listed: Consignment
) -> None:
    for name, more in (("sale_desk", {}), ("sale_deed", {"deed": "offer"})):
        response = client.post(url(listed, name, **more)) if more else client.get(url(listed, name))
        assert response["Location"].startswith(reverse("sign_in"))
    sign_in(client, intake)
    assert client.get(url(listed, "sale_desk")).status_code == 403
    assert do(client, listed, "offer", amount="1", bidder="x").status_code == 403
    assert not Offer.objects.exists()


def test_every_deed_has_its_form_and_its_rule() -> None:
    assert {*DEEDS, "release"} == set(queries.DEEDS_OPEN)  # a release has a page of its own, with its receipt
    assert {slug: deed.form.slug for slug, deed in DEEDS.items()} == {slug: slug for slug in DEEDS}


def test_page_takes_as_many_queries_with_one_offer_as_with_twenty(
    client: Client, owner: Actor, listed: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    log_offer(listed)
    with CaptureQueriesContext(connection) as few:
        client.get(url(listed, "sale_desk"))
    for _ in range(20):
        offer = log_offer(listed)
        offering.answer_offer(offer.pk, answer="refused", by=owner, at=now)
        asked = inquiring.log_inquiry(listed.pk, way="phone", by=owner, at=now)
        inquiring.log_showing(listed.pk, inquiry_id=asked.pk, by=owner, at=now)
    with CaptureQueriesContext(connection) as many:
        client.get(url(listed, "sale_desk"))
    assert len(many) == len(few)


def test_second_deal_shows_the_first_one_too(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    receipt = stay.deals.get().payments.get()
    paying.settle_payment(receipt.pk, event="bounced", by=owner, at=now)
    selling.end_deal(stay.pk, reason="loan refused", by=owner, at=now)
    build.step_to(State.SOLD, stay, at=now, price=Decimal(48500))
    page = text_of(sign_in(client, owner).get(url(stay, "sale_desk")))
    assert "Earlier deals" in page
    assert "returned to the buyer" in page
    assert "return it to the buyer" not in page


def test_inquiry_and_showing_are_logged_once_and_shown(client: Client, sales: Actor, listed: Consignment) -> None:
    sign_in(client, sales)
    said = {"inquiry": {"way": "online", "who": "Bo Larkin", "about": "rust"}, "showing": {"note": "with a friend"}}
    for slug, _, form in client.get(url(listed, "sale_desk")).context["interest_deeds"]:
        for _ in range(2):
            key = form["client_key"].value()
            assert do(client, listed, slug, client_key=key, **said[slug]).status_code == 302
    assert (Inquiry.objects.get().on, Showing.objects.get().on) == (timezone.localdate(), timezone.localdate())
    page = text_of(client.get(url(listed, "sale_desk")))
    for shown in ("1 inquiry and 1 showing since it was listed", "Bo Larkin", "rust", "online", "with a friend"):
        assert shown in page


def test_showing_out_of_an_inquiry_is_shown_with_who_asked(client: Client, sales: Actor, listed: Consignment) -> None:
    asked = inquiring.log_inquiry(listed.pk, way="phone", who="Bo Larkin", by=sales, at=timezone.now())
    assert do(sign_in(client, sales), listed, "showing", inquiry=asked.pk).status_code == 302
    assert Showing.objects.get().inquiry == asked
    page = text_of(client.get(url(listed, "sale_desk")))
    assert f'Bo Larkin<br><span class="soft">asked on {asked.on}' in page


@pytest.mark.parametrize(("slug", "said"), [("inquiry", {"way": "phone", "who": "Zora Pell"}), ("showing", {})])
def test_interest_before_the_listing_is_refused_on_its_date(
    client: Client, sales: Actor, listed: Consignment, slug: str, said: dict[str, str]
) -> None:
    before = timezone.localdate() - timedelta(days=1)
    response = do(sign_in(client, sales), listed, slug, on=before, **said)
    assert list(errors_of(response)) == ["on"]
    assert all(f'value="{value}"' in response.content.decode() for name, value in said.items() if name == "who")
    assert (Inquiry.objects.count(), Showing.objects.count()) == (0, 0)


def test_interest_in_what_was_never_listed_is_refused_and_said(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    page = sign_in(client, sales).get(url(stay, "sale_desk"))
    assert "interest-title" not in page.content.decode()
    assert "not for sale" in str(errors_of(do(client, stay, "inquiry", way="phone")))


def test_page_counts_all_interest_and_shows_the_last_five(client: Client, sales: Actor, listed: Consignment) -> None:
    for number in range(7):
        inquiring.log_inquiry(listed.pk, way="phone", about=f"question {number}", by=sales, at=timezone.now())
    page = text_of(sign_in(client, sales).get(url(listed, "sale_desk")))
    assert "7 inquiries and 0 showings" in page
    assert [number for number in range(7) if f"question {number}" in page] == [2, 3, 4, 5, 6]


def test_interest_stays_to_be_read_after_the_sale(client: Client, sales: Actor, listed: Consignment) -> None:
    inquiring.log_inquiry(listed.pk, way="phone", who="Bo Larkin", by=sales, at=timezone.now())
    build.step_to(State.SOLD, listed, at=timezone.now(), price=Decimal(48500))
    response = sign_in(client, sales).get(url(listed, "sale_desk"))
    assert "1 inquiry and 0 showings" in text_of(response)
    assert response.context["interest_deeds"] == []
