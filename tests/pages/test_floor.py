"""The pages of the floor: places and keys, care, incidents, and the sheet to walk with."""

import io
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from inventory.actions import caring, incidents, placing, recording
from inventory.models import CareDone, CareRule, Consignment, Incident, Movement, Photo, Place
from inventory.rules.floor_words import CareKind, PlaceKind
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def printed(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(content)).pages)


def one_more(now: datetime, *, number: int) -> Consignment:
    """A vehicle with everything that the floor counts."""
    stay = build.consignment(at=now - timedelta(days=40))
    recording.record_place(stay.pk, place="Bay 1", keys=f"Hook {number}", by=build.BUILDER, at=now)
    caring.record_care([caring.Cared(stay.pk)], kind="battery", by=build.BUILDER, at=now - timedelta(days=35))
    incidents.log_incident(stay.pk, kind="damage", what="dent", by=build.BUILDER, at=now)
    return stay


def test_floor_care_incidents_and_lot_take_as_many_queries_with_9_vehicles_as_with_3(
    client: Client, owner: Actor, now: datetime
) -> None:
    caring.start_rota(by=owner, at=now)
    placing.add_place("Bay 1", kind=PlaceKind.BAY, by=owner, at=now)
    sign_in(client, owner)
    pages = ("floor", "care", "incidents", "lot", "place_sheet", "places")

    def counts() -> list[int]:
        found = []
        for name in pages:
            with CaptureQueriesContext(connection) as captured:
                assert client.get(reverse(name)).status_code == 200
            found.append(len(captured))
        return found

    for number in range(3):
        one_more(now, number=number)
    with_3 = counts()
    for number in range(3, 9):
        one_more(now, number=number)
    assert counts() == with_3


def test_floor_shows_place_keys_and_what_is_overdue(client: Client, sales: Actor, now: datetime) -> None:
    stay = build.consignment(at=now)
    recording.record_place(
        stay.pk, place="Show", keys="Sol", expected_back_on=timezone.localdate(now), note="by trailer",
        by=sales, at=now - timedelta(days=1),
    )  # fmt: skip
    placing.set_key_tag(stay.pk, key_tag="K4", by=sales, at=now)
    build.consignment(State.BOOKED, at=now)
    page = text_of(sign_in(client, sales).get(reverse("floor")))
    assert "1 vehicle here, by place" in page
    assert "<b>Show</b>" in page
    assert all(said in page for said in ("<b>K4</b> · Sol", "by trailer", str(timezone.localdate(now))))
    assert "overdue" not in page
    assert "1 vehicle here at show" in text_of(client.get(reverse("floor"), {"place": "show"}))
    assert "Nothing stands at Bay 9." in text_of(client.get(reverse("floor"), {"place": "Bay 9"}))


def test_move_by_one_tap_keeps_the_keys_and_a_typed_place_needs_words(
    client: Client, sales: Actor, now: datetime
) -> None:
    bay = placing.add_place("Bay 2", kind=PlaceKind.BAY, by=build.BUILDER, at=now)
    stay = build.consignment(at=now)
    recording.record_place(stay.pk, place="Bay 1", keys="Hook 1", by=sales, at=now)
    page = sign_in(client, sales).get(url(stay, "move_vehicle"))
    given = page.context["move"]
    tap = {"keys": given["keys"].value(), "key": given["key"].value(), "place_id": bay.pk}
    for _ in range(2):  # tapped twice it is one move
        assert client.post(url(stay, "move_vehicle"), tap)["Location"] == reverse("floor")
    moved = Movement.objects.latest("pk")
    assert (Movement.objects.count(), moved.at_place, moved.keys) == (2, bay, "Hook 1")
    assert "Tap a place, or write where it stands." in text_of(client.post(url(stay, "move_vehicle"), {"keys": "x"}))
    client.post(url(stay, "hand_keys"), {"keys": "Sol"})
    assert (Movement.objects.latest("pk").place, Movement.objects.latest("pk").keys) == ("Bay 2", "Sol")
    client.post(url(stay, "set_key_tag"), {"key_tag": "K9", "version": stay.version})
    file = text_of(client.get(url(stay, "vehicle_file")))
    assert "Tag on the keys: <b>K9</b>" in file
    assert "Bay 2 · keys: Sol" in file


def test_places_are_set_up_and_changed_by_intake_alone(client: Client, intake: Actor, sales: Actor) -> None:
    sign_in(client, intake).post(reverse("places"), {"name": "Shop", "kind": "shop", "not_for_sale": "on"})
    shop = Place.objects.get()
    change = reverse("change_place", args=[shop.pk])
    client.post(change, {"name": "Workshop", "kind": "shop", "version": shop.version, "retired": "on"})
    shop.refresh_from_db()
    assert (shop.name, shop.not_for_sale, shop.retired_at is None) == ("Workshop", False, False)
    old = text_of(client.post(change, {"name": "X", "kind": "shop", "version": 1}))
    assert "This has changed since you looked" in old
    assert sign_in(client, sales).get(reverse("places")).status_code == 403


def test_rota_is_set_up_and_care_done_by_one_tap_for_some_or_for_a_whole_place(
    client: Client, intake: Actor, sales: Actor, now: datetime
) -> None:
    sign_in(client, intake).post(reverse("start_rota"))
    assert CareRule.objects.count() == 4
    rule = CareRule.objects.get(kind=CareKind.COVER)
    client.post(reverse("care_rules"), {"kind": "cover", "every_days": "10", "version": rule.version})
    stays = [build.consignment(at=now - timedelta(days=20)) for _ in range(3)]
    for stay in stays[:2]:
        recording.record_place(stay.pk, place="Hall", by=intake, at=now)
    page = text_of(sign_in(client, sales).get(reverse("care")))
    assert "10 days ago" in page
    assert "A running engine" in page
    client.post(reverse("care"), {"kind": "start_up", "only": stays[2].pk})
    client.post(reverse("care"), {"kind": "cover", "all_at": "Hall"})
    done = {(row.kind, row.consignment_id) for row in CareDone.objects.all()}
    assert done == {("start_up", stays[2].pk), ("cover", stays[0].pk), ("cover", stays[1].pk)}
    assert "Choose one or more" in text_of(client.post(reverse("care"), {"kind": "cover"}))


def test_reading_counts_as_done_and_one_that_cannot_be_is_told_beside_it(
    client: Client, sales: Actor, now: datetime
) -> None:
    caring.set_care_rule(CareKind.BATTERY, every_days=30, by=build.BUILDER, at=now)
    one, two = (build.consignment(at=now - timedelta(days=31)) for _ in range(2))
    sign_in(client, sales)
    bad = client.post(reverse("care"), {"kind": "battery", f"reading-{one.pk}": "twelve", "only": two.pk})
    assert "Enter a number." in text_of(bad)
    assert not CareDone.objects.exists()
    high = client.post(reverse("care"), {"kind": "battery", f"reading-{one.pk}": "124.5"})
    assert "less than or equal to 20" in text_of(high)
    sent = {"kind": "battery", f"reading-{one.pk}": "12.45", "only": two.pk}
    done = text_of(client.post(reverse("care"), sent, follow=True))
    assert f"Battery is done: {one.stock_number} (12.45 V; the charge is not known" in done
    assert set(CareDone.objects.values_list("consignment_id", "reading", "unit")) == {
        (one.pk, Decimal("12.45"), "V"), (two.pk, None, ""),
    }  # fmt: skip
    assert "12.45 V; the charge is not known" in text_of(client.get(url(one, "vehicle_file")))


def test_vehicle_may_want_other_care_and_days_belong_to_so_many_days(
    client: Client, intake: Actor, now: datetime
) -> None:
    stay = build.consignment(at=now)
    page = sign_in(client, intake).post(
        url(stay, "own_care_rule"), {"kind": "battery", "how": "never", "every_days": 3}
    )
    assert "Leave the days empty" in text_of(page)
    client.post(url(stay, "own_care_rule"), {"kind": "battery", "how": "days", "every_days": 3})
    assert "Battery: each 3 days" in text_of(client.get(url(stay, "vehicle_file")))
    assert "no rule of its own" in text_of(client.post(url(stay, "own_care_rule"), {"kind": "cover", "how": "lot"}))


def test_incident_with_a_picture_stands_at_the_head_of_the_file_until_the_owner_closes_it(
    client: Client, sales: Actor, owner: Actor, now: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    stay = build.consignment(at=now)
    shot = SimpleUploadedFile("dent.jpg", picture(), content_type="image/jpeg")
    sign_in(client, sales)
    client.post(url(stay, "vehicle_incidents"), {"kind": "damage", "what": "A dent", "file": shot})
    row, photo = Incident.objects.get(), Photo.objects.get()
    assert not photo.public
    assert "the insurer is not told, the consignor is not told" in text_of(client.get(url(stay, "vehicle_file")))
    step = url(stay, "incident_step", code=row.code)
    closing = {"kind": "closed", "text": "mended"}
    assert "closed is not one of the available choices" in text_of(client.post(step, closing))
    client.post(step, {"kind": "insurer_told", "text": "by phone"})
    page = text_of(client.get(url(stay, "vehicle_incidents")))
    assert "Still missing:</b> the consignor is not told." in page
    assert reverse("small_photo", args=[photo.code]) in page
    assert sign_in(client, owner).post(step, closing).status_code == 302
    assert "Open incident" not in text_of(client.get(url(stay, "vehicle_file")))
    assert "mended" in text_of(client.get(url(stay, "vehicle_incidents")))
    assert "A dent" in text_of(client.get(reverse("incidents")))


def test_sheet_says_where_each_stands_what_was_done_last_and_leaves_room_to_tick(
    client: Client, sales: Actor, now: datetime
) -> None:
    one, two = build.consignment(at=now), build.consignment(at=now)
    recording.record_place(one.pk, place="Bay 10", keys="Hook <1>", by=sales, at=now)
    placing.set_key_tag(one.pk, key_tag="K4", by=sales, at=now)
    caring.record_care([caring.Cared(one.pk)], kind="cover", by=sales, at=now)
    answer = sign_in(client, sales).get(reverse("place_sheet"))
    said = printed(answer.content)
    day = timezone.localdate(now)
    assert f"Bay 10 {one.stock_number} 1968 Merrow Alder K4 Hook <1> cover {day} [ ]" in said
    assert f"not recorded {two.stock_number}" in said
    assert answer["Cache-Control"] == "no-store"
    only = printed(client.get(reverse("place_sheet"), {"place": "bay 10"}).content)
    assert one.stock_number in only
    assert two.stock_number not in only
    assert "Nothing stands there" in printed(client.get(reverse("place_sheet"), {"place": "Bay 3"}).content)
