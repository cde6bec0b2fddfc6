"""The page “what if”, and what to check next on the desk."""

from datetime import datetime

import pytest
from django.test import Client
from django.utils import timezone

from inventory.actions import pricing, recording
from inventory.actions.importing import import_sales
from inventory.models import Consignment, ModelFit
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build
from tests.actions.test_pricing import BOOK
from tests.pages.browse import sign_in, text_of, url

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("learned_once")]
CAUTION = "An association in past sales, not a promise: what a repair fetches may differ."


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.INSPECTED, at=now)


@pytest.fixture
def fit(now: datetime) -> ModelFit:
    import_sales(BOOK, name=BOOK.name, options=Options(), by=build.BUILDER, at=now)
    return pricing.fit_prices(by=build.BUILDER, at=now, refits=0)


def test_result_is_shown_beside_today_with_its_cost(
    client: Client, owner: Actor, stay: Consignment, fit: ModelFit
) -> None:
    asked = {"check_1": "left_side.rocker", "grade_1": "4", "component_1": "engine", "standing_1": "original",
             "mileage": "", "cost": "$1,200"}  # fmt: skip
    response = sign_in(client, owner).get(url(stay, "what_if"), asked)
    page = text_of(response)
    assert response.status_code == 200
    for said in (CAUTION, 'class="two-bands"', "Today and then", "$1,200.00", "Change less cost", "Condition"):
        assert said in page
    assert '<option value="left_side.rocker" selected>' in page  # the form still says what was asked


def test_page_without_a_question_shows_the_form_alone(
    client: Client, owner: Actor, stay: Consignment, fit: ModelFit
) -> None:
    response = sign_in(client, owner).get(url(stay, "what_if"))
    page = text_of(response)
    assert response.status_code == 200
    assert CAUTION not in page
    assert 'class="error' not in page
    assert "Left rocker: rust, patches, dents, jacking points – not looked at" in page


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"check_1": "front.hood"}, "Choose the grade it would have."),
        ({"grade_2": "3"}, "Choose what it is about."),
        ({"check_1": "front.hood", "grade_1": "7"}, "7 is not one of the available choices"),
        ({"check_1": "no.such", "grade_1": "3"}, "no.such is not one of the available choices"),
        ({"check_1": "front.hood", "grade_1": "3", "check_2": "front.hood", "grade_2": "4"}, "chosen above already"),
        ({"component_1": "engine"}, "Choose the standing it would have."),
        ({"kind_1": "engine"}, "Choose the way it is fitted."),
        ({"changes_1": "engine"}, "Choose the kind of modification too."),
        ({"title_brand": "clean", "cost": "12k"}, "12k"),
        ({"cost": "500"}, "Nothing is supposed yet: choose at least one thing."),
        ({"undone": "999"}, "undone=999 cannot be supposed of this vehicle"),
        (
            {"mileage": "12", "title_brand": "clean"},
            "mileage=12 cannot be supposed of this vehicle",
        ),
        ({"check_4": "front.hood", "title_brand": "clean"}, "check_4=front.hood cannot be supposed"),
    ],
)
def test_error_names_its_field(
    client: Client, owner: Actor, stay: Consignment, asked: dict[str, str], said: str
) -> None:
    response = sign_in(client, owner).get(url(stay, "what_if"), asked)
    assert response.status_code == 422
    assert said in text_of(response)
    assert CAUTION not in text_of(response)


def test_modification_is_offered_to_be_undone(
    client: Client, owner: Actor, stay: Consignment, fit: ModelFit, now: datetime
) -> None:
    row = recording.add_modification(
        stay.pk, kind="engine", what="larger valves", fitting="bolt_on", basis="seen", by=build.BUILDER, at=now
    )
    page = text_of(sign_in(client, owner).get(url(stay, "what_if"), {"undone": str(row.pk)}))
    assert "larger valves, bolt-on" in page
    assert CAUTION in page


def test_vehicle_without_an_inspection_says_why_less_is_offered(
    client: Client, owner: Actor, fit: ModelFit, now: datetime
) -> None:
    stay = build.consignment(State.ON_LOT, at=now, mileage=None)
    page = text_of(sign_in(client, owner).get(url(stay, "what_if")))
    assert "No inspection is finished yet" in page
    assert 'name="check_1"' not in page
    assert 'name="transmission"' in page
    filled = text_of(client.get(url(stay, "what_if"), {"mileage": "12000"}))
    assert CAUTION in filled
    assert "Originality</dt><dd>not known, as today" in filled


def test_without_a_fit_it_is_said(client: Client, owner: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, owner).get(url(stay, "what_if")))
    assert "has not been fitted to past sales yet" in page


def test_intake_staff_may_not_see_it(client: Client, intake: Actor, stay: Consignment) -> None:
    assert sign_in(client, intake).get(url(stay, "what_if")).status_code == 403


def test_desk_ranks_what_to_check_next_and_leads_there(
    client: Client, owner: Actor, sales: Actor, stay: Consignment, fit: ModelFit
) -> None:
    page = text_of(sign_in(client, owner).get(url(stay, "pricing_desk")))
    assert "What to check next" in page
    assert f'href="{url(stay, "what_if")}"' in page
    assert f'href="{url(stay, "ledger_line", component="engine")}"' in page
    assert f'href="{url(stay, "station", station="left_side")}#left_side.rocker"' in page
    assert f'href="{url(stay, "correct_vehicle")}"' in page
    seen = text_of(sign_in(client, sales).get(url(stay, "pricing_desk")))
    assert "What to check next" in seen
    assert url(stay, "correct_vehicle") not in seen
