"""Who shares in a commission, and what the pay report of a month makes of it."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions import recording, selling, settling, sharing
from inventory.actions.selling import Bargain
from inventory.errors import NotAllowed, Refused
from inventory.models import StaffShare
from inventory.queries.pay_file import pay_csv
from inventory.queries.pay_report import report
from inventory.queries.shares import live_shares
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
MARCH, APRIL = date(2026, 3, 1), date(2026, 4, 1)


def share(stay: Any, who: Actor, percent: str | None, *, by: Actor, at: datetime, part: str = "brought_in") -> Any:
    given = None if percent is None else Decimal(percent)
    assert who.id is not None
    return sharing.share(stay.pk, user_id=who.id, part=part, percent=given, by=by, at=at)


def test_share_is_changed_by_a_new_row_and_taken_back_by_zero(owner: Actor, sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at)
    with pytest.raises(Refused) as refusal:
        share(stay, sales, None, by=owner, at=at)
    assert refusal.value.code == "no_usual_share"
    recording.change_lot({"brought_in_percent": Decimal(10)}, by=owner, at=at)
    first = share(stay, sales, None, by=owner, at=at)
    assert (first.percent, share(stay, sales, "10.00", by=owner, at=at)) == (10, first)
    assert share(stay, sales, "15", by=owner, at=at).follows == first
    with pytest.raises(Refused) as refusal:
        share(stay, owner, "85.01", part="sold", by=owner, at=at)
    assert refusal.value.code == "shares_above_whole"
    share(stay, sales, "0", by=owner, at=at)
    assert (live_shares(stay), StaffShare.objects.count()) == ([], 3)
    with pytest.raises(NotAllowed):
        share(stay, sales, "10", by=sales, at=at)


def test_whoever_marks_it_sold_is_put_down_and_an_unwound_sale_takes_it_back(
    owner: Actor, sales: Actor, at: datetime
) -> None:
    recording.change_lot({"sold_percent": Decimal("12.5")}, by=owner, at=at)
    stay = build.consignment(State.LISTED, at=at)
    selling.mark_sold(stay.pk, bargain=Bargain(price=Decimal(48500), buyer="Bo Larkin"), by=sales, at=at)
    held = live_shares(stay)
    assert [(row.user_id, row.part, row.percent) for row in held] == [(sales.id, "sold", Decimal("12.5"))]
    selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=at)
    assert live_shares(stay) == []
    share(stay, owner, "90", by=owner, at=at)
    selling.mark_sold(stay.pk, bargain=Bargain(price=Decimal(48500), buyer="Bo Larkin"), by=sales, at=at)
    assert [row.part for row in live_shares(stay)] == ["brought_in"], "what does not fit is not cut to fit"


def test_pay_report_of_a_month_and_its_reversal_in_the_next(owner: Actor, sales: Actor, at: datetime) -> None:
    """9 % of 48,500.00 is 4,365.00; a third of 33.33 % is 1,454.85 (4,365 × 0.3333 = 1,454.8545)."""
    stay = build.consignment(State.SOLD, at=at)
    share(stay, sales, "33.33", by=owner, at=at)
    build.pay_in_full(stay, at=at)
    settlement = settling.approve_settlement(stay.pk, by=owner, at=at)
    later = at + timedelta(days=31)
    with pytest.raises(Refused) as refusal:
        share(stay, sales, "50", by=owner, at=later)
    assert refusal.value.code == "month_is_over"
    settling.reverse_settlement(settlement.pk, reason="wrong charge", by=owner, at=later)
    share(stay, sales, "50", by=owner, at=later)
    settling.approve_settlement(stay.pk, by=owner, at=later)
    march, april = report(MARCH), report(APRIL)
    assert [(one.name, one.total) for one in march.people] == [("Sam Sales", Decimal("1454.85"))]
    assert (march.commission, march.left) == (Decimal("4365.00"), Decimal("2910.15"))
    assert [line.amount for line in april.people[0].lines] == [Decimal("-1454.85"), Decimal("2182.50")]
    assert (april.commission, april.shared + april.left) == (0, 0)
    assert "-1454.85" in pay_csv(april).splitlines()[1]


def test_csv_is_safe_from_formulas_and_own_stock_has_no_share(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=at, make="=1+1")
    assert report(MARCH).statements[0].left == Decimal("4365.00")
    assert f",{stay.stock_number}," in pay_csv(report(MARCH))
    stay.consignor.is_lot = True
    stay.consignor.save()
    assert [row.consignment for row in report(MARCH).own_stock] == [stay]
    with pytest.raises(Refused) as refusal:
        share(stay, owner, "10", by=owner, at=at)
    assert refusal.value.code == "own_stock"


def test_report_asks_as_much_for_2_as_for_1(owner: Actor, at: datetime) -> None:
    counted = []
    for _ in range(2):
        stay = build.consignment(State.SOLD, at=at)
        share(stay, owner, "10", by=owner, at=at)
        build.pay_in_full(stay, at=at)
        settling.approve_settlement(stay.pk, by=owner, at=at)
        with CaptureQueriesContext(connection) as captured:
            found = report(MARCH)
            assert found.people[0].total
            assert pay_csv(found)
        counted.append(len(captured))
    assert counted[0] == counted[1]
