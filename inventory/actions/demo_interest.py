"""Invented interest of the demo: callers to follow up, a test drive, and places of which one shows an old ask."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from inventory.actions import driving, inquiring, showing_places
from inventory.actions.writing import trade_day
from inventory.models import Consignment, TestDrive
from inventory.queries.facts import current_ask, terms_of
from inventory.queries.flags import drives_stopped
from inventory.rules import money
from inventory.rules.drives import DEFAULT_TEXT, text_mark
from inventory.rules.floor_words import InquiryAim
from inventory.rules.roles import command
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from inventory.rules.words import InquiryWay

BY = command("demo")
_SIGNED = Signature(strokes=[[[90 + 26 * step, 200 + (step * 53) % 150 - 75] for step in range(28)]])
_SINCE = timedelta(days=6)


def load(*, at: datetime) -> None:
    """On the first listed vehicles that are here long enough."""
    stays = list(_listed_before(trade_day(at - _SINCE)))
    for stay, call in zip(stays, _CALLS, strict=False):
        _be_called(stay, call=call, at=at)
    drivable = next((stay for stay in stays if _may_be_driven(stay, today=trade_day(at))), None)
    if drivable is not None:
        _drive(drivable, at=at - timedelta(days=2))
    if stays:
        _show(stays[0], at=at - timedelta(days=5))


def _listed_before(day: date) -> Iterator[Consignment]:
    yield from Consignment.objects.filter(state=State.LISTED, listed_on__lte=day).order_by("pk")


# Who called, by phone or mail, what they want, in how many days to call back, and what came of a first call.
_CALLS: tuple[tuple[dict[str, Any], int, str], ...] = (
    (
        {"who": "Tamsin Orrick", "phone": "555-0142", "aim": InquiryAim.DRIVE, "about": "brings her father"},
        0,
        "",
    ),
    ({"who": "Levent Strand", "email": "levent@example.org", "aim": InquiryAim.TRADE, "about": "has a pickup"}, 4, ""),
    ({"who": "Greta Holm", "phone": "555-0177", "aim": InquiryAim.SEE}, 1, "left word on the machine"),
)


def _be_called(stay: Consignment, *, call: tuple[dict[str, Any], int, str], at: datetime) -> None:
    said, in_days, came_of_it = call
    today, asked_at = trade_day(at), at - timedelta(days=3)
    way = InquiryWay.EMAIL if "email" in said else InquiryWay.PHONE
    asked = inquiring.log_inquiry(
        stay.pk, way=way, follow_up_on=today + timedelta(days=0 if came_of_it else in_days), **said, by=BY, at=asked_at
    )
    if came_of_it:
        inquiring.log_follow_up(asked.pk, said=came_of_it, next_on=today + timedelta(days=in_days), by=BY, at=at)


def _may_be_driven(stay: Consignment, *, today: date) -> bool:
    terms = terms_of(stay)
    return (terms is None or terms.test_drives_allowed) and not drives_stopped(stay, today=today)


def _drive(stay: Consignment, *, at: datetime) -> TestDrive:
    going = driving.NewDrive(
        driver="Tamsin Orrick", reach=inquiring.Reach(phone="555-0142"), licence_from="Invented State",
        licence_valid_until=trade_day(at) + timedelta(days=900), text_seen=text_mark(DEFAULT_TEXT), signature=_SIGNED,
        plate="LOT 12", accompanied_by="Sol Amberley", odometer_out=stay.mileage or 48_210,
    )  # fmt: skip
    out = driving.take_out(stay.pk, drive=going, by=BY, at=at)
    back_at = at + timedelta(minutes=40)
    return driving.bring_back(
        out.code, odometer_back=out.odometer_out + 9, note_back="pulls a little to the left", by=BY, at=back_at
    )


def _show(stay: Consignment, *, at: datetime) -> None:
    """In the window at the ask that stands, on a page still at one of before."""
    ask = current_ask(stay)
    now = ask.amount if ask else None
    old = None if now is None else money.round_money((now * Decimal("1.06") / 100).to_integral_value() * 100)
    showing_places.show_at(stay.pk, place="The yard's own window", ask=now, by=BY, at=at)
    showing_places.show_at(
        stay.pk, place="Quillfeather Post, motor page", address="https://motor.example.org/larkspur", ask=old,
        by=BY, at=at,
    )  # fmt: skip
