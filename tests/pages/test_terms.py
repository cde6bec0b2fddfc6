"""The terms page: terms in plain words, the net sheet to the cent, charges."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import agreeing, asking, charging
from inventory.forms.terms import TermsForm, TiersInput, tiers_as_lines
from inventory.models import Charge, Consignment, ModelFit, PriceOpinion, Terms
from inventory.queries import terms as queries
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def today_at() -> Any:
    return timezone.now()


@pytest.fixture
def stay(today_at: Any) -> Consignment:
    return build.consignment(State.LISTED, at=today_at)


def given(stay: Consignment, **changes: str) -> dict[str, str]:
    day = timezone.localdate()
    return {
        "plan_kind": "percent", "rate": "10", "floor": "31,000", "floor_kind": "price", "title_protection": "none",
        "commission_base": "price", "exclusivity": "exclusive", "photos_allowed": "on", "test_drives_allowed": "on",
        "starts_on": f"{day}", "ends_on": f"{day + timedelta(days=90)}", "version": str(stay.version), **changes,
    }  # fmt: skip


def test_terms_are_recorded_as_the_next_version_and_old_ones_stay(
    client: Client, owner: Actor, stay: Consignment
) -> None:
    signed = {"signed_by": "Ada Fenwick", "signed_on": f"{timezone.localdate()}"}
    response = sign_in(client, owner).post(url(stay, "terms"), given(stay, **signed), follow=True)
    assert "10 % of the sale price." in text_of(response)
    assert list(Terms.objects.order_by("number").values_list("number", "rate")) == [(1, Decimal(9)), (2, Decimal(10))]
    assert "All versions" in text_of(response)


def test_tiers_are_read_from_lines_and_shown_in_words(client: Client, owner: Actor, stay: Consignment) -> None:
    tiers = "up to 20,000: 10\n\n  UP TO $60,000 : 8.5 %\nabove: 8"
    response = sign_in(client, owner).post(
        url(stay, "terms"), given(stay, plan_kind="tiered", rate="", tiers=tiers), follow=True
    )
    assert (
        "10 % of the part up to $20,000.00, then 8.5 % of the part up to $60,000.00, then 8 % of the part above that."
        in text_of(response)
    )
    assert Terms.objects.get(number=2).tiers == [["20000.00", "10"], ["60000.00", "8.5"], [None, "8"]]
    assert "up to 20,000.00: 10\nup to 60,000.00: 8.5\nabove: 8</textarea>" in response.content.decode()


@pytest.mark.parametrize("line", ["20,000: 10", "up to lots: 10", "above", "above: ten", "up to 1.234: 5"])
def test_a_line_that_is_no_tier_is_named(line: str) -> None:
    form = TermsForm({"tiers": f"up to 10,000: 12\n{line}"})
    assert "Line 2" in form.errors["tiers"][0]


def test_tiers_written_out_are_read_back_the_same() -> None:
    tiers = ((Decimal("20000.00"), Decimal("10.000")), (None, Decimal("8.250")))
    assert TiersInput().clean(tiers_as_lines(tiers)) == tiers


def test_a_floor_as_a_net_is_shown_as_the_price_it_needs(client: Client, owner: Actor, stay: Consignment) -> None:
    """A net of 27,300.00 at 9 % needs 30,000.00: 30,000.00 less 2,700.00, by hand."""
    signed = {"signed_by": "Ada Fenwick", "signed_on": str(timezone.localdate())}
    terms = given(stay, rate="9", floor="27,300", floor_kind="net", **signed)
    response = sign_in(client, owner).post(url(stay, "terms"), terms, follow=True)
    assert "Today that is a sale price of <strong>$30,000.00</strong>" in text_of(response)


def test_net_sheet_equals_the_worked_statement(client: Client, sales: Actor, owner: Actor, stay: Consignment) -> None:
    """48,500.00 less 9 % 4,365.00, charges 797.40: 43,337.60; at the floor 30,000.00 less 2,700.00: 26,502.60."""
    at = timezone.now()
    for amount in ("612.40", "185.00"):
        charging.add_charge(
            stay.pk, kind="repair", what="work", amount=Decimal(amount), agreed_by="Ada Fenwick", by=owner, at=at
        )
    charging.add_charge(
        stay.pk, kind="photography", what="pictures", amount=Decimal(150), agreed_by="Ada", borne_by="lot",
        by=owner, at=at,
    )  # fmt: skip
    page = text_of(sign_in(client, sales).get(url(stay, "terms")))
    for shown in ("$48,500.00", "−$4,365.00", "−$797.40", "<strong>$43,337.60</strong>", "<strong>$26,502.60</strong>"):
        assert shown in page


def test_net_sheet_has_the_ends_of_the_last_band(sales: Actor, stay: Consignment) -> None:
    """At 9 %: 40,000 leaves 36,400; 45,000 leaves 40,950; 52,000 leaves 47,320, by hand."""
    at = timezone.now()
    fit = ModelFit.objects.create(
        learned={}, sales_used=12, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=at
    )
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=Decimal(40000), likely=Decimal(45000), high=Decimal(52000),
        coverage_percent=80, by="tests", at=at,
    )  # fmt: skip
    rows = queries.page(stay, today=timezone.localdate()).net_sheet
    assert [row.label for row in rows] == ["At the ask", "At the floor", "Band: low", "Band: likely", "Band: high"]
    assert [row.due for row in rows][2:] == [Decimal(36400), Decimal(40950), Decimal(47320)]


def test_a_lien_quote_that_ran_out_is_told_in_place_of_the_net(client: Client, owner: Actor) -> None:
    early = timezone.now() - timedelta(days=10)
    stay = build.consignment(State.INSPECTED, at=early)
    build.make_listable(
        stay, at=early, ask=Decimal(48500), floor_kind="net", lien_holder="Tarn Valley Credit Union",
        lien_amount=Decimal(100), lien_quoted_on=early.date() - timedelta(days=1), lien_good_until=early.date(),
    )  # fmt: skip
    page = text_of(sign_in(client, owner).get(url(stay, "terms")))
    assert page.count("Ask the lender for a new quote") == 2
    assert "Tarn Valley Credit Union" in page


def test_every_plan_is_said_in_words(owner: Actor, stay: Consignment) -> None:
    plans: list[tuple[dict[str, Any], str]] = [
        (
            {"plan_kind": "percent_with_minimum", "minimum": Decimal(1500)},
            "9 % of the sale price, at least $1,500.00.",
        ),
        ({"plan_kind": "flat", "rate": None, "flat": Decimal(2500)}, "A flat fee of $2,500.00, whatever the price."),
        (
            {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": Decimal(40000)},
            "The consignor gets $40,000.00 before charges and lien; the lot keeps what the price exceeds it by, "
            "and pays what is short.",
        ),
    ]
    for changes, words in plans:
        agreeing.agree_terms(stay.pk, terms=build.terms(timezone.now(), **changes), by=owner, at=timezone.now())
        current = queries.page(stay, today=timezone.localdate()).current
        assert current is not None
        assert current.plan == words


def test_what_a_plan_does_not_use_is_refused_on_its_field_and_nothing_is_lost(
    client: Client, owner: Actor, stay: Consignment
) -> None:
    response = sign_in(client, owner).post(url(stay, "terms"), given(stay, minimum="1,500", signed_by="Ada Fenwick"))
    assert response.status_code == 422
    assert response.context["terms_form"].errors["minimum"] == ["A percent plan has no minimum. Leave it empty."]
    assert 'value="Ada Fenwick"' in response.content.decode()
    assert Terms.objects.count() == 1


def test_bad_money_and_missing_dates_are_told_on_their_fields(client: Client, owner: Actor, stay: Consignment) -> None:
    response = sign_in(client, owner).post(url(stay, "terms"), given(stay, floor="31k", ends_on=""))
    assert {"floor", "ends_on"} == set(response.context["terms_form"].errors)
    assert Terms.objects.count() == 1


def test_terms_on_an_old_page_are_refused_at_the_top(client: Client, owner: Actor, stay: Consignment) -> None:
    response = sign_in(client, owner).post(url(stay, "terms"), given(stay, version=str(stay.version - 1)))
    assert "has changed since you looked" in text_of(response)
    assert response.context["terms_form"].non_field_errors()
    assert Terms.objects.count() == 1


def test_a_signature_is_never_carried_over_to_new_terms(client: Client, owner: Actor, stay: Consignment) -> None:
    form = sign_in(client, owner).get(url(stay, "terms")).context["terms_form"]
    assert form["rate"].value() == Decimal(9)
    assert form["signed_by"].value() is None


def test_charge_is_added_once_however_often_the_form_is_sent(client: Client, owner: Actor, stay: Consignment) -> None:
    sign_in(client, owner)
    key = client.get(url(stay, "terms")).context["charge_form"]["client_key"].value()
    said = {"kind": "detail", "what": "Detail", "amount": "$185.00", "borne_by": "consignor", "agreed_by": "Ada",
            "client_key": str(key)}  # fmt: skip
    for _ in range(2):
        assert client.post(url(stay, "add_charge"), said).status_code == 302
    assert Charge.objects.get().amount == Decimal("185.00")


def test_charge_nobody_agreed_to_is_refused_on_its_field(client: Client, owner: Actor, stay: Consignment) -> None:
    said = {"kind": "detail", "what": "Detail", "amount": "0.00", "borne_by": "consignor", "agreed_by": "Ada"}
    response = sign_in(client, owner).post(url(stay, "add_charge"), said)
    assert response.status_code == 422
    assert "at least 0.01" in response.context["charge_form"].errors["amount"][0]
    assert not Charge.objects.exists()


def add_charge(stay: Consignment) -> Charge:
    return charging.add_charge(
        stay.pk,
        kind="repair",
        what="New hose",
        amount=Decimal(60),
        agreed_by="Ada",
        by=build.BUILDER,
        at=timezone.now(),
    )


def test_charge_is_set_aside_with_its_reason(client: Client, owner: Actor, stay: Consignment) -> None:
    charge = add_charge(stay)
    aside = url(stay, "set_charge_aside", charge_id=charge.pk)
    response = sign_in(client, owner).post(aside, {"reason": "billed twice"}, follow=True)
    assert "Set aside by" in text_of(response)
    assert "billed twice" in text_of(response)
    again = client.post(aside, {"reason": "billed twice"})
    assert again.status_code == 422
    assert "set aside already" in text_of(again)


def test_charge_is_not_set_aside_without_a_reason(client: Client, owner: Actor, stay: Consignment) -> None:
    charge = add_charge(stay)
    response = sign_in(client, owner).post(url(stay, "set_charge_aside", charge_id=charge.pk), {"reason": " "})
    assert response.status_code == 422
    assert Charge.objects.count() == 1


def test_charge_of_another_stay_is_not_found(client: Client, owner: Actor, stay: Consignment) -> None:
    other = build.consignment(at=timezone.now())
    charge = add_charge(other)
    response = sign_in(client, owner).post(url(stay, "set_charge_aside", charge_id=charge.pk), {"reason": "no"})
    assert response.status_code == 404


def test_sales_staff_see_terms_but_no_forms(client: Client, sales: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, sales).get(url(stay, "terms")))
    assert "Net sheet" in page
    assert "Record these terms" not in page
    assert "Add a charge" not in page
    assert client.post(url(stay, "terms"), given(stay)).status_code == 403
    assert client.post(url(stay, "add_charge")).status_code == 403
    assert client.post(url(stay, "set_charge_aside", charge_id=1)).status_code == 403


def test_intake_staff_may_not_see_terms(client: Client, intake: Actor, stay: Consignment) -> None:
    assert sign_in(client, intake).get(url(stay, "terms")).status_code == 403


def test_signed_out_is_sent_to_sign_in(client: Client, stay: Consignment) -> None:
    response = client.get(url(stay, "terms"))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign_in"))


def test_unknown_stock_number_is_not_found(client: Client, owner: Actor) -> None:
    assert sign_in(client, owner).get(reverse("terms", args=["none"])).status_code == 404


def test_a_stay_without_terms_says_so(client: Client, owner: Actor) -> None:
    stay = build.consignment(at=timezone.now())
    page = text_of(sign_in(client, owner).get(url(stay, "terms")))
    assert "No terms are recorded yet" in page
    assert "A lawyer reviews the agreement under local law" in page


def test_page_takes_as_many_queries_with_one_charge_as_with_twenty(
    client: Client, owner: Actor, stay: Consignment
) -> None:
    sign_in(client, owner)
    add_charge(stay)
    with CaptureQueriesContext(connection) as few:
        client.get(url(stay, "terms"))
    for _ in range(20):
        add_charge(stay)
        asking.set_ask(stay.pk, amount=Decimal(48000), by=owner, at=timezone.now())
    with CaptureQueriesContext(connection) as many:
        client.get(url(stay, "terms"))
    assert len(many) == len(few)


@pytest.mark.parametrize("name", ["terms", "sale_desk", "settlement", "status"])
def test_style_sheet_is_there(name: str) -> None:
    assert finders.find(f"inventory/{name}.css")
