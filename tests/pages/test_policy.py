"""The weights: read by all staff, changed by the owner in two steps."""

import re
from datetime import datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.actions.policy import set_policy
from inventory.models import LogEntry, ScorePolicy
from inventory.queries import policy as queries
from inventory.rules.catalogue import STATIONS
from inventory.rules.policy import FIXED, PARTS, field_of
from inventory.rules.roles import Actor
from inventory.rules.scores import FIRST_POLICY
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db
PAGE, CHANGE = "/policy/", "/policy/change/"


@pytest.fixture
def owning(client: Client, owner: Actor) -> Client:
    return sign_in(client, owner)


def sent(client: Client, do: str = "preview", **changes: Any) -> dict[str, Any]:
    """What the page itself would send, with some weights changed (`checks__front_hood=9` would be no name of one)."""
    form = client.get(CHANGE).context["form"]
    values = {bound.html_name: bound.value() for bound in form if bound.value() is not None}
    return {**values, "do": do, **changes}


HOOD = {"checks.front.hood": "9"}


def preview(client: Client, **changes: Any) -> Any:
    return client.post(CHANGE, sent(client, **changes))


def mark_in(page: Any) -> str:
    found = re.search(r'name="previewed" value="(\w+)"', page.content.decode())
    return found[1] if found else ""


def test_all_staff_read_the_weights_and_the_owner_alone_changes_them(
    client: Client, owner: Actor, intake: Actor, sales: Actor
) -> None:
    for actor in (intake, sales, owner):
        page = text_of(sign_in(client, actor).get(PAGE))
        assert "these are the weights the first one begins with" in page
        assert "Hood: gaps, elevation, hinges, latch, safety catch</dt><dd>4" in page
        assert "Service replacement</dt><dd>75" in page
        assert "Transfer case: without four-wheel drive" in page
        assert ("Change the weights" in page) == (actor is owner)
        assert client.get(CHANGE).status_code == (200 if actor is owner else 403)
        if actor is not owner:
            assert client.post(CHANGE, {"do": "force"}).status_code == 403
    assert not ScorePolicy.objects.exists()


def test_every_weight_has_one_field_and_is_folded_under_its_station(owning: Client) -> None:
    response = owning.get(CHANGE)
    groups = response.context["form"].groups()
    names = [field.html_name for group in groups for field in group.fields]
    assert set(names) == {
        field_of(part.code, code) for part in PARTS.values() for code in part.titles if (part.code, code) not in FIXED
    }
    assert len(names) == len(set(names))
    assert [group.title for group in groups][: len(STATIONS)] == [station.title for station in STATIONS]
    assert "Put in force" not in text_of(response)
    assert not any(group.changed for group in groups)
    again = preview(owning, **HOOD).context["form"].groups()
    assert {group.title: group.changed for group in again if group.changed} == {"Front": 1}


def test_preview_shows_the_effect_and_writes_nothing(owning: Client, at: datetime) -> None:
    stays = [build.consignment(State.INSPECTED, at=at) for _ in range(2)]
    entries, versions = LogEntry.objects.count(), ScorePolicy.objects.count()
    page = preview(owning, **{"components.frame": "40"})
    said = text_of(page)
    assert "1 weight would change" in said
    assert "Components: Frame, 7 → 40" in said
    # frame 7, body shell 12 and hood 2 of 100 are original: 21 of 100, then 54 of 133
    assert "21.0 to 100.0 → <b>40.6 to 100.0</b>" in said
    assert all(stay.stock_number in said for stay in stays)
    assert "Of 2 vehicles here with an inspection, 2 would have other figures." in said
    assert (LogEntry.objects.count(), ScorePolicy.objects.count()) == (entries, versions)
    assert ScorePolicy.objects.get().weights == FIRST_POLICY


def test_preview_of_the_weights_in_force_offers_nothing_to_put_in_force(owning: Client) -> None:
    said = text_of(preview(owning))
    assert "These are the weights in force: nothing would change." in said
    assert "Put in force" not in said


def test_previewed_weights_are_put_in_force_with_their_reason(owning: Client) -> None:
    mark = mark_in(preview(owning, **HOOD))
    answer = owning.post(CHANGE, sent(owning, "force", **HOOD, previewed=mark, reason="hoods cost us two sales"))
    assert answer["Location"] == reverse("policy")
    row = ScorePolicy.objects.get()
    assert (row.number, row.weights["checks"]["front.hood"], row.by) == (1, 9, "Sam Owner")
    said = text_of(owning.get(PAGE))
    assert "Version 1 is in force for inspections begun from now on." in said
    assert "Hoods cost us two sales" in said
    assert "The first weights." in said


def test_what_changed_since_the_preview_is_previewed_again(owning: Client) -> None:
    mark = mark_in(preview(owning, **HOOD))
    changed = sent(owning, "force", **{"checks.front.hood": "8"}, previewed=mark, reason="hoods")
    page = owning.post(CHANGE, changed)
    assert "It is shown anew: look again." in text_of(page)
    assert not ScorePolicy.objects.exists()
    assert mark_in(page) not in {"", mark}
    owning.post(CHANGE, {**changed, "previewed": mark_in(page)})
    assert ScorePolicy.objects.get().weights["checks"]["front.hood"] == 8


def test_nothing_is_put_in_force_that_was_never_previewed_or_has_no_reason(owning: Client) -> None:
    page = owning.post(CHANGE, sent(owning, "force", **HOOD, reason="hoods"))
    assert "look again" in text_of(page)
    page = owning.post(CHANGE, sent(owning, "force", **HOOD, previewed=mark_in(page), reason=" "))
    assert "No reason was given. Say why they are changed." in text_of(page)
    assert "4 → 9" in text_of(page)
    assert not ScorePolicy.objects.exists()


def test_second_owner_is_told_by_whom_and_loses_nothing(owning: Client, owner: Actor, at: datetime) -> None:
    mine = sent(owning, "force", **HOOD, reason="hoods", previewed=mark_in(preview(owning, **HOOD)))
    theirs = queries.in_force().weights
    theirs["components"]["engine"] = 20
    set_policy(theirs, reason="engines", version=0, by=owner, at=at)
    page = text_of(owning.post(CHANGE, mine))
    assert "Sam Owner put version 1 in force" in page
    assert "yours was 0" in page
    assert 'name="checks.front.hood" value="9"' in page
    assert ScorePolicy.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "figure", "told"),
    [
        ("checks.front.hood", "21", "Give a whole number from 0 to 20."),
        ("checks.front.hood", "four", "Enter a whole number."),
        ("checks.front.hood", "", "This field is required."),
        ("standings.original", "60", "A better standing may not have fewer points."),
        ("caps.1", "20", "Give 35 or more"),
    ],
)
def test_weight_that_will_not_do_is_marked_and_kept(owning: Client, name: str, figure: str, told: str) -> None:
    page = preview(owning, **{name: figure, "components.engine": "17"})
    said = text_of(page)
    assert told in said
    assert f'name="{name}"' in said
    if figure:
        assert f'name="{name}" value="{figure}"' in said
    assert 'name="components.engine" value="17"' in said
    assert [group.wrong for group in page.context["form"].groups()].count(True) == 1
    assert said.count('<details class="weights" open>') == 1
    assert page.context["effects"] is None


def test_page_that_does_not_say_its_version_is_refused(owning: Client) -> None:
    given = sent(owning, **HOOD)
    del given["version"]
    assert "does not say which version it showed" in text_of(owning.post(CHANGE, given))


def test_history_names_who_when_why_and_what(owning: Client, owner: Actor, at: datetime) -> None:
    for number, engine in enumerate((16, 17, 18)):
        weights = queries.in_force().weights
        weights["components"]["engine"] = engine
        set_policy(weights, reason=f"engine to {engine}", version=number, by=owner, at=at)
    said = text_of(owning.get(PAGE))
    assert said.index("Engine to 18") < said.index("Engine to 17") < said.index("Engine to 16")
    assert "Components: Engine block and number, 17 → 18" in said
    assert "Version 3 is in force" in said


def test_history_goes_on_over_pages(
    owning: Client, owner: Actor, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queries, "VERSIONS_PER_PAGE", 1)
    for number, engine in enumerate((16, 17)):
        weights = queries.in_force().weights
        weights["components"]["engine"] = engine
        set_policy(weights, reason=f"engine to {engine}", version=number, by=owner, at=at)
    said = text_of(owning.get(PAGE))
    assert "16 → 17" in said
    assert "Engine to 16" not in said
    assert "The first weights." in text_of(owning.get(PAGE, {"page": 2}))


def test_preview_takes_as_many_queries_for_30_vehicles_as_for_3(owning: Client, intake: Actor, at: datetime) -> None:
    counts = []
    for more in (3, 27):
        for place in range(more):
            stay = build.consignment(State.INSPECTED, at=at)
            if place % 3 == 0:
                build.inspecting.begin_inspection(stay.pk, by=intake, at=at)
                build.inspecting.record_feature(stay.pk, feature="trunk", present=True, by=intake, at=at)
        given = sent(owning, **HOOD)
        with CaptureQueriesContext(connection) as captured:
            page = owning.post(CHANGE, given)
        assert len(page.context["effects"].rows) == (3 if more == 3 else 30)
        counts.append(len(captured))
    assert counts[0] == counts[1] < 20
