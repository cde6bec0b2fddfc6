"""The description's page: draft beside what was kept, objections before publishing, versions."""

from datetime import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions import describing, recording
from inventory.models import Consignment, Listing
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def listed(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def keep(client: Client, stay: Consignment, **changed: str) -> str:
    """Send the form as the page shows it, but for what was changed."""
    shown = client.get(url(stay, "listing")).context["form"]
    given = {name: shown[name].value() for name in shown.fields}
    return text_of(client.post(url(stay, "listing"), {**given, "do": "keep", **changed}, follow=True))


def test_page_shows_the_draft_keeps_questions_and_publishes(client: Client, sales: Actor, listed: Consignment) -> None:
    sign_in(client, sales)
    first = text_of(client.get(url(listed, "listing")))
    assert "No version is kept yet." in first
    assert "What the record says now" in first
    assert "Description</a>" in first
    said = keep(client, listed, interior="Rust-free and mint.")
    assert "Version 1 is kept." in said
    assert "questioned below" in said
    assert "Publish version" not in said
    said = keep(client, listed, interior="")
    assert "Publish version 2" in said
    told = text_of(client.post(url(listed, "publish_listing"), {"after": "2"}, follow=True))
    assert "Version 3 is published: buyers read it now." in told
    assert Listing.objects.get(published=True).number == 3
    assert "an earlier one" in text_of(client.get(url(listed, "listing") + "?version=1"))
    assert client.get(url(listed, "listing") + "?version=9").status_code == 404


def test_publishing_what_is_questioned_or_stale_is_told(
    client: Client, owner: Actor, listed: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    keep(client, listed, interior="It is a perfect car.")
    answer = client.post(url(listed, "publish_listing"), {"after": "1"})
    assert answer.status_code == 422
    assert "Not published." in text_of(answer)
    assert "kept version 1 of this description" in text_of(client.post(url(listed, "publish_listing"), {"after": "7"}))


def test_writing_anew_takes_the_record(client: Client, owner: Actor, listed: Consignment) -> None:
    sign_in(client, owner)
    keep(client, listed, interior="Mint.")
    keep(client, listed, do="record", tone="plain")
    latest = Listing.objects.latest("number")
    assert (latest.tone, latest.objections) == ("plain", [])


def test_page_takes_as_many_queries_with_one_version_and_change_as_with_many(
    client: Client, owner: Actor, listed: Consignment, now: datetime
) -> None:
    sign_in(client, owner)

    def more(count: int, *, after: int) -> int:
        for number in range(count):
            recording.add_modification(
                listed.pk, kind="body", what=f"change {number}", fitting="bolt_on", basis="seen", by=owner, at=now
            )
            describing.write_listing(listed.pk, tone="plain", after=after + number, by=owner, at=now)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert client.get(url(listed, "listing")).status_code == 200
        return len(queries)

    assert more(1, after=0) == more(4, after=1)
