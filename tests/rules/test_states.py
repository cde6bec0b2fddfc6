"""The table of moves, row by row against the design, and each thing that must hold."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from inventory.errors import Refused
from inventory.rules import states
from inventory.rules.roles import GRANTS, Role
from inventory.rules.states import Facts, State

READY = Facts(
    state=State.INSPECTED,
    today=date(2026, 3, 16),
    inspection_finished=True,
    terms_signed=True,
    agreement_ends_on=date(2026, 6, 30),
    floor=Decimal("30000.00"),
    ask=Decimal("36000.00"),
    title_paper_seen=True,
    identity_question="",
    sale_price=Decimal("36000.00"),
    buyer_paid_in_full=True,
    signed_for_by="Ada Fenwick",
)
BEFORE_SOLD = ["booked", "on_lot", "inspected", "listed", "deposit"]
ALLOWED = {
    ("booked", "on_lot"), ("on_lot", "inspected"), ("inspected", "listed"), ("listed", "deposit"),
    ("deposit", "listed"), ("listed", "sold"), ("deposit", "sold"), ("sold", "settled"), ("sold", "listed"),
    ("withdrawn", "released"), *((state, "withdrawn") for state in BEFORE_SOLD),
}  # fmt: skip


@pytest.mark.parametrize("was", list(State))
@pytest.mark.parametrize("to", list(State))
def test_only_the_moves_of_the_design_exist(was: State, to: State) -> None:
    facts = replace(READY, state=was)
    if (was.value, to.value) in ALLOWED:
        assert states.check(facts, to=to, reason="because").act in GRANTS
    else:
        with pytest.raises(Refused) as refusal:
            states.check(facts, to=to, reason="because")
        assert refusal.value.code == "no_such_move"


@pytest.mark.parametrize(
    ("was", "to", "change", "code"),
    [
        ("on_lot", "inspected", {"inspection_finished": False}, "inspection_open"),
        ("inspected", "listed", {"terms_signed": False}, "terms_unsigned"),
        ("inspected", "listed", {"agreement_ends_on": date(2026, 3, 15)}, "agreement_ended"),
        ("inspected", "listed", {"agreement_ends_on": None}, "agreement_ended"),
        ("inspected", "listed", {"ask": None}, "no_ask"),
        ("inspected", "listed", {"ask": Decimal("29999.99")}, "ask_below_floor"),
        ("inspected", "listed", {"title_paper_seen": False}, "title_not_seen"),
        ("inspected", "listed", {"identity_question": "They differ."}, "identity_open"),
        ("inspected", "listed", {"papers_question": "Two titles."}, "papers_disagree"),
        ("listed", "sold", {"sale_price": None}, "no_price"),
        ("listed", "sold", {"sale_price": Decimal("35999.99")}, "price_not_agreed"),
        ("listed", "deposit", {"sale_price": Decimal("35999.99"), "ask": None}, "price_not_agreed"),
        ("listed", "sold", {"sale_price": Decimal("29999.99"), "acts_as_owner": True}, "below_floor"),
        ("sold", "settled", {"buyer_paid_in_full": False}, "money_not_cleared"),
        ("sold", "listed", {"title_sent": True}, "too_late_to_unwind"),
        ("sold", "listed", {"released": True}, "too_late_to_unwind"),
        ("withdrawn", "released", {"charges_unpaid": Decimal("120.00")}, "charges_unpaid"),
        ("withdrawn", "released", {"signed_for_by": " "}, "not_signed_for"),
    ],
)
def test_what_is_missing_is_named(was: str, to: str, change: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as refusal:
        states.check(replace(READY, state=State(was), **change), to=State(to), reason="because")
    assert refusal.value.code == code
    assert refusal.value.mend


@pytest.mark.parametrize(
    "change",
    [
        {"sale_price": Decimal("33000.00"), "accepted_offer": Decimal("33000.00")},
        {"sale_price": Decimal("33000.00"), "acts_as_owner": True},
        {"sale_price": Decimal("28000.00"), "acts_as_owner": True, "consent_down_to": Decimal("28000.00")},
        {"sale_price": Decimal("100.00"), "acts_as_owner": True, "floor": None},
    ],
)
def test_agreed_sales_below_the_ask_are_made(change: dict[str, Any]) -> None:
    assert states.check(replace(READY, state=State.LISTED, **change), to=State.SOLD)


@pytest.mark.parametrize(("was", "to"), [("deposit", "listed"), ("sold", "listed"), ("listed", "withdrawn")])
def test_moves_back_say_why(was: str, to: str) -> None:
    with pytest.raises(Refused) as refusal:
        states.check(replace(READY, state=State(was)), to=State(to), reason="  ")
    assert refusal.value.field == "reason"


def test_refusal_tells_by_whom_and_when_and_what_is_possible() -> None:
    facts = replace(READY, state=State.SOLD, moved_by="Sol", moved_at="2026-03-16 10:02")
    with pytest.raises(Refused) as refusal:
        states.check(facts, to=State.SOLD)
    assert "sold (by Sol, 2026-03-16 10:02)" in refusal.value.message
    assert "settled" in refusal.value.mend


def test_owner_may_make_every_move_and_intake_sells_nothing() -> None:
    assert all(Role.OWNER in GRANTS[move.act] for move in states.MOVES.values())
    assert Role.INTAKE not in GRANTS[states.MOVES[State.LISTED, State.SOLD].act]
