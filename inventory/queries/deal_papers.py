"""What the papers of a deal say: bill of sale and deposit receipt, from the record alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.errors import NotFound, Refused
from inventory.models import BuyerPayment, Concession, Consignment, Deal, DealExtra, IdentityNumber, Lot
from inventory.papers.bill_of_sale import BillOfSalePaper
from inventory.papers.deposit_receipt import DepositReceiptPaper
from inventory.queries import facts
from inventory.rules import bills, deal_words, money, odometer
from inventory.rules.bills import Bill
from inventory.rules.reminders import MoneyIn, Reminder, cash_reminder, guide_reminder, odometer_reminder
from inventory.rules.states import FOR_SALE, State
from inventory.rules.words import DealEnd, PaymentEvent


@dataclass(frozen=True, kw_only=True)
class DealPapers:
    """What the sale desk offers of them now."""

    deal: Deal
    has_deposit: bool
    bill_waits_for: str  # what is missing for the bill of sale, as a sentence; empty when nothing is


def deal_papers(stay: Consignment, *, deal: Deal | None) -> DealPapers | None:
    if deal is None:
        return None
    deposit = BuyerPayment.objects.filter(deal=deal, is_deposit=True, event=PaymentEvent.RECEIVED).exists()
    return DealPapers(deal=deal, has_deposit=deposit, bill_waits_for=deal_words.bill_waits_for(deal.address))


def reminders_of(stay: Consignment, *, deal: Deal | None, today: date) -> list[Reminder]:
    """The rules that may apply to a vehicle that is offered or sold; to one that left nothing applies any more."""
    if stay.state in {State.WITHDRAWN, State.RELEASED}:
        return []
    sold_on = deal.ended_on if deal and deal.end == DealEnd.SOLD and deal.ended_on else today
    said = [odometer_reminder(stay.vehicle.year, sold_on=sold_on)]
    if stay.state in {State.ON_LOT, State.INSPECTED, *FOR_SALE}:
        said.append(guide_reminder())
    cash = cash_reminder(_money_in(deal)) if deal else None
    return [*said, cash] if cash else said


def _money_in(deal: Deal) -> list[MoneyIn]:
    """Every payment received; one that bounced never came. Cash that was handed back was received all the same."""
    rows = BuyerPayment.objects.filter(deal=deal, event=PaymentEvent.RECEIVED)
    came = rows.exclude(events__event=PaymentEvent.BOUNCED)
    return [MoneyIn(method=method, amount=amount, on=on) for method, amount, on in came.values_list(*_MONEY_IN)]


_MONEY_IN = ("method", "amount", "on")


def bill_of_sale_paper(stay: Consignment, *, today: date) -> BillOfSalePaper:
    """The bill of sale as it stands. Refused without the buyer's address: the paper would name nobody in full."""
    deal, lot = facts.deal_of(stay), facts.the_lot()
    if problem := deal_words.bill_waits_for(deal.address):
        raise Refused(
            "no_buyer_address", problem, field="address",
            mend="Give it under “Buyer's name and address” on the sale desk.",
        )  # fmt: skip
    owed = _bill(deal)
    return BillOfSalePaper(
        lot_name=lot.name, lot_address=lot.address, stock_number=stay.stock_number, made=f"Made {today}",
        caution=deal_words.TO_BE_REVIEWED, parties=_parties(stay, deal=deal, lot=lot), vehicle=_vehicle(stay),
        money=[*((label, money.show(amount)) for label, amount in owed.lines), ("To be paid", money.show(owed.due))],
        paid=_paid(deal, owed=owed), beside=deal_words.given_beside(deal.concessions),
        conditions=deal_words.BILL_CONDITIONS,
        sides=[f"Buyer: {deal.buyer}", f"For the lot: {lot.name}"],
    )  # fmt: skip


def _bill(deal: Deal) -> Bill:
    came = facts.buyer_money(deal)
    later = Concession.objects.filter(deal=deal).order_by("pk").values_list("reason", "amount")
    extras = DealExtra.objects.filter(deal=deal, sets_aside__isnull=True, set_aside_by__isnull=True).order_by("pk")
    return bills.bill(
        deal.price,
        off=[(f"Taken off after the sale: {reason}", amount) for reason, amount in later],
        trade_allowance=deal.trade_allowance,
        trade_note=deal.trade_note,
        extras=[(_called(row.get_kind_display(), row.label), row.amount) for row in extras],
        received=came.received,
        cleared=came.cleared,
    )


def _called(kind: str, label: str) -> str:
    named = f"{kind}: {label}" if label.strip() else kind
    return f"{named[:1].upper()}{named[1:]}"


def _paid(deal: Deal, *, owed: Bill) -> list[tuple[str, str]]:
    """Each payment with what became of it, then the sums."""
    rows = BuyerPayment.objects.filter(deal=deal, event=PaymentEvent.RECEIVED).prefetch_related("events").order_by("pk")
    lines = [(_payment_told(row), money.show(row.amount)) for row in rows]
    sums: list[tuple[str, Decimal]] = [("Cleared", owed.cleared)]
    if owed.waiting:
        sums.append(("Received and not cleared yet", owed.waiting))
    sums.append(("Balance, not cleared yet", owed.open))
    return [*lines, *((label, money.show(amount)) for label, amount in sums)]


def _payment_told(row: BuyerPayment) -> str:
    became = ", ".join(f"{event.get_event_display()} {event.on}" for event in row.events.all()) or "not cleared yet"
    what = "Deposit" if row.is_deposit else "Payment"
    return f"{what} of {row.on}, {row.get_method_display()}: {became}"


def _parties(stay: Consignment, *, deal: Deal, lot: Lot) -> list[tuple[str, str]]:
    terms = facts.terms_of(stay)
    agreed = f"version {terms.number} of {terms.starts_on}" if terms else ""
    consignor = "" if stay.consignor.is_lot else stay.consignor.name
    return [
        ("Seller", deal_words.seller_told(lot.name, consignor=consignor, agreement=agreed)),
        ("Buyer", deal.buyer),
        ("Buyer's address", deal.address),
        ("Date of sale", str(deal.ended_on) if deal.end == DealEnd.SOLD else "not marked sold yet"),
    ]


def _vehicle(stay: Consignment) -> list[tuple[str, str]]:
    vehicle = stay.vehicle
    number = f"{vehicle.serial} ({vehicle.get_serial_kind_display()})" if vehicle.serial else "none seen"
    read = {row.kind: row for row in IdentityNumber.objects.filter(vehicle=vehicle).order_by("pk")}
    others = [f"{row.get_kind_display()}: {row.value}" for row in read.values()]
    named = [("Body", vehicle.body), ("Engine", vehicle.engine), ("Colour", vehicle.color)]
    mileage = "no reading" if stay.mileage is None else f"{stay.mileage:,} miles"
    return [
        ("Stock number", stay.stock_number),
        ("Vehicle", str(vehicle)),
        ("Model year", f"{vehicle.year}, as titled"),
        *((name, value) for name, value in named if value),
        ("VIN or serial", number),
        ("Numbers recorded", "\n".join(others) or "none"),
        ("Title brand", vehicle.get_title_brand_display() or "not known to the lot"),
        ("Odometer", f"{mileage}. {odometer.MEANINGS[stay.odometer_status]}"),
    ]


def deposit_receipt_paper(stay: Consignment, *, today: date) -> DepositReceiptPaper:
    deal, lot = facts.deal_of(stay), facts.the_lot()
    rows = list(
        BuyerPayment.objects.filter(deal=deal, is_deposit=True, event=PaymentEvent.RECEIVED)
        .prefetch_related("events").order_by("pk")
    )  # fmt: skip
    if not rows:
        raise NotFound("no_deposit", f"No deposit was taken for {stay.stock_number}.", field="deposit")
    return DepositReceiptPaper(
        lot_name=lot.name, lot_address=lot.address, stock_number=stay.stock_number, made=f"Made {today}",
        caution=deal_words.TO_BE_REVIEWED, facts=_deposit_facts(stay, deal=deal, rows=rows),
        conditions=deal_words.deposit_conditions(refundable=deal.refundable, hold_until=deal.hold_until),
        sides=[f"Buyer: {deal.buyer}", f"For the lot: {lot.name}"],
    )  # fmt: skip


def _deposit_facts(stay: Consignment, *, deal: Deal, rows: Sequence[BuyerPayment]) -> list[tuple[str, str]]:
    address = [("Buyer's address", deal.address)] if deal.address else []
    taken = [("Deposit", f"{money.show(row.amount)}, {row.get_method_display()}, received on {row.on}") for row in rows]
    became = [
        ("What became of it", f"{event.get_event_display()} on {event.on}")
        for row in rows
        for event in row.events.all()
    ]
    return [
        ("Stock number", stay.stock_number),
        ("Vehicle", str(stay.vehicle)),
        ("VIN or serial", stay.vehicle.serial or "none seen"),
        ("Buyer", deal.buyer),
        *address,
        ("Price agreed", money.show(deal.price)),
        *taken,
        *became,
        ("Held until", str(deal.hold_until) if deal.hold_until else "no day was agreed"),
    ]
