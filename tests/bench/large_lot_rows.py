"""The stays of the large lot, each with what belongs to it: vehicle, terms, inspection, asks, offers, money, log."""

import hashlib
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import numpy as np

from inventory.models import (
    AskChange,
    BuyerPayment,
    CheckResult,
    Consignment,
    Consignor,
    Contact,
    Deal,
    Disbursement,
    IdentityNumber,
    Inquiry,
    IntakeInspection,
    Listing,
    LogEntry,
    Movement,
    Offer,
    OfferAnswer,
    OutMessage,
    Photo,
    SaleOutcome,
    ScorePolicy,
    Settlement,
    SettlementLine,
    SettlementPayee,
    Showing,
    StatusLink,
    Terms,
    TitlePaper,
    TrustMovement,
    Vehicle,
)
from inventory.rules.catalogue import CHECKS
from inventory.rules.states import State
from inventory.rules.terms import LineKind
from tests.bench.large_lot_parts import BY, Plan, Tally, moment

CHECKS_A_WALK, PHOTOS, LOG_LINES, MAILS = 100, 10, 25, 5
DAY = timedelta(days=1)
RATE = Decimal("0.09")
Pair = tuple[Plan, Consignment]
WALKED = frozenset(State) - {State.BOOKED, State.ON_LOT}
LISTED = WALKED - {State.INSPECTED}


def write(
    plans: Sequence[Plan], *, people: Sequence[Consignor], contacts: Sequence[Contact], tally: Tally, today: date,
    seed: int,
) -> None:  # fmt: skip
    rng = np.random.default_rng(seed + 2)
    vehicles = tally.write(Vehicle, (vehicle(plan) for plan in plans))
    stays = tally.write(
        Consignment,
        (
            stay(plan, vehicle=vehicles[place], consignor=people[place % len(people)], today=today)
            for place, plan in enumerate(plans)
        ),
    )
    pairs = list(zip(plans, stays, strict=True))
    tally.write(IdentityNumber, (number_of(one, plan) for plan, one in pairs))
    tally.write(TitlePaper, (paper_of(one, plan) for plan, one in pairs if plan.state in WALKED))
    tally.write(Movement, (row for plan, one in pairs for row in movements(one, plan)))
    tally.write(StatusLink, (link_of(one, plan) for plan, one in pairs))
    tally.write(Photo, (row for plan, one in pairs for row in photos(one, plan)))
    tally.write(LogEntry, (row for plan, one in pairs for row in log_of(one, plan)))
    tally.write(OutMessage, (row for plan, one in pairs for row in mails(one, plan)))
    walks(pairs, tally=tally, rng=rng)
    terms = tally.write(Terms, (terms_of(one, plan, today=today) for plan, one in pairs if plan.state in WALKED))
    listed = [(plan, one) for plan, one in pairs if plan.state in LISTED]
    tally.write(AskChange, (row for plan, one in listed for row in asks(one, plan)))
    tally.write(Listing, (listing_of(one, plan) for plan, one in listed if not plan.gone))
    asked = tally.write(Inquiry, (row for plan, one in listed for row in inquiries(one, plan, contacts=contacts)))
    tally.write(Showing, (showing_of(row) for row in asked[::4]))
    offers = tally.write(Offer, (row for plan, one in listed for row in offers_of(one, plan)))
    tally.write(OfferAnswer, (OfferAnswer(offer=row, answer="refused", by=BY, at=row.at) for row in offers[::2]))
    ends(pairs, terms={row.consignment_id: row for row in terms}, tally=tally)


# the stay and its papers


def vehicle(plan: Plan) -> Vehicle:
    said = plan.facts
    words = ("make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand", "year")
    return Vehicle(
        **{name: said[name] for name in words}, serial=serial(plan), serial_kind="serial",
        created_at=moment(said["arrived_on"]),
    )  # fmt: skip


def serial(plan: Plan) -> str:
    return f"8A17J{100_000 + plan.number}"


def stay(plan: Plan, *, vehicle: Vehicle, consignor: Consignor, today: date) -> Consignment:
    arrived, ended = plan.facts["arrived_on"], plan.outcome.ended_on if plan.outcome else today
    here, number = plan.state != State.BOOKED, f"L-{plan.number:05d}"
    if plan.outcome:
        plan.outcome.stock_number = number
    return Consignment(
        stock_number=number, vehicle=vehicle, consignor=consignor, state=plan.state, state_at=moment(min(ended, today)),
        state_by=BY, booked_on=arrived - DAY, arrived_on=arrived if here else None,
        listed_on=plan.facts["listed_on"] if plan.state in LISTED else None, mileage=plan.facts["mileage"],
        odometer_status=plan.facts["odometer_status"], released_on=ended + DAY if plan.gone else None,
        signed_for_by="Bo Larkin" if plan.gone else "",
    )  # fmt: skip


def number_of(one: Consignment, plan: Plan) -> IdentityNumber:
    return IdentityNumber(
        vehicle_id=one.vehicle_id, kind="title", value=serial(plan), basis="documented", by=BY, at=first(plan)
    )


def paper_of(one: Consignment, plan: Plan) -> TitlePaper:
    return TitlePaper(
        vehicle_id=one.vehicle_id, kind="title", number=f"T-{plan.number}", standing="read", by=BY, at=first(plan),
        seen_on=plan.facts["arrived_on"],
    )  # fmt: skip


def first(plan: Plan) -> Any:
    return moment(plan.facts["arrived_on"])


def movements(one: Consignment, plan: Plan) -> Iterator[Movement]:
    for place in ("The yard", "Wash bay", f"Bay {plan.number % 60}"):
        yield Movement(consignment=one, place=place, keys=f"Hook {plan.number % 200}", by=BY, at=first(plan))


def link_of(one: Consignment, plan: Plan) -> StatusLink:
    return StatusLink(
        consignment=one, digest=digest("link", plan.number), prefix=f"{plan.number:08d}", made_by=BY,
        made_at=first(plan), expires_at=first(plan) + 400 * DAY,
    )  # fmt: skip


def digest(*said: object) -> str:
    return hashlib.sha256(repr(said).encode()).hexdigest()


def photos(one: Consignment, plan: Plan) -> Iterator[Photo]:
    """Rows alone: all name one small file, which nobody has to have."""
    for place in range(PHOTOS):
        yield Photo(
            consignment=one, file="photos/bench.jpg", thumbnail="thumbnails/bench.jpg", width=1600, height=1200,
            digest=digest("photo", plan.number, place), caption=f"View {place}", at=first(plan),
        )  # fmt: skip


def log_of(one: Consignment, plan: Plan) -> Iterator[LogEntry]:
    for step in range(LOG_LINES):
        yield LogEntry(
            at=first(plan) + timedelta(hours=step), action="movement.recorded", consignment=one, actor_name=BY,
            subject_kind="movement", subject_id=plan.number, actor_kind="command",
            data={"place": f"Bay {step}", "keys": f"Hook {step}", "for_sale": "", "back": ""},
        )  # fmt: skip


def mails(one: Consignment, plan: Plan) -> Iterator[OutMessage]:
    for step in range(MAILS):
        key = f"bench:{plan.number}:{step}"
        yield OutMessage(
            consignment=one, consignor_id=one.consignor_id, kind="offer", event_key=key, to="owner@example.org",
            subject="An offer", text="An offer came in.", status="sent", attempts=1, sent_at=first(plan),
            message_id=f"<{key}@example.org>", made_at=first(plan),
        )  # fmt: skip


# the walk


def walks(pairs: Sequence[Pair], *, tally: Tally, rng: np.random.Generator) -> None:
    """Every vehicle that came as far was walked; half of those on the lot have an open walk."""
    policy = ScorePolicy.objects.get(number=1)
    walked = [(plan, one) for plan, one in pairs if plan.state in WALKED or (plan.state == State.ON_LOT)]
    rows = [walk_of(one, plan, policy=policy) for plan, one in walked if plan.state in WALKED or plan.number % 2]
    found = tally.write(IntakeInspection, rows)
    codes = list(CHECKS)[:CHECKS_A_WALK]
    tally.write(CheckResult, (row for walk in found if walk.finished_at for row in results(walk, codes=codes, rng=rng)))


def walk_of(one: Consignment, plan: Plan, *, policy: ScorePolicy) -> IntakeInspection:
    done = plan.state in WALKED
    names = ("condition_low", "condition_high", "originality_low", "originality_high")
    return IntakeInspection(
        consignment=one, number=1, policy=policy, begun_at=first(plan), begun_by=BY,
        finished_at=first(plan) + timedelta(hours=3) if done else None, finished_by=BY if done else "",
        **({name: plan.facts[name] for name in names} if done else {}), asked=list(CHECKS) if done else None,
    )  # fmt: skip


def results(walk: IntakeInspection, *, codes: Sequence[str], rng: np.random.Generator) -> Iterator[CheckResult]:
    for code, grade in zip(codes, rng.choice([2, 3, 4], len(codes)), strict=True):
        yield CheckResult(
            inspection=walk, check_code=code, verdict="graded", grade=int(grade), basis="seen", by=BY, at=walk.begun_at
        )


# terms, asks, interest


def terms_of(one: Consignment, plan: Plan, *, today: date) -> Terms:
    arrived = plan.facts["arrived_on"]
    ends = arrived + 180 * DAY if plan.gone else today + (10 + plan.number % 170) * DAY
    return Terms(
        consignment=one, number=1, plan_kind="percent", rate=Decimal(9), by=BY, at=first(plan), starts_on=arrived,
        ends_on=ends, signed_by="Ada Fenwick", signed_on=arrived,
        floor=(plan.facts["last_ask"] * Decimal("0.8")).quantize(Decimal(100)),
    )  # fmt: skip


def asks(one: Consignment, plan: Plan) -> Iterator[AskChange]:
    for name in ("first_ask", "last_ask"):
        yield AskChange(consignment=one, amount=plan.facts[name], on=plan.facts["listed_on"], by=BY, at=first(plan))


def listing_of(one: Consignment, plan: Plan) -> Listing:
    said = {"text": "A tidy vehicle.", "basis": "seen", "source": "typed", "edited": False}
    sections = [{"code": "opening", "title": "At a glance", "sentences": [said]}]
    return Listing(
        consignment=one, number=1, tone="telling", sections=sections, published=True, by=BY, at=first(plan)
    )  # fmt: skip


def inquiries(one: Consignment, plan: Plan, *, contacts: Sequence[Contact]) -> Iterator[Inquiry]:
    for step in range(4):
        contact = contacts[(plan.number * 4 + step) % len(contacts)]
        yield Inquiry(
            consignment=one, contact=contact, way="phone", who=contact.name, about="The price", by=BY,
            on=plan.facts["listed_on"], at=moment(plan.facts["listed_on"]),
        )  # fmt: skip


def showing_of(asked: Inquiry) -> Showing:
    return Showing(
        consignment_id=asked.consignment_id, inquiry=asked, contact_id=asked.contact_id, who=asked.who, on=asked.on,
        by=BY, at=asked.at,
    )  # fmt: skip


def offers_of(one: Consignment, plan: Plan) -> Iterator[Offer]:
    ask = plan.facts["last_ask"]
    for share in ("0.85", "0.92"):
        yield Offer(
            consignment=one, amount=(ask * Decimal(share)).quantize(Decimal("0.01")), bidder=f"Bidder {plan.number}",
            on=plan.facts["listed_on"], by=BY, at=moment(plan.facts["listed_on"]),
        )  # fmt: skip


# how it ended


def ends(pairs: Sequence[Pair], *, terms: dict[int, Terms], tally: Tally) -> None:
    """Deal, outcome, payments, statement and what was paid out: each in the order in which the rows name each other."""
    sold = [(plan, one) for plan, one in pairs if plan.outcome is not None and plan.outcome.result == "sold"]
    held = [(plan, one) for plan, one in pairs if plan.state == State.DEPOSIT]
    deals = tally.write(Deal, [*(deal_of(one, plan) for plan, one in sold), *(hold(one, plan) for plan, one in held)])
    for (plan, _), deal in zip(sold, deals, strict=False):
        if plan.outcome:
            plan.outcome.deal = deal
    for plan, one in pairs:
        if plan.outcome:
            plan.outcome.consignment = one
    tally.write(SaleOutcome, (plan.outcome for plan, _ in pairs if plan.outcome))
    received = tally.write(BuyerPayment, (payment(deal) for deal in deals))
    cleared = {deal.pk for (plan, _), deal in zip(sold, deals, strict=False) if plan.state != State.SOLD}
    tally.write(BuyerPayment, (clearing(row) for row in received if row.deal_id in cleared))
    settled = [plan_one for plan_one in sold if plan_one[0].state != State.SOLD]
    statements(settled, terms=terms, tally=tally)


def deal_of(one: Consignment, plan: Plan) -> Deal:
    row = plan.outcome
    assert row is not None
    return Deal(
        consignment=one, buyer=f"Buyer {plan.number}", price=row.price, began_on=row.ended_on, ended_on=row.ended_on,
        end="sold", by=BY, at=row.at,
    )  # fmt: skip


def hold(one: Consignment, plan: Plan) -> Deal:
    on = plan.facts["listed_on"]
    return Deal(
        consignment=one, buyer=f"Buyer {plan.number}", price=plan.facts["last_ask"], began_on=on, by=BY, at=moment(on),
        hold_until=on + 90 * DAY,
    )  # fmt: skip


def payment(deal: Deal) -> BuyerPayment:
    amount = deal.price if deal.end else Decimal("1000.00")
    return BuyerPayment(
        deal=deal, event="received", is_deposit=not deal.end, amount=amount, method="wire", on=deal.began_on, by=BY,
        at=deal.at,
    )  # fmt: skip


def clearing(row: BuyerPayment) -> BuyerPayment:
    return BuyerPayment(
        deal_id=row.deal_id, event="cleared", of=row, amount=row.amount, method=row.method, on=row.on, by=BY, at=row.at
    )


def commission(plan: Plan) -> Decimal:
    return (price(plan) * RATE).quantize(Decimal("0.01"))


def price(plan: Plan) -> Decimal:
    assert plan.outcome is not None
    assert plan.outcome.price is not None
    return plan.outcome.price


def statements(settled: Sequence[Pair], *, terms: dict[int, Terms], tally: Tally) -> None:
    """Each statement in full; those that left were paid out, and the lot took its commission."""
    rows = tally.write(
        Settlement, (statement(place, one, plan, terms[one.pk]) for place, (plan, one) in enumerate(settled, start=1))
    )
    both = [(plan, one, row) for (plan, one), row in zip(settled, rows, strict=True)]
    tally.write(SettlementLine, (line for plan, _, row in both for line in lines_of(row, plan)))
    payees = tally.write(SettlementPayee, (payee_of(row) for row in rows))
    tally.write(
        Disbursement,
        (paid(row, share) for (plan, _, row), share in zip(both, payees, strict=True) if plan.gone),
    )
    tally.write(TrustMovement, (taken(one, plan) for plan, one, _ in both if plan.gone))


def statement(place: int, one: Consignment, plan: Plan, agreed: Terms) -> Settlement:
    assert plan.outcome is not None
    on = plan.outcome.ended_on
    return Settlement(
        consignment=one, outcome=plan.outcome, terms=agreed, sequence=place, number=f"S-{place:06d}",
        due=price(plan) - commission(plan), pay_by=on + 20 * DAY, on=on, by=BY, at=moment(on),
    )  # fmt: skip


def payee_of(row: Settlement) -> SettlementPayee:
    return SettlementPayee(settlement=row, position=1, kind="consignor", name="Ada Fenwick", amount=row.due)


def lines_of(row: Settlement, plan: Plan) -> list[SettlementLine]:
    told = (
        (LineKind.SALE_PRICE, "Sale price agreed", price(plan)),
        (LineKind.COMMISSION, "Commission of 9 percent", -commission(plan)),
    )
    return [
        SettlementLine(settlement=row, position=place, kind=kind, label=label, amount=amount)
        for place, (kind, label, amount) in enumerate(told, start=1)
    ]


def paid(row: Settlement, share: SettlementPayee) -> Disbursement:
    return Disbursement(
        settlement=row, share=share, payee_kind="consignor", payee=share.name, amount=row.due, method="wire",
        on=row.on, by=BY, at=row.at,
    )  # fmt: skip


def taken(one: Consignment, plan: Plan) -> TrustMovement:
    assert plan.outcome is not None
    return TrustMovement(
        consignment=one, kind="to_lot", amount=commission(plan), method="wire", on=plan.outcome.ended_on, by=BY,
        at=plan.outcome.at,
    )  # fmt: skip
