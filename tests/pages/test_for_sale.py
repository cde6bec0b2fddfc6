"""What anybody may read: only what is for sale and published, without a word of consignors or prices asked inside."""

import csv
import io
import json
import uuid
from datetime import datetime
from html.parser import HTMLParser
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from inventory.actions import describing, filming, recording, selling
from inventory.models import Consignment, Photo, Terms
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import CleanPicture
from tests import build
from tests.pages.browse import text_of
from tests.rules.test_listing_open_data import wrong

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def published(now: datetime, **arrival: Any) -> Consignment:
    stay = build.consignment(State.LISTED, at=now, **arrival)
    describing.write_listing(stay.pk, tone="telling", by=build.BUILDER, at=now)
    describing.publish(stay.pk, after=1, by=build.BUILDER, at=now)
    return stay


def add_photo(stay: Consignment, *, tint: int = 1, **more: Any) -> Photo:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), (tint, 90, 90)).save(out, "JPEG")
    made = CleanPicture(out.getvalue(), "jpg", None)
    return recording.add_photo(stay.pk, picture=made, by=build.BUILDER, at=timezone.now(), **more)


def address(stay: Consignment, name: str = "for_sale", *more: Any) -> str:
    return reverse(name, args=[stay.code, *more])


def status(client: Client, path: str) -> int:
    """What is answered; a file that is served is read to its end, which closes it."""
    answer: Any = client.get(path)
    if answer.streaming:
        answer.getvalue()
    return int(answer.status_code)


def _again(row: Terms, **changes: Any) -> Terms:
    """The next version of terms, with what was changed."""
    names = [field.attname for field in row._meta.concrete_fields if not field.primary_key]
    return Terms(**{**{name: getattr(row, name) for name in names}, "number": row.number + 1, **changes})


class Seen(HTMLParser):
    """Balanced elements, headings, pictures, and the block of data."""

    VOID = frozenset({"meta", "link", "img", "br", "input"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.images: list[dict[str, str | None]] = []
        self.headings: list[str] = []
        self.data = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "img":
            self.images.append(dict(attrs))
        if tag in {"h1", "h2"}:
            self.headings.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["script"]:
            self.data += data


def test_page_holds_description_spec_sheet_photos_and_data(client: Client, now: datetime) -> None:
    stay = published(now)
    shot = add_photo(stay, caption="nose")
    answer = client.get(address(stay))
    said, seen = text_of(answer), Seen(answer.content.decode())
    for part in (
        "1968 Merrow Alder",
        "$48,500.00",
        stay.stock_number,
        "per the papers or plate",
        "What is not established",
        "Inspect the vehicle before you buy",
    ):
        assert part in said
    assert "Ada Fenwick" not in said
    assert (seen.open, seen.headings.count("h1")) == ([], 1)
    assert [(one["loading"], one["alt"]) for one in seen.images] == [("lazy", "Photo 1 of 1: nose")]
    data = json.loads(seen.data)
    assert wrong(data) == []
    assert data["image"] == [f"http://localhost:8000{address(stay, 'for_sale_photo', shot.code)}"]
    assert answer["Cache-Control"] == "no-cache"
    assert status(client, address(stay, "for_sale_small_photo", shot.code)) == 200


def test_only_published_vehicles_for_sale_are_shown_and_vanish_at_once(client: Client, now: datetime) -> None:
    empty = text_of(client.get(reverse("for_sale_list")))
    assert "Nothing is for sale at the moment." in empty
    unpublished, stay = build.consignment(State.LISTED, at=now), published(now)
    shot = add_photo(stay)
    said = text_of(client.get(reverse("for_sale_list")))
    assert stay.stock_number in said
    assert unpublished.stock_number not in said
    assert client.get(address(unpublished)).status_code == 404
    build.step_to(State.WITHDRAWN, stay, at=now, price=build.Decimal(1))
    for path in (address(stay), address(stay, "for_sale_photo", shot.code)):
        assert client.get(path).status_code == 404
    assert stay.stock_number not in text_of(client.get(reverse("for_sale_list")))
    assert client.get(address(build.consignment(at=now))).status_code == 404
    assert client.get(reverse("for_sale", args=[uuid.uuid4()])).status_code == 404


def test_vehicle_under_deposit_is_shown_as_held_and_sold_is_gone(client: Client, now: datetime) -> None:
    stay = published(now)
    build.step_to(State.DEPOSIT, stay, at=now, price=build.Decimal("48500.00"))
    said = text_of(client.get(address(stay)))
    assert "held for a buyer" in said
    assert "https://schema.org/Reserved" in said
    assert "Bo Larkin" not in said
    selling.mark_sold(stay.pk, bargain=None, by=build.BUILDER, at=now)
    assert client.get(address(stay)).status_code == 404


def test_photos_follow_the_terms_and_what_was_hidden(client: Client, owner: Actor, now: datetime) -> None:
    stay, other = published(now), published(now)
    shown, inside = add_photo(stay), add_photo(stay, tint=80, public=False)
    gone, foreign = add_photo(stay, tint=140), add_photo(other, tint=200)
    filming.hide_photo(gone.code, reason="blurred", by=owner, at=now)
    asked = {row: address(stay, "for_sale_photo", row.code) for row in (shown, inside, gone, foreign)}
    assert [status(client, path) for path in asked.values()] == [200, 404, 404, 404]
    terms = Terms.objects.get(consignment=stay)
    Terms.objects.bulk_create([_again(terms, photos_allowed=False)])  # no action says so yet
    assert client.get(asked[shown]).status_code == 404
    assert "Photos" not in text_of(client.get(address(stay)))
    assert "No photo" in text_of(client.get(reverse("for_sale_list")))


def test_feeds_hold_what_is_for_sale_and_no_formula(client: Client, now: datetime) -> None:
    published(now, make="=Merrow")
    data = client.get(reverse("for_sale_feed_json"))
    said = json.loads(data.content)
    assert (data["Content-Type"], said["numberOfItems"], wrong(said)) == ("application/ld+json", 1, [])
    table = client.get(reverse("for_sale_feed_csv"))
    (row,) = csv.DictReader(io.StringIO(table.content.decode()))
    assert (row["make"], row["ask_usd"], row["availability"]) == ("'=Merrow", "48500.00", "for sale")
    assert row["address"] == f"http://localhost:8000{address(Consignment.objects.get())}"


def test_lists_and_page_take_as_many_queries_with_one_vehicle_as_with_three(client: Client, now: datetime) -> None:
    paths = [reverse(name) for name in ("for_sale_list", "for_sale_feed_json", "for_sale_feed_csv")]

    def counted() -> list[int]:
        counts = []
        for path in paths:
            with CaptureQueriesContext(connection) as queries:
                assert client.get(path).status_code == 200
            counts.append(len(queries))
        return counts

    paths.append(address(published(now)))
    alone = counted()
    for tint in (20, 120):
        add_photo(published(now), tint=tint)
    assert counted() == alone
    assert max(alone) <= 10
