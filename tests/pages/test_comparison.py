"""The grid on the pricing desk, its file, a past sale on its own page, and the opinion as a paper."""

import io
from datetime import datetime

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from inventory.actions import pricing
from inventory.actions.importing import import_sales
from inventory.models import Consignment, Lot, PriceOpinion, SaleOutcome
from inventory.queries.comparison import grid_of
from inventory.rules.money import show
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK
from tests.api.rows import priced
from tests.pages.browse import sign_in, text_of, url

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def signed_in(client: Client, owner: Actor) -> Client:
    return sign_in(client, owner)


@pytest.fixture
def opinion(now: datetime, owner: Actor) -> PriceOpinion:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=now)
    pricing.fit_prices(by=owner, at=now, refits=0)
    stay = build.consignment(State.INSPECTED, at=now)
    return pricing.give_opinion(stay.pk, by=owner, at=now)


def stay_of(opinion: PriceOpinion) -> Consignment:
    assert opinion.consignment is not None
    return opinion.consignment


def paper_of(client: Client, opinion: PriceOpinion) -> bytes:
    answer = client.get(url(stay_of(opinion), "opinion_file", opinion_id=opinion.pk))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Cache-Control"] == "no-store"
    return bytes(answer.content)


def test_grid_stands_on_the_desk_with_its_file_and_paper(signed_in: Client, opinion: PriceOpinion) -> None:
    page = text_of(signed_in.get(url(stay_of(opinion), "pricing_desk")))
    grid = grid_of(opinion)
    for sale in grid.sales:
        assert f'href="/past-sales/{sale.outcome}/"' in page
        assert show(sale.adjusted_price) in page
        assert sale.net_said in page
    assert grid.verdict in page
    assert 'tabindex="0" role="region"' in page
    assert url(stay_of(opinion), "comparison_file") in page
    assert url(stay_of(opinion), "opinion_file", opinion_id=opinion.pk) in page


def test_file_is_sent_to_be_saved(signed_in: Client, opinion: PriceOpinion) -> None:
    answer = signed_in.get(url(stay_of(opinion), "comparison_file"))
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Content-Disposition"] == f'attachment; filename="comparison-{stay_of(opinion).stock_number}.csv"'
    assert answer.content.decode("utf-8-sig").splitlines()[1].startswith("sale 1,")


def test_paper_says_what_the_desk_says(signed_in: Client, opinion: PriceOpinion) -> None:
    content = paper_of(signed_in, opinion)
    said = " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())
    grid = grid_of(opinion)
    shown = [show(opinion.low), show(opinion.likely), show(opinion.high), grid.verdict, stay_of(opinion).stock_number]
    shown += [show(sale.adjusted_price) for sale in grid.sales] + [sale.ended_on.isoformat() for sale in grid.sales]
    shown += ["not an appraisal under any law", "Effective date", "Learned from 240 past sales", "not promises"]
    shown += ["Not known: ", "The fit was not held against past sales.", "Likely price"]
    for text in shown:
        assert text in said, text
    assert "invented" not in said
    assert paper_of(signed_in, opinion) == content
    Lot.objects.update_or_create(pk=1, defaults={"is_demo": True})
    demo = PdfReader(io.BytesIO(paper_of(signed_in, opinion))).pages[0].extract_text()
    assert "every vehicle, person and sale named here is invented" in " ".join(demo.split())


def test_opinion_of_another_vehicle_is_not_there(signed_in: Client, opinion: PriceOpinion, now: datetime) -> None:
    other = build.consignment(State.INSPECTED, at=now)
    assert signed_in.get(url(other, "opinion_file", opinion_id=opinion.pk)).status_code == 404
    assert signed_in.get(url(other, "comparison_file")).status_code == 404


def test_desk_and_paper_of_an_unreadable_fit_say_so(signed_in: Client, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    priced(stay)
    assert "another version of the price band" in text_of(signed_in.get(url(stay, "pricing_desk")))
    content = paper_of(signed_in, PriceOpinion.objects.get())
    said = " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages).split())
    assert "another version of the price band" in said
    assert "Not known: mileage, condition, originality" in said


def test_paper_holds_the_longest_names_a_row_may_have(signed_in: Client, opinion: PriceOpinion, now: datetime) -> None:
    names = dict.fromkeys(("make", "model", "trim", "body", "engine", "color"), "W" * 200)
    inputs = {**opinion.inputs, **names, "modifications": ["engine"] * 100}
    named = PriceOpinion.objects.create(
        consignment=opinion.consignment, fit=opinion.fit, inputs=inputs, low=1, likely=2, high=3, coverage_percent=80,
        parts=opinion.parts, evidence={}, by="B" * 120, at=now,
    )  # fmt: skip
    pages = PdfReader(io.BytesIO(paper_of(signed_in, named))).pages
    said = "".join("".join(page.extract_text() for page in pages).split())
    assert "W" * 600 in said  # make, model and trim as one name
    assert "engine(100)" in said


def test_past_sale_shows_its_snapshot(signed_in: Client, owner: Actor, now: datetime) -> None:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=owner, at=now)
    row = SaleOutcome.objects.filter(result="sold", mileage__isnull=False, condition_low__isnull=True).first()
    assert row is not None
    page = text_of(signed_in.get(f"/past-sales/{row.pk}/"))
    for said in (f"{row.mileage:,} miles", row.stock_number, row.make, show(row.price), f"{row.ended_on}"):
        assert said in page
    assert '<th scope="row">Condition</th><td class="words">not known</td>' in page
    assert "vehicle file" not in page
    assert signed_in.get("/past-sales/999999/").status_code == 404


def test_own_sale_that_was_unwound_says_so_and_leads_to_its_file(
    signed_in: Client, owner: Actor, now: datetime
) -> None:
    stay = build.consignment(State.SOLD, at=now)
    outcome = SaleOutcome.objects.get()
    address = f"/past-sales/{outcome.pk}/"
    assert url(stay, "vehicle_file") in text_of(signed_in.get(address))
    assert "sets it aside" not in text_of(signed_in.get(address))
    build.selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=now)
    assert "sets it aside" in text_of(signed_in.get(address))


def test_intake_staff_see_neither(client: Client, intake: Actor, now: datetime) -> None:
    stay = build.consignment(State.SOLD, at=now)
    sign_in(client, intake)
    assert client.get(url(stay, "comparison_file")).status_code == 403
    assert client.get(f"/past-sales/{SaleOutcome.objects.get().pk}/").status_code == 403
