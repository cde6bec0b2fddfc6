"""The invented demo lot is loaded through the same actions that people use."""

import json
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from inventory.actions import (  # fmt: skip
    agreeing,
    asking,
    charging,
    demo_floor,
    demo_interest,
    demo_ledger,
    demo_money,
    demo_people,
    demo_prospects,
    demo_walk,
    demo_work,
    figures,
    importing,
    importing_elsewhere,
    inquiring,
    intake,
    linking,
    logbook,
    offering,
    paying,
    pricing,
    receiving,
    recording,
    releasing,
    selling,
    settling,
    staffing,
)
from inventory.actions.figures import Measured
from inventory.actions.intake import Arrival
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import BuyerPayment, Consignment, Lot, ModelFit, Offer, PriceOpinion, SaleOutcome, User
from inventory.queries import ask_desk
from inventory.queries.pricing_desk import latest_fit
from inventory.rules import identity, money
from inventory.rules.roles import STAFF_ROLES, command
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from inventory.rules.suggested import Suggested
from inventory.rules.words import (
    Basis,
    Era,
    Fuel,
    IdentityKind,
    InquiryWay,
    PaperStanding,
    PaymentEvent,
    SignsAs,
    TitleKind,
)
from inventory.sheets import Options

FIXTURES = Path(settings.BASE_DIR) / "fixtures" / "demo"
LOT_NAME = "Larkspur Yard (demo)"
LOT_ADDRESS = "12 Larkspur Lane\nInvented Falls"
BY = command("demo")
FITS = 2
FIRST_FIT = timedelta(days=150)  # before today: bands are given to the stock as it arrives
REFITS = 4  # of its back-test: fewer than usual, so that the first look does not take long
NAMES = {"intake": "Ines Quarles", "sales": "Sol Amberley", "owner": "Odile Marchbanks"}


@dataclass(frozen=True)
class DemoLot:
    """What the command prints: who may sign in, a private link, and a vehicle to look at."""

    passwords: dict[str, str]
    token: str
    linked: str
    shown: str


def password_of(role: str) -> str:
    """The demo's pass phrases are no secret: the demo serves on loopback only."""
    return f"larkspur-{role}-demo"


def refuse_real_data() -> None:
    """A database with anything that the demo did not make is left alone."""
    lot = Lot.objects.filter(pk=1).first()
    if lot is not None and lot.is_demo:
        return
    if User.objects.exists() or Consignment.objects.exists() or SaleOutcome.objects.exists():
        raise Refused(
            "not_a_demo",
            "This database holds data that is not the demo's.",
            field="database",
            mend="Give the demo a database of its own: set DATA_DIR or DATABASE_URL.",
        )


def load(*, at: datetime) -> DemoLot:
    """Load the demo lot once; called again it only makes a new private link."""
    refuse_real_data()
    if not Lot.objects.filter(pk=1, is_demo=True).exists():
        with transaction.atomic():
            _load_people(at=at)
            _load_sales(at=at)
            pricing.fit_prices(by=BY, at=at - FIRST_FIT, refits=1)
            demo_ledger.load_decoder(by=BY, at=at)
            demo_floor.set_up(at=at)
            for place, vehicle in enumerate(_vehicles()):
                _load_vehicle(vehicle, place=place, at=at)
            demo_money.load(at=at)
            demo_prospects.load(at=at)
            demo_interest.load(at=at)
            demo_work.load(at=at)
            demo_floor.load(at=at)
            demo_people.load(at=at)
    if ModelFit.objects.count() < FITS:
        pricing.fit_prices(by=BY, at=at, refits=REFITS)
        pricing.price_stock(by=BY, at=at)
        demo_prospects.price(at=at)
    stay = (
        Consignment.objects.filter(state=State.LISTED).order_by("pk").first() or Consignment.objects.order_by("pk")[0]
    )
    _, token = linking.make_link(stay.pk, by=BY, at=at)
    passwords = {role.value: password_of(role) for role in STAFF_ROLES}
    return DemoLot(passwords, token, str(stay.stock_number), str(stay.stock_number))


def _load_people(*, at: datetime) -> None:
    lot, _ = Lot.objects.get_or_create(pk=1)
    recording.change_lot(
        {"name": LOT_NAME, "address": LOT_ADDRESS, "is_demo": True, "carrying_cost_per_day": Decimal("11.50")},
        by=BY,
        at=at,
    )
    logbook.record("demo.loaded", lot, by=BY, at=at)
    for role in STAFF_ROLES:
        staffing.add_staff(role.value, full_name=NAMES[role.value], role=role, password=password_of(role), by=BY, at=at)


def _load_sales(*, at: datetime) -> None:
    path = FIXTURES / "past_sales.csv"
    importing.import_sales(path, name=path.name, options=Options(), by=BY, at=at)
    path = FIXTURES / "sales_elsewhere.csv"
    importing_elsewhere.import_elsewhere(path, name=path.name, options=Options(), by=BY, at=at)


def _vehicles() -> list[dict[str, Any]]:
    vehicles: list[dict[str, Any]] = json.loads((FIXTURES / "vehicles.json").read_text(encoding="utf-8"))["vehicles"]
    return vehicles


@dataclass(frozen=True)
class _Stay:
    """One demo vehicle on its way through the lot."""

    row: Consignment
    given: dict[str, Any]
    place: int
    arrived_at: datetime
    now: datetime

    @property
    def target(self) -> str:
        return str(self.given["state"])

    def after(self, days: int) -> datetime:
        return min(self.arrived_at + timedelta(days=days), self.now)


def _load_vehicle(given: dict[str, Any], *, place: int, at: datetime) -> None:
    arrived_at = at - timedelta(days=given["days_ago"])
    row = intake.log_vehicle(_arrival(given, arrived_at=arrived_at, place=place), by=BY, at=arrived_at)
    stay = _Stay(row, given, place, arrived_at, at)
    if given["state"] == State.BOOKED:
        return
    recording.record_place(row.pk, place=demo_floor.bay(place), keys=f"Hook {place + 1}", by=BY, at=arrived_at)
    if place % 5 != _WITHOUT_RECEIPT:
        _sign(stay)
    for kind, what, fitting, *components in given.get("modifications", ()):
        recording.add_modification(
            row.pk, kind=kind, what=what, fitting=fitting, workmanship=3, era=Era.MODERN, basis=Basis.SEEN,
            components=components, by=BY, at=arrived_at,
        )  # fmt: skip
    walked = demo_walk.Visit(row, given, place=place, at=stay.after(1))
    _measure(stay)
    if given["state"] == State.ON_LOT:
        if "stations" in given:
            demo_walk.begin(walked, stations=given["stations"])
        return
    demo_walk.inspect(walked)
    with suppress(Refused):  # too few sales of its kind: it goes without a band
        pricing.give_opinion(row.pk, by=BY, at=stay.after(1))
    if "terms" in given:
        _agree(stay)
    if given["state"] not in {State.INSPECTED}:
        _list(stay)
        _end(stay)


def _sign(stay: _Stay) -> None:
    """The arrival receipt, signed by the invented consignor and by intake; one in a while was dropped off at night."""
    row, place = stay.row, stay.place
    after_hours = place % 7 == 0
    written = receiving.NewReceipt(
        mileage=row.mileage, no_reading_reason="" if row.mileage is not None else "the display is dark",
        odometer_status=row.odometer_status, fuel=list(Fuel)[place % len(Fuel)], keys_count=1 + place % 2,
        damage=_DAMAGE[place % len(_DAMAGE)], items=_LEFT[place % len(_LEFT)],
        handed_over_by=row.consignor.name, signs_as=SignsAs.CARRIER if after_hours else SignsAs.OWNER,
        giver=Signature() if after_hours else Signature(strokes=_scrawl(place)),
        unsigned_reason="dropped off after hours, keys in the box" if after_hours else "",
        taken_in_by=NAMES["intake"], taker=Signature(strokes=_scrawl(99)),
    )  # fmt: skip
    receiving.sign_receipt(row.pk, receipt=written, by=BY, at=stay.arrived_at)


_WITHOUT_RECEIPT = 4  # one vehicle in five has none yet
_DAMAGE: tuple[tuple[tuple[str, str], ...], ...] = (
    (("left door", "scratch, 4 inches, through the clear coat"), ("rear bumper", "two dents, chrome whole")),
    (),
    (("windshield", "stone chip, passenger side"),),
)
_LEFT: tuple[tuple[tuple[str, int], ...], ...] = ((("owner's manual", 1), ("spare wheel", 1)), (), (("car cover", 1),))


def _scrawl(seed: int) -> list[list[list[int]]]:
    """A few invented waves and a flourish: the hand of nobody."""
    wave = [[90 + 26 * step, 200 + (step * (37 + 11 * seed)) % 150 - 75] for step in range(28)]
    return [wave, [[120, 320], [420, 290 + seed % 20], [860, 310]]]


def _arrival(given: dict[str, Any], *, arrived_at: datetime, place: int) -> Arrival:
    person = given.get("consignor") or {"name": "Mirela Dobrescu", "email": "mirela@example.org", "phone": "555-0119"}
    return Arrival(
        **{name: given[name] for name in _PLAIN if given.get(name) is not None},
        vin=_vin(given, place=place), title_brand="clean", consignor_name=person["name"],
        consignor_email=person["email"], consignor_phone=person["phone"],
        booked_only=given["state"] == State.BOOKED,
        arrived_on=None if given["state"] == State.BOOKED else trade_day(arrived_at),
    )  # fmt: skip


_PLAIN = (
    "year", "make", "model", "body", "transmission", "color", "build_class", "mileage", "odometer_status",
)  # fmt: skip


def _vin(given: dict[str, Any], *, place: int) -> str:
    """A serial as written, or an invented VIN with a right check digit (the prefix 1ZZ is no maker's)."""
    written = str(given.get("vin", ""))
    if not written.startswith("@"):
        return written
    code = identity.YEAR_CODES[(given["year"] - 1980) % len(identity.YEAR_CODES)]
    bare = f"1ZZDB11A0{code}A7{place:05d}"
    return f"{bare[:8]}{identity.check_digit(bare)}{bare[9:]}"


def _measure(stay: _Stay) -> None:
    """What was read off tyres, engine, driveline and battery of some of the vehicles; a few contradict themselves."""
    given, at = stay.given.get("figures", {}), stay.arrived_at
    for said in given.get("tyres", ()):
        all_four = said.pop("all_four", False)
        measured = Measured(figures={name: said[name] for name in said if name != "position"}, basis=Basis.SEEN)
        figures.record_tyre(stay.row.pk, position=said["position"], measured=measured, all_four=all_four, by=BY, at=at)
    for part, record in _RECORD.items():
        for basis, said in given.get(part, {}).items():
            record(stay.row.pk, measured=Measured(figures=said, basis=basis), by=BY, at=at)


_RECORD: dict[str, Any] = {
    "engine": figures.record_engine, "driveline": figures.record_driveline, "electrics": figures.record_electric,
}  # fmt: skip


def _price_of(stay: _Stay) -> Decimal:
    """A round asking price beside the band of then; without one, from the lot's own median of that make."""
    opinion = PriceOpinion.objects.filter(consignment=stay.row, at__lte=stay.after(3)).order_by("-pk").first()
    if opinion is not None:
        likely: Decimal = opinion.likely
        return money.round_money((likely * _ASKED[stay.place % len(_ASKED)] / 100).to_integral_value() * 100)
    sold = SaleOutcome.objects.filter(make=stay.given["make"], result="sold").order_by("effective_price")
    prices = [price for price in sold.values_list("effective_price", flat=True) if price is not None]
    middle = prices[len(prices) // 2] if prices else Decimal(20000)
    return money.round_money((middle * Decimal("1.08") / 100).to_integral_value() * 100)


# Of the likely price: some ask too much, as people do.
_ASKED = tuple(Decimal(share) for share in ("1.04", "0.98", "1.10", "1.02", "1.22", "1.06", "1.15"))


def _agree(stay: _Stay) -> None:
    said, at = dict(stay.given["terms"]), stay.after(1)
    price = _price_of(stay)
    lien: dict[str, Any] = {}
    if "lien_holder" in said:
        lien = {
            "lien_holder": said["lien_holder"], "lien_amount": Decimal(said["lien_amount"]),
            "lien_per_day": Decimal(said["lien_per_day"]), "lien_quoted_on": trade_day(at),
        }  # fmt: skip
    amounts: dict[str, Any] = {name: Decimal(said[name]) for name in ("rate", "minimum", "flat") if name in said}
    terms = agreeing.NewTerms(
        plan_kind=said["plan_kind"],
        **amounts,
        tiers=tuple((None if up is None else Decimal(up), Decimal(rate)) for up, rate in said.get("tiers", ())),
        floor=Decimal(said["floor"]) if "floor" in said else money.round_money(price * Decimal("0.80")),
        starts_on=trade_day(at), ends_on=trade_day(at) + timedelta(days=180),
        signed_by=stay.row.consignor.name, signed_on=trade_day(at), **lien,
        **demo_money.beside(place=stay.place, price=price, consignor=stay.row.consignor.name),
    )  # fmt: skip
    agreeing.agree_terms(stay.row.pk, terms=terms, by=BY, at=at)
    for kind, what, amount in stay.given.get("charges", ()):
        charging.add_charge(
            stay.row.pk, kind=kind, what=what, amount=Decimal(amount), agreed_by=stay.row.consignor.name, by=BY, at=at
        )
    serial = stay.row.vehicle.serial
    recording.add_identity_number(
        stay.row.pk, kind=IdentityKind.TITLE, value=serial, basis=Basis.DOCUMENTED, by=BY, at=at
    )
    recording.add_title_paper(
        stay.row.pk, kind=TitleKind.TITLE, standing=PaperStanding.READ, number=f"T{stay.place:04d}",
        name_on_paper=stay.row.consignor.name, by=BY, at=at,
    )  # fmt: skip


def _list(stay: _Stay) -> None:
    at, price = stay.after(3), _price_of(stay)
    suggestion = _suggested(stay, price=price, at=at)
    reason = "what the consignor hopes for" if suggestion else "first ask"
    asking.set_ask(stay.row.pk, amount=price, reason=reason, suggestion=suggestion, by=BY, at=at)
    asking.list_vehicle(stay.row.pk, by=BY, at=at)
    if stay.given["days_ago"] > 70 and stay.target == State.LISTED:
        lower = money.round_money((price * Decimal("0.94") / 100).to_integral_value() * 100)
        asking.set_ask(stay.row.pk, amount=lower, reason="no offers in eight weeks", by=BY, at=stay.after(59))
    _be_asked(stay)
    for bidder, share in stay.given.get("offers", ()):
        offering.log_offer(
            stay.row.pk, amount=money.round_money((price * Decimal(str(share)) / 100).to_integral_value() * 100),
            bidder=bidder, contact="by phone", by=BY, at=stay.after(20),
        )  # fmt: skip


def _be_asked(stay: _Stay) -> None:
    """From none to six inquiries by place, in the first weeks; every other one comes to see it on the next day."""
    for number in range(stay.place * 3 % 7):
        at, name = stay.after(4 + 3 * number), _CALLERS[(stay.place + number) % len(_CALLERS)]
        ways = list(InquiryWay)
        asked = inquiring.log_inquiry(
            stay.row.pk, way=ways[(stay.place + number) % len(ways)], who=name, about=_ASKED_ABOUT[number % 3],
            by=BY, at=at,
        )  # fmt: skip
        if number % 2 == 0:
            came_at = stay.after(5 + 3 * number)
            inquiring.log_showing(stay.row.pk, inquiry_id=asked.pk, note="walked round it", by=BY, at=came_at)


_CALLERS = ("Tove Marlin", "", "Ansel Brook", "Petra Quill", "", "Ivo Castell")  # some do not say who they are
_ASKED_ABOUT = ("the price", "rust, and what was done about it", "")


def _suggested(stay: _Stay, *, price: Decimal, at: datetime) -> Suggested | None:
    """What the desk would have suggested on the day; every fourth was asked without looking."""
    if stay.place % 4 == 0:
        return None
    here = ask_desk.situation_of(stay.row, fit=latest_fit(), today=trade_day(at))
    return ask_desk.suggested_for(here, view=here.usual, amount=price)


def _end(stay: _Stay) -> None:
    target = stay.target
    if target == State.DEPOSIT:
        _deposit(stay)
    elif target in {State.SOLD, State.SETTLED}:
        _sell(stay)
    elif target in {State.WITHDRAWN, State.RELEASED}:
        selling.withdraw(
            stay.row.pk, reason="price", detail="consignor keeps it over the winter", by=BY, at=stay.after(60)
        )
    if target == State.RELEASED:
        releasing.release(stay.row.pk, signed_for_by=stay.row.consignor.name, by=BY, at=stay.after(63))


def _deposit(stay: _Stay) -> None:
    offer = Offer.objects.filter(consignment=stay.row).order_by("-amount").first()
    price = offer.amount if offer else _price_of(stay)
    at = stay.after(24)
    if offer is not None:
        offering.answer_offer(offer.pk, answer="accepted", by=BY, at=at)
    bargain = Bargain(price=price, buyer="Dana Whitcombe", address="9 Tannery Row, Invented Falls")
    if offer is not None:
        bargain = replace(bargain, buyer=offer.bidder, offer_id=offer.pk)
    selling.take_deposit(
        stay.row.pk, bargain=bargain, deposit=Payment(amount=Decimal("1000.00"), method="card"),
        hold_until=trade_day(stay.now) + timedelta(days=5), by=BY, at=at,
    )  # fmt: skip


def _sell(stay: _Stay) -> None:
    at = stay.after(40)
    price = money.round_money((_price_of(stay) * Decimal("0.97") / 50).to_integral_value() * 50)
    selling.mark_sold(
        stay.row.pk,
        bargain=Bargain(price=price, buyer="Jonas Bergquist", address="2 Quarry Hill, Invented Falls"),
        by=BY,
        at=at,
    )
    paying.record_payment(stay.row.pk, payment=Payment(amount=price), by=BY, at=at)
    if stay.target != State.SETTLED:
        return
    for receipt in BuyerPayment.objects.filter(deal__consignment=stay.row, event=PaymentEvent.RECEIVED):
        paying.settle_payment(receipt.pk, event=PaymentEvent.CLEARED, by=BY, at=stay.after(43))
    settlement = settling.approve_settlement(stay.row.pk, by=BY, at=stay.after(45))
    if settlement.due > 0:
        settling.record_disbursement(
            settlement.pk, payee_kind="consignor", payee=stay.row.consignor.name, amount=settlement.due,
            method="wire", by=BY, at=stay.after(46),
        )  # fmt: skip
    if stay.given.get("released"):
        releasing.send_title(stay.row.pk, by=BY, at=stay.after(46))
        releasing.release(stay.row.pk, signed_for_by="Jonas Bergquist", by=BY, at=stay.after(47))
