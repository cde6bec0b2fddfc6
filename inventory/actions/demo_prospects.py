"""The demo's vehicles that may come: one is talked about, one was offered terms, one declined, one is booked."""

import io
from contextlib import suppress
from datetime import datetime, timedelta
from decimal import Decimal

from PIL import Image, ImageDraw

from inventory.actions import logbook, pricing, prospecting
from inventory.actions.agreeing import NewTerms
from inventory.actions.contacting import contact_for
from inventory.actions.prospecting import Person, ToldOf
from inventory.actions.writing import add, trade_day
from inventory.errors import Refused
from inventory.models import Consignment, Prospect, User
from inventory.rules.floor_words import Declined, ProspectStage
from inventory.rules.roles import Role, command
from inventory.rules.states import State
from inventory.rules.words import (
    BuildClass,
    ChargeKind,
    InquiryWay,
    ModificationKind,
    OdometerStatus,
    PlanKind,
)
from inventory.uploads import clean_picture

BY = command("demo")
FIRST_CALL = timedelta(days=9)


def price(*, at: datetime) -> None:
    """Those that may still come, by the last fit."""
    for row in Prospect.objects.filter(stage__in=(ProspectStage.OPEN, ProspectStage.OFFERED)).order_by("pk"):
        with suppress(Refused):  # too few sales of its kind: it goes without a band
            pricing.give_prospect_opinion(row.pk, by=BY, at=at)


def load(*, at: datetime) -> None:
    """All four, told of in the last days."""
    began = at - FIRST_CALL
    talked = _told(_TALKED_ABOUT, person=_PERSONS[0], at=began, follow_up_days=9)
    for number, caption in enumerate(("from the front left", "engine bay")):
        picture = clean_picture(_sketch(number), name=f"{caption}.jpg")
        prospecting.add_prospect_photo(talked.pk, picture=picture, caption=caption, by=BY, at=began)
    offered = _told(_OFFERED, person=_PERSONS[1], at=began, follow_up_days=12)
    prospecting.propose_terms(offered.pk, terms=_terms(at=began), by=BY, at=began + timedelta(days=1))
    declined = _told(_DECLINED, person=_PERSONS[2], at=began)
    prospecting.decline(
        declined.pk, declined=Declined.BY_OWNER, because="hopes for more than any price here", by=BY,
        at=began + timedelta(days=4),
    )  # fmt: skip
    _link_booked(at=at)


def _told(told: ToldOf, *, person: Person, at: datetime, follow_up_days: int | None = None) -> Prospect:
    sales = User.objects.filter(role=Role.SALES).order_by("pk").first()
    day = None if follow_up_days is None else trade_day(at) + timedelta(days=follow_up_days)
    said = {**told.__dict__, "brought_in_by": sales.pk if sales else None, "follow_up_on": day}
    return prospecting.log_prospect(ToldOf(**said), person=person, by=BY, at=at)


_PERSONS = (
    Person(name="Hedda Collier", phone="555-0170 4411", email="hedda@example.org"),
    Person(name="Bram Oakes", phone="555-0171 2290"),
    Person(name="Sunniva Lind", email="sunniva@example.org"),
)
_TALKED_ABOUT = ToldOf(
    year=1968, make="Merrow", model="Alder", body="two-door", engine="large V8", transmission="manual", color="green",
    mileage=84120, odometer_status=OdometerStatus.ACTUAL, condition_low=Decimal(75), condition_high=Decimal(85),
    kinds=(ModificationKind.WHEELS,), way=InquiryWay.PHONE, hoped_for=Decimal("24000.00"),
    story="My father's. Always in the barn, never in the rain. The engine was gone through some years ago; "
    "the bill must be somewhere.",
)  # fmt: skip
_OFFERED = ToldOf(
    year=1961, make="Halvard", model="Brisling", body="open", transmission="manual", color="red",
    build_class=BuildClass.RESTORED, title_brand="clean", mileage=40210, condition_low=Decimal(90), unchanged=True,
    originality_low=Decimal(80), originality_high=Decimal(95), way=InquiryWay.IN_PERSON,
    hoped_for=Decimal("31500.00"), story="Restored twelve years ago, shown twice.",
)  # fmt: skip
_DECLINED = ToldOf(
    year=1979, make="Ostrey", model="Gannet", condition_low=Decimal(95), way=InquiryWay.ONLINE,
    hoped_for=Decimal("60000.00"),
)  # fmt: skip


def _terms(*, at: datetime) -> NewTerms:
    day = trade_day(at) + timedelta(days=14)
    return NewTerms(
        plan_kind=PlanKind.PERCENT, rate=Decimal("9.5"), starts_on=day, ends_on=day + timedelta(days=150),
        protection_days=60, charge_rules=((ChargeKind.REPAIR, "consignor", Decimal("500.00")),),
    )  # fmt: skip


def _link_booked(*, at: datetime) -> None:
    """A stay of the demo that is booked already: what its owner had told stands beside it."""
    stay = Consignment.objects.filter(state=State.BOOKED).order_by("pk").first()
    if stay is None:
        return
    vehicle, person = stay.vehicle, stay.consignor
    contact = contact_for(name=person.name, phone=person.phone, email=person.email, by=BY, at=at)
    row = add(
        Prospect(
            stage=ProspectStage.BOOKED, consignment=stay, consignor=person, contact=contact, way=InquiryWay.PHONE,
            year=vehicle.year, make=vehicle.make, model=vehicle.model, body=vehicle.body, color=vehicle.color,
            transmission=vehicle.transmission, build_class=vehicle.build_class, condition_low=Decimal(70),
            condition_high=Decimal(80), story="One owner, kept under a roof.", ended_on=stay.booked_on,
            by=BY.name, at=at - FIRST_CALL,
        )
    )  # fmt: skip
    logbook.record(
        "prospect.booked", row, by=BY, at=at, consignment=stay, stock_number=stay.stock_number, consignor=person.name
    )


def _sketch(number: int) -> bytes:
    """An invented picture: a vehicle's outline in two plain colours."""
    image = Image.new("RGB", (960, 640), (196, 206, 190) if number else (176, 190, 204))
    draw = ImageDraw.Draw(image)
    draw.rounded_rectangle((140, 320, 820, 470), radius=60, fill=(46, 84, 60))
    draw.polygon(((300, 320), (380, 220), (600, 220), (690, 320)), fill=(60, 100, 76))
    for left in (220, 620):
        draw.ellipse((left, 410, left + 130, 540), fill=(32, 32, 34))
    kept = io.BytesIO()
    image.save(kept, "JPEG", quality=80)
    return kept.getvalue()
