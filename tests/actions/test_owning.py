"""Vehicles of the lot's own: from the purchase to the release, apart from other people's money."""

import uuid
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest

from inventory.actions import (
    agreeing,
    asking,
    charging,
    consenting,
    owning,
    recording,
    releasing,
    selling,
    settling,
    trading_in,
    working,
)
from inventory.actions.consenting import Question
from inventory.actions.intake import Arrival
from inventory.actions.owning import Cost
from inventory.actions.selling import Bargain
from inventory.actions.working import Invoice, NewOrder
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, Refused
from inventory.models import Charge, Consignment, OutMessage, OwnCost, Settlement
from inventory.queries import own, trust
from inventory.queries.facts import the_lot
from inventory.queries.lot import Filters, Looking, lot_page
from inventory.queries.settlements import draft_of
from inventory.rules.floor_words import OwnCostKind
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind
from tests import build

pytestmark = pytest.mark.django_db

D = Decimal


def bought(*, by: Actor, at: datetime, key: uuid.UUID | None = None) -> Consignment:
    arrival = replace(build.ARRIVAL, consignor_name="", consignor_email="")
    return owning.buy_vehicle(
        arrival, price=D("20000.00"), paid_to="Bo Larkin", client_key=key, by=by, at=at
    )  # fmt: skip


def listed(stay: Consignment, *, by: Actor, at: datetime) -> None:
    build.inspect(stay, at=at)
    recording.add_identity_number(
        stay.pk, kind=IdentityKind.TITLE, value=stay.vehicle.serial, basis=Basis.DOCUMENTED, by=by, at=at
    )
    recording.add_title_paper(
        stay.pk, kind=TitleKind.TITLE, standing=PaperStanding.READ, name_on_paper=stay.consignor.name, by=by, at=at
    )
    asking.set_ask(stay.pk, amount=D("26000.00"), by=by, at=at)
    asking.list_vehicle(stay.pk, by=by, at=at)


def next_step(stay: Consignment, *, by: Actor, at: datetime) -> str:
    looking = Looking(by=by, lot=the_lot(), today=trade_day(at))
    _, rows = lot_page(Filters(here_only=False), number="1", looking=looking)
    (row,) = [row for row in rows if row.stock_number == stay.stock_number]
    assert row.is_own
    return row.next_step


def test_own_vehicle_goes_from_purchase_to_release_without_terms_or_payee(owner: Actor, at: datetime) -> None:
    stay = bought(by=owner, at=at)
    cost = owning.add_cost(stay.pk, cost=Cost(kind=OwnCostKind.TRANSPORT, amount=D("400.00")), by=owner, at=at)
    owning.set_cost_aside(cost.pk, reason="paid by the seller", by=owner, at=at)
    owning.add_cost(stay.pk, cost=Cost(kind=OwnCostKind.REPAIR, amount=D("1500.00")), by=owner, at=at)
    listed(stay, by=owner, at=at)
    (here,) = own.own_page(today=trade_day(at)).here
    assert (here.cost, here.margin, here.days) == (D("21500.00"), D("4500.00"), 0)
    selling.mark_sold(stay.pk, bargain=Bargain(price=D("25500.00"), buyer="Cy Dale"), by=owner, at=at)
    assert next_step(stay, by=owner, at=at) == "clear the buyer's money, then close the sale"
    with pytest.raises(Refused, match="not cleared in full"):
        owning.close_sale(stay.pk, by=owner, at=at)
    build.pay_in_full(stay, at=at)
    assert owning.close_sale(stay.pk, by=owner, at=at).state == State.SETTLED
    assert next_step(stay, by=owner, at=at) == "release"
    releasing.send_title(stay.pk, by=owner, at=at)
    released = releasing.release(stay.pk, signed_for_by="Cy Dale", by=owner, at=at)
    assert released.released_on == trade_day(at)
    (sold,) = own.own_page(today=trade_day(at)).sold
    assert (sold.profit, sold.effective) == (D("4000.00"), D("25500.00"))
    assert not Settlement.objects.exists()
    assert trust.report(on=trade_day(at)).rows == ()
    assert not OutMessage.objects.exists()


def test_nothing_is_agreed_charged_settled_or_held_in_trust_for_the_lot_itself(owner: Actor, at: datetime) -> None:
    stay = bought(by=owner, at=at)
    deeds = [
        lambda: agreeing.agree_terms(stay.pk, terms=build.terms(at), by=owner, at=at),
        lambda: charging.add_charge(stay.pk, kind="repair", what="x", amount=D(5), agreed_by="x", by=owner, at=at),
        lambda: consenting.ask_consent(stay.pk, question=Question(kind="floor", amount=D(5)), by=owner, at=at),
        lambda: settling.approve_settlement(stay.pk, by=owner, at=at),
    ]
    for deed in deeds:
        with pytest.raises(Refused, match="is the lot's own"):
            deed()
    assert draft_of(stay, on=trade_day(at)) is None


def test_purchase_sent_twice_is_one_and_only_the_owner_buys(owner: Actor, intake: Actor, at: datetime) -> None:
    key = uuid.uuid4()
    assert bought(by=owner, at=at, key=key) == bought(by=owner, at=at, key=key)
    assert OwnCost.objects.count() == 1
    with pytest.raises(NotAllowed):
        bought(by=intake, at=at)


def test_vehicle_of_somebody_else_has_no_costs_and_is_not_closed(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(Refused, match="belongs to Ada Fenwick"):
        owning.add_cost(stay.pk, cost=Cost(amount=D(5)), by=owner, at=at)
    with pytest.raises(Refused, match="belongs to Ada Fenwick"):
        owning.close_sale(stay.pk, by=owner, at=at)


def test_trade_becomes_own_at_its_worth(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    bargain = Bargain(price=D("48500.00"), buyer="Bo Larkin", trade_allowance=D("9000.00"), trade_value=D("8000.00"))
    selling.mark_sold(stay.pk, bargain=bargain, by=owner, at=at)
    taken = trading_in.log_trade(stay.pk, vehicle=Arrival(year=1985, make="Pell", model="Reed"), by=owner, at=at)
    cost = OwnCost.objects.get(consignment=taken)
    assert (cost.kind, cost.amount, cost.paid_to) == (OwnCostKind.TRADE, D("8000.00"), "Bo Larkin")


def test_work_on_an_own_vehicle_becomes_a_cost(owner: Actor, at: datetime) -> None:
    stay = bought(by=owner, at=at)
    row = working.open_order(stay.pk, order=NewOrder(what="Tune it", estimate=None), by=owner, at=at)
    working.send_out(row.pk, place="Lift 1", by=owner, at=at)
    working.bring_back(row.pk, place="Bay 1", by=owner, at=at)
    working.record_invoice(row.pk, invoice=Invoice(amount=D("350.00"), vendor="Pell"), by=owner, at=at)
    working.charge_order(row.pk, by=owner, at=at)
    assert not Charge.objects.exists()
    assert own.own_page(today=trade_day(at)).tied_up == D("20350.00")
