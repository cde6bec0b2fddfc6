"""Deposit, sale, unwinding, withdrawal, release: what is refused, and what stands in the books afterwards."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import agreeing, charging, offering, releasing, selling
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain, ConsentGiven
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import BuyerPayment, Consent, Consignment, Deal, SaleOutcome
from inventory.queries.history import live_outcome
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def bargain(price: str = "48500.00", **more: Any) -> Bargain:
    return Bargain(**{"price": Decimal(price), "buyer": "Bo Larkin", **more})


def deposit(stay: Consignment, *, by: Actor, at: datetime, amount: str = "1000.00", **more: Any) -> Deal:
    given = {"bargain": bargain(), "hold_until": at.date() + timedelta(days=7), **more}
    key = given.pop("client_key", None)
    return selling.take_deposit(stay.pk, deposit=Payment(amount=Decimal(amount), client_key=key), by=by, at=at, **given)


def refusal_of(deed: Any, *args: Any, **kwargs: Any) -> tuple[str, str]:
    with pytest.raises(Refused) as refusal:
        deed(*args, **kwargs)
    return refusal.value.code, refusal.value.field


@pytest.fixture
def listed(at: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=at)


def test_deposit_holds_the_vehicle_and_is_received_not_cleared(sales: Actor, at: datetime, listed: Consignment) -> None:
    deal = deposit(listed, by=sales, at=at)
    listed.refresh_from_db()
    assert (listed.state, deal.end) == (State.DEPOSIT, "")
    assert BuyerPayment.objects.values_list("event", "is_deposit", "amount").get() == (
        "received", True, Decimal("1000.00"),
    )  # fmt: skip


def test_deposit_sent_twice_is_one_even_from_the_same_page(sales: Actor, at: datetime, listed: Consignment) -> None:
    key = uuid.uuid4()
    first = deposit(listed, by=sales, at=at, client_key=key, version=listed.version)
    assert deposit(listed, by=sales, at=at, client_key=key, version=listed.version) == first
    assert BuyerPayment.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"hold_until": -1}, ("hold_in_past", "hold_until")),
        ({"amount": "0.00"}, ("money_too_low", "deposit")),
        ({"amount": "48500.01"}, ("deposit_above_price", "deposit")),
        ({"bargain": bargain(price="0.00")}, ("money_too_low", "price")),
        ({"bargain": bargain(buyer=" ")}, ("no_buyer", "buyer")),
        ({"bargain": bargain(concessions=Decimal(-1))}, ("money_negative", "concessions")),
        ({"bargain": bargain(trade_allowance=Decimal(48501))}, ("allowance_above_price", "trade_allowance")),
        ({"bargain": bargain(trade_allowance=Decimal(48500))}, ("nothing_left", "concessions")),
        ({"bargain": bargain(offer_id=999)}, ("not_found", "offer")),
        ({"bargain": bargain(price="48499.99")}, ("price_not_agreed", "price")),
    ],
)
def test_deposit_that_cannot_be_is_refused_on_its_field(
    sales: Actor, at: datetime, listed: Consignment, more: dict[str, Any], expected: tuple[str, str]
) -> None:
    given = {**more, "hold_until": at.date() - timedelta(days=1)} if "hold_until" in more else more
    assert refusal_of(deposit, listed, by=sales, at=at, **given) == expected
    assert not Deal.objects.exists()


def test_deposit_on_a_sold_vehicle_is_no_move(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    assert refusal_of(deposit, stay, by=sales, at=at) == ("no_such_move", "state")


def test_deposit_below_the_floor_takes_the_consent_with_it(owner: Actor, at: datetime, listed: Consignment) -> None:
    low = bargain(price="29000.00")
    assert refusal_of(deposit, listed, bargain=low, by=owner, at=at) == ("below_floor", "price")
    consent = ConsentGiven(given_by="Ada Fenwick", how="by phone", text="I agree to 29,000.")
    deposit(listed, bargain=low, consent=consent, by=owner, at=at)
    assert selling.mark_sold(listed.pk, by=owner, at=at).price == Decimal("29000.00")
    assert Consent.objects.count() == 1


def test_consent_to_older_terms_does_not_reach_below_a_newer_floor(
    owner: Actor, at: datetime, listed: Consignment
) -> None:
    agreeing.record_consent(
        listed.pk, down_to=Decimal(29000), given_by="Ada Fenwick", how="by phone", text="yes", by=owner, at=at
    )
    later = at + timedelta(hours=1)
    agreeing.agree_terms(listed.pk, terms=build.terms(later, floor=Decimal(35000)), by=owner, at=later)
    low = bargain(price="29000.00")
    assert refusal_of(selling.mark_sold, listed.pk, bargain=low, by=owner, at=later) == ("below_floor", "price")


def test_deal_falls_through_with_its_reason_and_the_deposits_fate(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=at)
    assert refusal_of(selling.end_deal, stay.pk, reason=" ", by=sales, at=at) == ("reason_missing", "reason")
    assert refusal_of(selling.end_deal, stay.pk, reason="x", deposit_fate="lost", by=sales, at=at) == (
        "invalid", "deposit_fate",
    )  # fmt: skip
    assert refusal_of(selling.end_deal, stay.pk, reason="x", deposit_fate="kept", by=sales, at=at) == (
        "deposit_refundable", "deposit_fate",
    )  # fmt: skip
    deal = selling.end_deal(stay.pk, reason="loan refused", deposit_fate="returned", by=sales, at=at)
    assert (deal.end, deal.end_reason, deal.deposit_fate) == ("fallen_through", "loan refused", "returned")
    assert Consignment.objects.get().state == State.LISTED


@pytest.mark.parametrize("state", [State.INSPECTED, State.LISTED, State.SOLD])
def test_only_a_held_deal_falls_through_a_sale_keeps_its_outcome(owner: Actor, at: datetime, state: State) -> None:
    stay = build.consignment(state, at=at)
    assert refusal_of(selling.end_deal, stay.pk, reason="x", by=owner, at=at) == ("no_deal_to_end", "state")
    stay.refresh_from_db()
    assert stay.state == state
    assert SaleOutcome.objects.live().count() == (1 if state == State.SOLD else 0)


def test_sale_keeps_the_effective_price_by_hand(owner: Actor, at: datetime, listed: Consignment) -> None:
    """48,500 less 500 given with it, less 1,000 allowed in trade above its worth: 47,000."""
    traded = bargain(concessions=Decimal(500), trade_allowance=Decimal(10000), trade_value=Decimal(9000))
    outcome = selling.mark_sold(listed.pk, bargain=traded, channel="online", arms_length=False, by=owner, at=at)
    assert (outcome.price, outcome.over_allowance, outcome.effective_price) == (
        Decimal(48500), Decimal(1000), Decimal(47000),
    )  # fmt: skip
    assert (outcome.channel, outcome.arms_length) == ("online", False)


def test_sale_of_a_held_vehicle_takes_the_deal_as_it_is_or_as_changed(owner: Actor, at: datetime) -> None:
    held, changed = (build.consignment(State.DEPOSIT, at=at) for _ in range(2))
    assert selling.mark_sold(held.pk, by=owner, at=at).price == Decimal(48500)
    assert selling.mark_sold(changed.pk, bargain=bargain("48000.00"), by=owner, at=at).price == Decimal(48000)
    assert changed.deals.get().price == Decimal(48000)


def test_sale_out_of_an_offer_names_it(owner: Actor, at: datetime, listed: Consignment) -> None:
    offer = offering.log_offer(listed.pk, amount=Decimal(45000), bidder="Bo Larkin", by=owner, at=at)
    outcome = selling.mark_sold(listed.pk, bargain=bargain("45000.00", offer_id=offer.pk), by=owner, at=at)
    assert outcome.deal is not None
    assert outcome.deal.offer == offer


def test_sale_that_cannot_be_is_refused_on_its_field(sales: Actor, at: datetime, listed: Consignment) -> None:
    day = at.date()
    assert refusal_of(selling.mark_sold, listed.pk, by=sales, at=at) == ("no_price", "price")
    for sold_on, code in ((day + timedelta(days=1), "date_future"), (day - timedelta(days=1), "sold_before_arrival")):
        refused = refusal_of(selling.mark_sold, listed.pk, bargain=bargain(), sold_on=sold_on, by=sales, at=at)
        assert refused == (code, "sold_on")
    assert refusal_of(selling.mark_sold, listed.pk, bargain=bargain(), channel="séance", by=sales, at=at) == (
        "invalid", "channel",
    )  # fmt: skip
    assert not SaleOutcome.objects.exists()
    assert not Deal.objects.exists()


def test_unwinding_voids_the_outcome_and_only_of_a_sale(owner: Actor, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    with pytest.raises(NotAllowed):
        selling.unwind_sale(stay.pk, reason="x", by=sales, at=at)
    assert refusal_of(selling.unwind_sale, stay.pk, reason=" ", by=owner, at=at) == ("reason_missing", "reason")
    assert selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=at).state == State.LISTED
    end = live_outcome(stay)
    assert end is not None
    assert end.result == "void"
    assert stay.deals.get().end == "unwound"
    held = build.consignment(State.DEPOSIT, at=at)
    assert refusal_of(selling.unwind_sale, held.pk, reason="x", by=owner, at=at) == ("not_sold", "state")


def test_sale_is_not_unwound_once_title_or_vehicle_left(owner: Actor, at: datetime) -> None:
    for leave in (releasing.send_title, lambda pk, **who: releasing.release(pk, signed_for_by="Bo Larkin", **who)):
        stay = build.consignment(State.SOLD, at=at)
        build.pay_in_full(stay, at=at)
        leave(stay.pk, by=owner, at=at)
        refused = refusal_of(selling.unwind_sale, stay.pk, reason="x", by=owner, at=at)
        assert refused == ("too_late_to_unwind", "state")


def test_sale_row_without_its_deal_is_told_as_such(owner: Actor, at: datetime, listed: Consignment) -> None:
    """Rows brought in round the house: no deal stands behind the state."""
    Consignment.objects.filter(pk=listed.pk).update(state=State.SOLD)
    with pytest.raises(NotFound, match="no deal"):
        selling.unwind_sale(listed.pk, reason="x", by=owner, at=at)


def test_withdrawal_ends_an_open_deal_and_keeps_its_reason(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=at)
    outcome = selling.withdraw(stay.pk, reason="sold_elsewhere", detail=" at 47,000 ", by=sales, at=at)
    assert (outcome.result, outcome.reason, outcome.detail, outcome.price) == (
        "withdrawn", "sold_elsewhere", "at 47,000", None,
    )  # fmt: skip
    assert stay.deals.get().end == "fallen_through"


def test_withdrawal_that_cannot_be_is_refused(sales: Actor, at: datetime, listed: Consignment) -> None:
    day = at.date()
    assert refusal_of(selling.withdraw, listed.pk, reason="whim", by=sales, at=at) == ("reason_unknown", "reason")
    tomorrow = day + timedelta(days=1)
    assert refusal_of(selling.withdraw, listed.pk, reason="price", on=tomorrow, by=sales, at=at) == (
        "date_future", "on",
    )  # fmt: skip
    before = day - timedelta(days=1)
    assert refusal_of(selling.withdraw, listed.pk, reason="price", on=before, by=sales, at=at) == ("invalid", "")
    sold = build.consignment(State.SOLD, at=at)
    assert refusal_of(selling.withdraw, sold.pk, reason="price", by=sales, at=at) == ("no_such_move", "state")


def net_floor_on_a_quote_that_ran_out(at: datetime) -> Consignment:
    """Listed ten days before `at`, its floor a net in hand, its lien quote good for that day only."""
    early = at - timedelta(days=10)
    stay = build.consignment(State.INSPECTED, at=early)
    build.make_listable(
        stay, at=early, ask=Decimal(48500), floor_kind="net", lien_holder="Tarn Valley Credit Union",
        lien_amount=Decimal(100), lien_quoted_on=early.date(),
    )  # fmt: skip
    build.asking.list_vehicle(stay.pk, by=build.BUILDER, at=early)
    return stay


def test_floor_nobody_can_work_out_stops_a_sale_but_no_withdrawal(owner: Actor, at: datetime) -> None:
    stay = net_floor_on_a_quote_that_ran_out(at)
    assert refusal_of(selling.mark_sold, stay.pk, bargain=bargain(), by=owner, at=at) == ("lien_stale", "lien")
    selling.withdraw(stay.pk, reason="price", by=owner, at=at)
    assert releasing.release(stay.pk, signed_for_by="Ada Fenwick", by=owner, at=at).state == State.RELEASED


def test_floor_nobody_can_work_out_stops_no_deal_from_falling_through_nor_title_or_vehicle(
    owner: Actor, at: datetime
) -> None:
    early = at - timedelta(days=10)
    stay = net_floor_on_a_quote_that_ran_out(at)
    deposit(stay, by=owner, at=early)
    selling.end_deal(stay.pk, reason="loan refused", by=owner, at=at)
    sold = net_floor_on_a_quote_that_ran_out(at)
    build.step_to(State.SOLD, sold, at=early, price=Decimal(48500))
    build.pay_in_full(sold, at=early)
    build.lien_released(sold, at=early)
    assert releasing.send_title(sold.pk, by=owner, at=at).title_sent_on == at.date()
    assert releasing.release(sold.pk, signed_for_by="Bo Larkin", by=owner, at=at).released_on == at.date()


def test_title_is_sent_once_and_after_the_money(sales: Actor, intake: Actor, at: datetime, listed: Consignment) -> None:
    assert refusal_of(releasing.send_title, listed.pk, by=sales, at=at) == ("no_title_to_send", "state")
    build.step_to(State.SOLD, listed, at=at, price=Decimal(48500))
    assert refusal_of(releasing.send_title, listed.pk, by=sales, at=at) == ("money_not_cleared", "payments")
    build.pay_in_full(listed, at=at)
    with pytest.raises(NotAllowed):
        releasing.send_title(listed.pk, by=intake, at=at)
    releasing.send_title(listed.pk, by=sales, at=at)
    assert refusal_of(releasing.send_title, listed.pk, by=sales, at=at) == ("no_title_to_send", "state")


def test_vehicle_leaves_once_paid_and_signed_for(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    release = releasing.release
    assert refusal_of(release, stay.pk, signed_for_by="Bo", by=sales, at=at) == ("money_not_cleared", "payments")
    build.pay_in_full(stay, at=at)
    assert refusal_of(release, stay.pk, signed_for_by=" ", by=sales, at=at) == ("not_signed_for", "signed_for_by")
    row = release(stay.pk, signed_for_by=" Bo Larkin ", by=sales, at=at)
    assert (row.state, row.released_on, row.signed_for_by) == (State.SOLD, at.date(), "Bo Larkin")
    assert refusal_of(release, stay.pk, signed_for_by="Bo", by=sales, at=at) == ("not_releasable", "state")


def test_vehicle_that_is_still_for_sale_does_not_leave(sales: Actor, at: datetime, listed: Consignment) -> None:
    assert refusal_of(releasing.release, listed.pk, signed_for_by="Bo", by=sales, at=at) == ("not_releasable", "state")


@pytest.mark.parametrize("state", [State.SOLD, State.WITHDRAWN])
def test_day_of_leaving_is_kept_and_lies_between_the_end_and_today(sales: Actor, at: datetime, state: State) -> None:
    stay = build.consignment(state, at=at)
    if state == State.SOLD:
        build.pay_in_full(stay, at=at)
    later = at + timedelta(days=9)
    for days, code in ((-1, "left_before_end"), (10, "date_future")):
        on = at.date() + timedelta(days=days)
        refused = refusal_of(releasing.release, stay.pk, signed_for_by="Ada", on=on, by=sales, at=later)
        assert refused == (code, "on")
    on = at.date() + timedelta(days=3)
    assert releasing.release(stay.pk, signed_for_by="Ada", on=on, by=sales, at=later).released_on == on


def test_withdrawn_vehicle_leaves_when_its_charges_are_paid(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    charging.add_charge(
        stay.pk, kind="repair", what="hose", amount=Decimal(60), agreed_by="Ada Fenwick", by=owner, at=at
    )
    build.step_to(State.WITHDRAWN, stay, at=at, price=Decimal(1))
    assert refusal_of(releasing.release, stay.pk, signed_for_by="Ada", by=owner, at=at) == ("charges_unpaid", "charges")
    charging.record_consignor_payment(stay.pk, amount=Decimal(60), method="cash", by=owner, at=at)
    assert releasing.release(stay.pk, signed_for_by="Ada", by=owner, at=at).state == State.RELEASED


def test_each_deed_on_an_older_page_is_refused(owner: Actor, at: datetime) -> None:
    deeds: list[tuple[State, Any, dict[str, Any]]] = [
        (State.DEPOSIT, selling.end_deal, {"reason": "x"}),
        (State.DEPOSIT, selling.mark_sold, {}),
        (State.SOLD, selling.unwind_sale, {"reason": "x"}),
        (State.LISTED, selling.withdraw, {"reason": "price"}),
        (State.WITHDRAWN, releasing.release, {"signed_for_by": "Ada"}),
    ]
    for state, deed, said in deeds:
        stay = build.consignment(state, at=at)
        with pytest.raises(TooLate):
            deed(stay.pk, **said, by=owner, at=at, version=stay.version - 1)
        assert Consignment.objects.get(pk=stay.pk).state == state
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(TooLate):
        deposit(stay, by=owner, at=at, version=stay.version - 1)
