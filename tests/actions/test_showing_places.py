"""Where a vehicle is shown: kept with the ask shown, and told at once where it is no longer so."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import asking, selling, showing_places
from inventory.actions.selling import Bargain
from inventory.errors import Refused, TooLate
from inventory.models import Consignment, Publication, ShownAsk
from inventory.queries.shown import shown_page, shown_wrong, warning_of
from inventory.rules.roles import Actor
from inventory.rules.shown import Wrong
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
ASK = Decimal("48500.00")


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=at)


def show(stay: Consignment, place: str, *, by: Actor, at: datetime, ask: Decimal | None = ASK) -> Publication:
    return showing_places.show_at(stay.pk, place=place, ask=ask, by=by, at=at)


def test_changed_ask_lists_each_place_until_it_is_set_right(stay: Consignment, sales: Actor, at: datetime) -> None:
    first, second, third = (show(stay, place, by=sales, at=at) for place in ("Post", "Window", "Fair"))
    assert warning_of(stay) == ""
    asking.set_ask(stay.pk, amount=Decimal("46000.00"), by=build.BUILDER, at=at)
    assert warning_of(stay).startswith("Shown at 3 places with the old ask: ")
    assert [line.text for line in shown_wrong(sales, at.date())] == ["3 places show what is no longer so"]
    showing_places.set_right(first.code, by=sales, at=at)
    showing_places.take_down(second.code, by=sales, at=at)
    page = shown_page(stay)
    assert [(line.row, line.shown) for line in page.wrong] == [(third, ASK)]
    assert [(line.row, line.shown) for line in page.right] == [(first, Decimal("46000.00"))]
    assert page.down == (second,)
    assert ShownAsk.objects.filter(publication=first).count() == 2


def test_sale_is_told_everywhere_even_where_no_ask_is_shown(stay: Consignment, sales: Actor, at: datetime) -> None:
    row, later = show(stay, "Window", ask=None, by=sales, at=at), at + timedelta(hours=1)
    selling.mark_sold(stay.pk, bargain=Bargain(price=ASK, buyer="Cy Aldous"), by=build.BUILDER, at=later)
    assert [line.wrong for line in shown_page().wrong] == [Wrong.SOLD]
    showing_places.set_right(row.code, by=sales, at=later)
    assert not shown_page().wrong
    assert row.asks.latest("pk").ask is None  # still shows none
    with pytest.raises(Refused) as refusal:
        show(stay, "Post", by=sales, at=later)
    assert refusal.value.code == "not_to_show"


def test_deal_that_falls_through_asks_for_the_mark_to_go(stay: Consignment, sales: Actor, at: datetime) -> None:
    """Marked as held while the deposit held; then the deal ended."""
    row, hours = show(stay, "Window", by=sales, at=at), [at + timedelta(hours=count) for count in range(1, 5)]
    build.step_to(State.DEPOSIT, stay, at=hours[0], price=ASK)
    assert [line.wrong for line in shown_page().wrong] == [Wrong.HELD]
    showing_places.set_right(row.code, by=sales, at=hours[1])
    assert not shown_page().wrong
    selling.end_deal(stay.pk, reason="no loan", deposit_fate="returned", by=build.BUILDER, at=hours[2])
    assert [line.wrong for line in shown_page().wrong] == [Wrong.FREE_AGAIN]
    showing_places.set_right(row.code, by=sales, at=hours[3])
    assert not shown_page().wrong


def test_place_is_kept_once_and_an_older_page_changes_nothing(stay: Consignment, sales: Actor, at: datetime) -> None:
    key = uuid.uuid4()
    rows = [showing_places.show_at(stay.pk, place="Post", client_key=key, by=sales, at=at) for _ in range(2)]
    assert rows[0] == rows[1]
    with pytest.raises(Refused) as refusal:
        show(stay, " post ", by=sales, at=at)
    assert (refusal.value.code, refusal.value.field) == ("shown_already", "place")
    showing_places.set_right(rows[0].code, ask=ASK, version=1, by=sales, at=at)
    with pytest.raises(TooLate):
        showing_places.take_down(rows[0].code, version=1, by=sales, at=at)
    showing_places.take_down(rows[0].code, version=2, by=sales, at=at)
    assert show(stay, "Post", by=sales, at=at).pk
