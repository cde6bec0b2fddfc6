"""Inquiries and showings: kept while a vehicle is for sale, told in the log without a name."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import inquiring, selling
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import Consignment, Inquiry, LogEntry, Showing
from inventory.queries.follow_ups import follow_ups_today
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.wording import LOG_SENTENCES
from tests import build

pytestmark = pytest.mark.django_db


def ask(stay: Consignment, *, by: Actor, at: datetime, way: str = "phone", **more: Any) -> Inquiry:
    return inquiring.log_inquiry(stay.pk, way=way, by=by, at=at, **more)


def show(stay: Consignment, *, by: Actor, at: datetime, **more: Any) -> Showing:
    return inquiring.log_showing(stay.pk, by=by, at=at, **more)


def test_inquiry_and_showing_are_kept_and_hold_up_nobody_who_sells(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    asked = ask(stay, who=" Bo Larkin ", about="rust", by=sales, at=at)
    came = show(stay, inquiry_id=asked.pk, note="with a friend", by=sales, at=at)
    assert (asked.who, asked.about, asked.on, asked.by) == ("Bo Larkin", "rust", trade_day(at), sales.name)
    assert (came.inquiry, came.who, came.note, came.on) == (asked, "", "with a friend", trade_day(at))
    bargain = Bargain(price=Decimal("48500.00"), buyer="Cy Aldous")
    assert selling.mark_sold(stay.pk, bargain=bargain, version=stay.version, by=build.BUILDER, at=at).pk


def test_log_tells_the_day_and_the_way_and_no_name(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    ask(stay, who="Bo Larkin", about="Bo asks for his father", way="email", by=sales, at=at)
    show(stay, who="Bo Larkin", note="Bo came late", by=sales, at=at)
    said = [LOG_SENTENCES[row.action].format(**row.data) for row in LogEntry.objects.order_by("pk")][-2:]
    day = trade_day(at)
    assert said == [f"logged an inquiry of {day}, by e-mail", f"logged a showing of {day}"]
    assert not [row for row in LogEntry.objects.all() if "Bo " in str(row.data)]


def test_what_is_sent_twice_is_one(sales: Actor, at: datetime) -> None:
    stay, key = build.consignment(State.LISTED, at=at), uuid.uuid4()
    for log in (ask, show):
        assert log(stay, by=sales, at=at, client_key=key) == log(stay, by=sales, at=at, client_key=key)
    assert (Inquiry.objects.count(), Showing.objects.count()) == (1, 1)


def test_both_are_taken_while_a_deposit_holds(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=at)
    assert ask(stay, by=sales, at=at) == Inquiry.objects.get()
    assert show(stay, by=sales, at=at) == Showing.objects.get()


@pytest.mark.parametrize("log", [ask, show])
@pytest.mark.parametrize("state", [State.INSPECTED, State.SOLD, State.WITHDRAWN])
def test_what_is_not_for_sale_is_refused(sales: Actor, at: datetime, state: State, log: Any) -> None:
    with pytest.raises(Refused) as refusal:
        log(build.consignment(state, at=at), by=sales, at=at)
    assert (refusal.value.code, refusal.value.got) == ("not_for_sale", state)


@pytest.mark.parametrize("log", [ask, show])
@pytest.mark.parametrize(("days", "code"), [(-1, "before_listed"), (0, None), (4, None), (5, "date_future")])
def test_day_lies_from_the_listing_to_today(sales: Actor, at: datetime, log: Any, days: int, code: str | None) -> None:
    stay, day = build.consignment(State.LISTED, at=at), trade_day(at) + timedelta(days=days)
    now = at + timedelta(days=4)
    if code is None:
        assert log(stay, on=day, by=sales, at=now).on == day
        return
    with pytest.raises(Refused) as refusal:
        log(stay, on=day, by=sales, at=now)
    assert (refusal.value.code, refusal.value.field, refusal.value.got) == (code, "on", day)


def test_showing_before_its_inquiry_or_of_another_vehicle_is_refused(sales: Actor, at: datetime) -> None:
    one, other = (build.consignment(State.LISTED, at=at) for _ in range(2))
    later = at + timedelta(days=3)
    asked = ask(one, by=sales, at=later)
    with pytest.raises(Refused) as refusal:
        show(one, inquiry_id=asked.pk, on=trade_day(at), by=sales, at=later)
    assert (refusal.value.code, refusal.value.field) == ("before_inquiry", "on")
    with pytest.raises(NotFound):
        show(other, inquiry_id=asked.pk, by=sales, at=later)
    assert not Showing.objects.exists()


def test_way_nobody_knows_is_refused_on_its_field(sales: Actor, at: datetime) -> None:
    with pytest.raises(Refused) as refusal:
        ask(build.consignment(State.LISTED, at=at), way="pigeon", by=sales, at=at)
    assert (refusal.value.field, refusal.value.got) == ("way", "pigeon")


@pytest.mark.parametrize("log", [ask, show])
def test_intake_staff_may_not_log_either(intake: Actor, at: datetime, log: Any) -> None:
    with pytest.raises(NotAllowed):
        log(build.consignment(State.LISTED, at=at), by=intake, at=at)


def test_same_phone_or_mail_is_the_same_contact_and_a_name_alone_is_none(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    first = ask(stay, who="Bo Larkin", phone="(555) 010-0188", email="bo@example.org", aim="drive", by=sales, at=at)
    by_phone = ask(stay, who="B. Larkin", phone="555 010 0188", by=sales, at=at)
    by_mail = ask(stay, who="Larkin", email="BO@example.org", by=sales, at=at)
    assert first.contact is not None
    assert first.contact == by_phone.contact == by_mail.contact
    assert (first.aim, by_mail.aim) == ("drive", "question")
    assert ask(stay, who="Bo Larkin", by=sales, at=at).contact is None
    with pytest.raises(Refused) as refusal:
        ask(stay, phone="555 010 0188", by=sales, at=at)
    assert (refusal.value.code, refusal.value.field) == ("name_missing", "who")


def test_follow_up_moves_the_day_or_ends_it(sales: Actor, at: datetime) -> None:
    stay, today = build.consignment(State.LISTED, at=at), trade_day(at)
    asked = ask(stay, who="Bo Larkin", follow_up_on=today, by=sales, at=at)
    (line,) = follow_ups_today(sales, today)
    assert (line.text, line.page, line.is_urgent) == ("1 inquiry to follow up today", "follow_ups", False)
    assert follow_ups_today(sales, today + timedelta(days=1))[0].is_urgent
    key = uuid.uuid4()
    for _ in range(2):
        inquiring.log_follow_up(
            asked.pk, said="no answer", next_on=today + timedelta(days=2), client_key=key, by=sales, at=at
        )
    assert not follow_ups_today(sales, today)
    assert follow_ups_today(sales, today + timedelta(days=2))
    inquiring.log_follow_up(asked.pk, said="bought elsewhere", by=sales, at=at + timedelta(days=2))
    assert not follow_ups_today(sales, today + timedelta(days=9))
    assert asked.follow_ups.count() == 2
