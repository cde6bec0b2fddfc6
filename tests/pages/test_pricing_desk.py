"""The pricing desk: the band beside the ask, and what still blocks a listing."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions import agreeing, asking, pricing
from inventory.actions.importing import import_sales
from inventory.models import AskChange, Consignment, PriceOpinion
from inventory.queries import pricing_desk as queries
from inventory.rules.roles import Role
from inventory.rules.states import State
from inventory.rules.suggested import Suggested
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.INSPECTED, at=now)


@pytest.fixture
def signed_in(client: Client, now: datetime) -> Client:
    build.staff(Role.OWNER, at=now)
    client.login(username="the-owner", password=build.PASSWORD)
    return client


def url(stay: Consignment, rest: str = "") -> str:
    return f"/vehicles/{stay.stock_number}/price/{rest}"


def test_desk_without_a_fit_says_what_to_do(signed_in: Client, stay: Consignment) -> None:
    assert "must be fitted to past sales first" in signed_in.get(url(stay)).content.decode()
    answer = signed_in.post(url(stay, "opinion/"), follow=True).content.decode()
    assert "There are 0 sold outcomes; a band needs at least 12." in answer


def test_table_of_asks_tells_what_was_suggested_and_what_for(
    signed_in: Client, stay: Consignment, now: datetime
) -> None:
    told = Suggested(amount=Decimal("44000.00"), objective="lot_gross", because="The place is worth more.")
    for suggestion in (None, told):
        asking.set_ask(stay.pk, amount=Decimal("44100.00"), suggestion=suggestion, by=build.BUILDER, at=now)
    page = signed_in.get(url(stay)).content.decode()
    assert page.count("$44,000.00, most for the lot") == 1


def test_band_is_drawn_with_its_parts(signed_in: Client, stay: Consignment, now: datetime) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=build.BUILDER, at=now)
    pricing.fit_prices(by=build.BUILDER, at=now, refits=0)
    page = signed_in.post(url(stay, "opinion/"), follow=True).content.decode()
    opinion = PriceOpinion.objects.get()
    assert queries.money.show_whole(opinion.likely) in page
    assert 'class="band"' in page
    assert "not an appraisal" in page
    assert "Not known, so the band is wider" in page


def test_ask_is_set_and_kept(signed_in: Client, stay: Consignment) -> None:
    response = signed_in.post(url(stay, "ask/"), {"ask": "$36,900", "reason": "first", "version": stay.version})
    assert response.status_code == 302
    assert AskChange.objects.get().amount == Decimal("36900.00")


@pytest.mark.parametrize(
    ("given", "said"), [("", "Give an amount"), ("12k", "12k"), ("-5", "is negative"), ("0", "less than 0.01")]
)
def test_bad_ask_is_shown_again_with_its_error(signed_in: Client, stay: Consignment, given: str, said: str) -> None:
    response = signed_in.post(url(stay, "ask/"), {"ask": given, "version": stay.version})
    assert response.status_code == 422
    assert said in response.content.decode()
    assert not AskChange.objects.exists()


def test_ask_decided_on_an_older_page_is_refused_in_full(signed_in: Client, stay: Consignment) -> None:
    response = signed_in.post(url(stay, "ask/"), {"ask": "36900", "version": stay.version - 1})
    assert response.status_code == 422
    assert "has changed since you looked" in response.content.decode()


def test_ask_below_the_floor_is_refused(signed_in: Client, stay: Consignment, now: datetime) -> None:
    agreeing.agree_terms(stay.pk, terms=build.terms(now), by=build.BUILDER, at=now)
    stay.refresh_from_db()
    response = signed_in.post(url(stay, "ask/"), {"ask": "29,999.99", "version": stay.version})
    assert "below the floor $30,000.00" in response.content.decode()


def test_what_blocks_a_listing_is_listed(signed_in: Client, stay: Consignment) -> None:
    page = signed_in.get(url(stay)).content.decode()
    for said in ("agreement is not signed", "No ask has been set", "No title paper", "identity number"):
        assert said in page
    assert "The consignment agreement is not signed" in signed_in.post(url(stay, "list/"), follow=True).content.decode()


def test_vehicle_is_listed(signed_in: Client, stay: Consignment, now: datetime) -> None:
    build.make_listable(stay, at=now, ask=Decimal("36900.00"))
    assert "is listed" in signed_in.post(url(stay, "list/"), follow=True).content.decode()
    stay.refresh_from_db()
    assert stay.state == State.LISTED


def test_floor_on_a_lien_quote_that_ran_out_is_said_not_a_crash(
    signed_in: Client, stay: Consignment, now: datetime
) -> None:
    then = now - timedelta(days=20)
    terms = build.terms(
        then, floor_kind="net", lien_holder="Tarn Valley Credit Union", lien_amount=Decimal("5000.00"),
        lien_quoted_on=timezone.localdate(then), lien_good_until=timezone.localdate(then + timedelta(days=5)),
    )  # fmt: skip
    agreeing.agree_terms(stay.pk, terms=terms, by=build.BUILDER, at=then)
    page = signed_in.get(url(stay))
    assert page.status_code == 200
    assert "payoff quote" in page.content.decode()


def test_desk_of_nothing_is_a_404(signed_in: Client) -> None:
    assert signed_in.get("/vehicles/99-9999/price/").status_code == 404


@pytest.mark.parametrize(
    ("evidence", "said"),
    [
        ({"sales_of_make": 0, "sales_of_model": 0}, "No past sale of this make"),
        ({"sales_of_make": 4, "sales_of_model": 0}, "No past sale of this model"),
        ({"sales_of_make": 4, "sales_of_model": 2}, ""),
    ],
)
def test_thin_evidence_is_said(evidence: dict[str, int], said: str) -> None:
    assert queries.weakness(evidence).startswith(said)
