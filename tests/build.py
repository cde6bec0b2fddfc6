"""Rows for tests, made through the actions, so that impossible states cannot be built."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.test import Client

from inventory.actions import (
    agreeing,
    asking,
    inspecting,
    intake,
    ledger,
    paying,
    recording,
    releasing,
    selling,
    settling,
    staffing,
)
from inventory.actions.inspecting import Finding
from inventory.actions.intake import Arrival
from inventory.actions.ledger import Built, Line
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.models import BuyerPayment, Consignment, User
from inventory.queries import facts
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.date_codes import window
from inventory.rules.roles import Actor, Role, command
from inventory.rules.states import State
from inventory.rules.words import Basis, IdentityKind, PaperStanding, PaymentEvent, Standing, TitleKind

PASSWORD = "a long pass phrase"
BUILDER = command("tests")
ARRIVAL = Arrival(
    year=1968, make="Merrow", model="Alder", body="two-door hardtop", build_class="restored", mileage=61240,
    vin="8A17J104221", consignor_name="Ada Fenwick", consignor_email="ada@example.org",
)  # fmt: skip


def staff(role: Role, *, at: datetime) -> Actor:
    username = f"the-{role.value}"
    known = User.objects.filter(username=username).first()
    row = known or staffing.add_staff(
        username, full_name=f"Sam {role.value.title()}", role=role, password=PASSWORD, by=BUILDER, at=at
    )
    return row.as_actor()


def sign_in(client: Client, *, username: str) -> None:
    """Outside pytest wrong passwords are counted, and a test client that types one is refused."""
    client.force_login(User.objects.get(username=username), backend="django.contrib.auth.backends.ModelBackend")


def serial(count: int) -> str:
    return f"8A17J{100000 + count}"


def terms(at: datetime, **changes: Any) -> agreeing.NewTerms:
    day = trade_day(at)
    given: dict[str, Any] = {
        "plan_kind": "percent", "rate": Decimal(9), "floor": Decimal("30000.00"), "starts_on": day,
        "ends_on": day + timedelta(days=120), "signed_by": "Ada Fenwick", "signed_on": day,
    }  # fmt: skip
    return agreeing.NewTerms(**{**given, **changes})


def consignment(state: State = State.ON_LOT, *, at: datetime, price: str = "48500.00", **arrival: Any) -> Consignment:
    """One stay that has come as far as `state`, by the way of the table."""
    count = Consignment.objects.count() + 1
    facts = {"vin": serial(count), "arrived_on": trade_day(at), "booked_only": state == State.BOOKED, **arrival}
    stay = intake.log_vehicle(replace(ARRIVAL, **facts), by=BUILDER, at=at)
    for step, reach in STEPS:
        if state in reach:
            step_to(step, stay, at=at, price=Decimal(price))
    stay.refresh_from_db()
    return stay


STEPS: tuple[tuple[State, frozenset[State]], ...] = (
    (State.INSPECTED, frozenset({State.INSPECTED, State.LISTED, State.DEPOSIT, State.SOLD, State.SETTLED})),
    (State.LISTED, frozenset({State.LISTED, State.DEPOSIT, State.SOLD, State.SETTLED})),
    (State.DEPOSIT, frozenset({State.DEPOSIT})),
    (State.SOLD, frozenset({State.SOLD, State.SETTLED})),
    (State.SETTLED, frozenset({State.SETTLED})),
    (State.WITHDRAWN, frozenset({State.WITHDRAWN, State.RELEASED})),
    (State.RELEASED, frozenset({State.RELEASED})),
)


def step_to(step: State, stay: Consignment, *, at: datetime, price: Decimal) -> None:
    if step == State.INSPECTED:
        inspect(stay, at=at)
    elif step == State.LISTED:
        make_listable(stay, at=at, ask=price)
        asking.list_vehicle(stay.pk, by=BUILDER, at=at)
    elif step == State.DEPOSIT:
        selling.take_deposit(
            stay.pk, bargain=Bargain(price=price, buyer="Bo Larkin"), deposit=Payment(amount=Decimal("1000.00")),
            hold_until=trade_day(at) + timedelta(days=7), by=BUILDER, at=at,
        )  # fmt: skip
    elif step == State.SOLD:
        selling.mark_sold(stay.pk, bargain=Bargain(price=price, buyer="Bo Larkin"), by=BUILDER, at=at)
    elif step == State.SETTLED:
        pay_in_full(stay, at=at)
        settling.approve_settlement(stay.pk, by=BUILDER, at=at)
    elif step == State.WITHDRAWN:
        selling.withdraw(stay.pk, reason="changed_mind", by=BUILDER, at=at)
    elif step == State.RELEASED:
        releasing.release(stay.pk, signed_for_by="Ada Fenwick", by=BUILDER, at=at)


def inspect(stay: Consignment, *, at: datetime, grade: int = 3, seen: int = 3) -> None:
    """A short walk: the first few checks and components; the others stay unseen."""
    inspecting.begin_inspection(stay.pk, by=BUILDER, at=at)
    for code in list(CHECKS)[:seen]:
        finding = Finding(check_code=code, grade=grade, basis=Basis.SEEN)
        inspecting.record_check(stay.pk, finding=finding, by=BUILDER, at=at)
    for component in COMPONENTS[:seen]:
        line = Line(component=component.code, standing=Standing.ORIGINAL, basis=Basis.SEEN)
        ledger.record_component(stay.pk, line=line, by=BUILDER, at=at)
    inspecting.finish_inspection(stay.pk, by=BUILDER, at=at)


def write_line(stay: Consignment, *, at: datetime, **said: Any) -> Any:
    """One line of the ledger: of an engine seen to be original, where nothing else is said."""
    line = Line(**{"component": "engine", "standing": Standing.ORIGINAL, "basis": Basis.SEEN, **said})
    return ledger.record_component(stay.pk, line=line, by=BUILDER, at=at)


def built(stay: Consignment, *, at: datetime, first: str, last: str = "", basis: str = Basis.SEEN) -> Any:
    """Its build date, as people write it."""
    earliest, latest = window(first)[0], window(last or first)[1]
    said = Built(earliest_on=earliest, latest_on=latest, basis=basis, source="stamp on the cowl")
    return ledger.record_build_date(stay.pk, built=said, by=BUILDER, at=at)


def make_listable(stay: Consignment, *, at: datetime, ask: Decimal, **changes: Any) -> None:
    agreeing.agree_terms(stay.pk, terms=terms(at, **changes), by=BUILDER, at=at)
    recording.add_identity_number(
        stay.pk, kind=IdentityKind.TITLE, value=stay.vehicle.serial, basis=Basis.DOCUMENTED, by=BUILDER, at=at
    )
    recording.add_title_paper(
        stay.pk, kind=TitleKind.TITLE, standing=PaperStanding.READ, number="T-1", by=BUILDER, at=at
    )
    asking.set_ask(stay.pk, amount=ask, by=BUILDER, at=at)


def lien_released(stay: Consignment, *, at: datetime) -> None:
    """The lender's release is in the lot's hands."""
    recording.add_title_paper(
        stay.pk, kind=TitleKind.LIEN_RELEASE, standing=PaperStanding.READ, in_hand_since=trade_day(at), by=BUILDER,
        at=at,
    )  # fmt: skip


def pay_in_full(stay: Consignment, *, at: datetime) -> None:
    deal = stay.deals.get(end="sold")
    waiting = list(BuyerPayment.objects.filter(deal=deal, event=PaymentEvent.RECEIVED, events__isnull=True))
    money = facts.buyer_money(deal)
    left = money.owed - money.received
    if left:
        waiting.append(paying.record_payment(stay.pk, payment=Payment(amount=left), by=BUILDER, at=at))
    for row in waiting:
        paying.settle_payment(row.pk, event=PaymentEvent.CLEARED, by=BUILDER, at=at)
