"""The file of one vehicle: what it shows to whom, and each form that adds to it."""

import uuid
from datetime import datetime
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

from inventory.actions import offering, recording
from inventory.models import Consignment, IdentityNumber, LogEntry, Modification, Movement, Photo, TitlePaper
from inventory.queries import vehicle_file as queries
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import clean_picture
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def upload(name: str = "left.jpg", content: bytes | None = None) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, picture() if content is None else content, content_type="image/jpeg")


SENT: dict[str, tuple[type[Any], dict[str, str]]] = {
    "add_identity_number": (IdentityNumber, {"kind": "frame_stamp", "value": "8a17j-100001", "basis": "seen"}),
    "add_title_paper": (TitlePaper, {"kind": "registration", "standing": "read", "number": "R-2"}),
    "add_modification": (
        Modification,
        {"kind": "brakes", "what": "front discs", "fitting": "bolt_on", "basis": "seen", "workmanship": "3"},
    ),
    "record_place": (Movement, {"place": "Row C, bay 4", "keys": "box 12", "not_for_sale": "on"}),
}  # fmt: skip


# what it shows


def whole_log(client: Client, stay: Consignment) -> list[Any]:
    """Every line, by the links to older ones."""
    lines, place = [], ""
    while True:
        shown = client.get(url(stay, "vehicle_file"), {"place": place}).context
        lines += shown["log"]
        place = shown["piece"].after
        if not place:
            return lines


def test_file_shows_findings_ledger_papers_and_log(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    build.inspect(stay, at=now, seen=max(len(CHECKS), len(COMPONENTS)))
    page = text_of(sign_in(client, owner).get(url(stay, "vehicle_file")))
    assert "75.0 to 75.0" in page  # every station graded 3 of 4, by hand 3 ÷ 4 × 100
    assert "100.0 to 100.0" in page
    assert all(said in page for said in ("8A17J100001", "T-1", "Rear quarters", "61,240 miles", "$48,500.00"))
    assert any("set the ask to $48,500.00" in line.sentence for line in whole_log(client, stay))


def test_what_nobody_looked_at_is_named_and_never_passed_over(client: Client, owner: Actor, now: datetime) -> None:
    page = text_of(sign_in(client, owner).get(url(build.consignment(at=now), "vehicle_file")))
    assert "Not established: Frame, Body shell" in page
    assert "No inspection is finished yet." in page
    assert "The identity number on the title has not been recorded." in page
    assert "No paper of ownership has been read yet." in page


def test_intake_reads_the_log_without_the_money(
    client: Client, intake: Actor, owner: Actor, sales: Actor, stay: Consignment, now: datetime
) -> None:
    offering.log_offer(stay.pk, amount=Decimal("44000.00"), bidder="Bo Larkin", by=sales, at=now)
    build.step_to(State.SOLD, stay, at=now, price=Decimal("48400.00"))
    page = text_of(sign_in(client, intake).get(url(stay, "vehicle_file")))
    assert "$48,500.00" in page  # the ask is public
    assert not [said for said in ("44,000", "Bo Larkin", "48,400", "30,000", "terms version") if said in page]
    assert "44,000" in text_of(sign_in(client, owner).get(url(stay, "vehicle_file")))


def test_place_says_when_it_is_not_for_sale_there(
    client: Client, intake: Actor, stay: Consignment, now: datetime
) -> None:
    recording.record_place(stay.pk, place="Bay 4", by=intake, at=now)
    assert "not for sale while it is there" not in text_of(sign_in(client, intake).get(url(stay, "vehicle_file")))
    client.post(url(stay, "record_place"), {"place": "Shop", "keys": "Hook 3", "not_for_sale": "on"})
    assert list(Movement.objects.order_by("pk").values_list("not_for_sale", flat=True)) == [False, True]
    page = text_of(client.get(url(stay, "vehicle_file")))
    assert "Shop · keys: Hook 3 · not for sale while it is there" in page
    assert "moved it to Shop; keys: Hook 3; not for sale while it is there" in page
    assert "moved it to Bay 4; keys: ;" not in page


def test_log_is_paged_newest_first(client: Client, owner: Actor, stay: Consignment, now: datetime) -> None:
    build.inspect(stay, at=now, seen=len(CHECKS))
    response = sign_in(client, owner).get(url(stay, "vehicle_file"))
    assert len(response.context["log"]) == queries.LOG_PER_PAGE
    lines = whole_log(client, stay)
    assert len({(line.at, line.sentence) for line in lines}) > 2 * queries.LOG_PER_PAGE
    assert lines[-1].sentence == f"logged {stay.stock_number}, 1968 Merrow Alder"


def test_text_from_outside_is_escaped(client: Client, owner: Actor, stay: Consignment, now: datetime) -> None:
    recording.record_place(stay.pk, place="<script>alert(1)</script>", by=owner, at=now)
    page = sign_in(client, owner).get(url(stay, "vehicle_file")).content.decode()
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_file_takes_as_many_queries_however_much_it_holds(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sign_in(client, owner)

    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url(stay, "vehicle_file")).status_code == 200
        return len(captured)

    few = count()
    for number in range(12):
        recording.add_modification(
            stay.pk, kind="paint", what=f"coat {number}", fitting="bolt_on", basis="seen", by=owner, at=now
        )
        recording.record_place(stay.pk, place=f"bay {number}", by=owner, at=now)
        recording.add_title_paper(stay.pk, kind="other", standing="copied", number=str(number), by=owner, at=now)
        shot = clean_picture(picture(size=(40 + number, 30)), name="left.jpg")
        recording.add_photo(stay.pk, picture=shot, by=owner, at=now)
    assert count() == few


def test_unknown_stock_number_is_nothing_here(client: Client, owner: Actor) -> None:
    assert sign_in(client, owner).get(reverse("vehicle_file", args=["99-0001"])).status_code == 404


# what is added


@pytest.mark.parametrize("name", SENT)
def test_form_adds_its_row_and_shows_it_in_the_log(client: Client, intake: Actor, stay: Consignment, name: str) -> None:
    model, given = SENT[name]
    before = model.objects.count()
    response = sign_in(client, intake).post(url(stay, name), given)
    assert response["Location"] == url(stay, "vehicle_file")
    assert model.objects.count() == before + 1
    assert LogEntry.objects.order_by("-pk")[0].actor_name == "Sam Intake"


@pytest.mark.parametrize("name", SENT)
def test_empty_form_opens_again_with_its_errors_and_writes_nothing(
    client: Client, intake: Actor, stay: Consignment, name: str
) -> None:
    model, _ = SENT[name]
    before = model.objects.count()
    response = sign_in(client, intake).post(url(stay, name), {})
    assert (response.status_code, model.objects.count()) == (422, before)
    assert "This field is required." in text_of(response)
    assert '" open>' in response.content.decode()


@pytest.mark.parametrize("name", [*SENT, "add_photo", "correct_vehicle"])
def test_who_may_add(client: Client, sales: Actor, stay: Consignment, name: str) -> None:
    given = SENT[name][1] if name in SENT else {"file": upload()}
    signed_out = client.post(url(stay, name), given)
    assert signed_out["Location"].startswith(reverse("sign_in"))
    answer = sign_in(client, sales).post(url(stay, name), given)
    assert answer.status_code == (302 if name == "record_place" else 403)


@pytest.mark.parametrize("name", [*SENT, "add_photo"])
def test_who_comes_back_from_signing_in_finds_the_file(
    client: Client, intake: Actor, stay: Consignment, name: str
) -> None:
    assert sign_in(client, intake).get(url(stay, name))["Location"] == url(stay, "vehicle_file")


def test_future_paper_is_told_on_its_field_with_nothing_lost(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {"kind": "title", "standing": "read", "number": "T-77", "seen_on": "2999-01-01"}
    response = sign_in(client, intake).post(url(stay, "add_title_paper"), given)
    assert "is in the future" in " ".join(response.context["forms"]["paper"].errors["seen_on"])
    assert 'value="T-77"' in text_of(response)
    assert TitlePaper.objects.count() == 1


def test_modification_sent_twice_counts_once_and_a_changed_one_again(
    client: Client, intake: Actor, stay: Consignment
) -> None:
    given = {**SENT["add_modification"][1], "key": str(uuid.uuid4())}
    sign_in(client, intake)
    for what in ("front discs", "front discs", "rear discs"):
        client.post(url(stay, "add_modification"), {**given, "what": what})
    assert list(Modification.objects.order_by("pk").values_list("what", flat=True)) == ["front discs", "rear discs"]


def test_modification_is_recorded_with_everything_and_shown(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {
        **SENT["add_modification"][1], "where": "front axle", "material": "cast iron", "era": "period",
        "cost_told": "$1,850", "papers": "on", "components": ["front_brakes", "wheels"],
    }  # fmt: skip
    page = text_of(sign_in(client, intake).post(url(stay, "add_modification"), given, follow=True))
    assert "front axle · cast iron" in page
    assert "Front brakes, Wheels" in page
    assert "cost $1,850.00, as told" in page
    row = Modification.objects.get()
    assert (row.era, row.cost_told) == ("period", Decimal("1850.00"))


def test_modification_may_be_followed_by_another_on_the_open_form(
    client: Client, intake: Actor, stay: Consignment
) -> None:
    given = {**SENT["add_modification"][1], "another": "yes"}
    response = sign_in(client, intake).post(url(stay, "add_modification"), given)
    assert response["Location"] == f"{url(stay, 'vehicle_file')}?more=modification#add-modification"
    page = text_of(client.get(response["Location"]))
    assert '<details id="add-modification" open>' in page
    assert "Recorded. Here is room for the next one." in page
    assert Modification.objects.count() == 1
    closed = client.post(url(stay, "add_modification"), {**SENT["add_modification"][1], "what": "rear discs"})
    assert closed["Location"] == url(stay, "vehicle_file")
    assert '<details id="add-modification">' in text_of(client.get(closed["Location"]))


def test_modification_presumes_no_kind_fitting_or_basis(client: Client, intake: Actor, stay: Consignment) -> None:
    form = sign_in(client, intake).get(url(stay, "vehicle_file")).context["forms"]["modification"]
    picked = {name: [one.choice_label for one in form[name] if one.data["selected"]] for name in form.fields if
              form[name].use_fieldset}  # fmt: skip
    assert picked == {
        "kind": [], "fitting": [], "basis": [], "components": [], "workmanship": ["Not judged"], "era": ["Not known"],
    }  # fmt: skip
    response = client.post(url(stay, "add_modification"), {"what": "front discs"})
    assert set(response.context["forms"]["modification"].errors) == {"kind", "fitting", "basis"}
    assert not Modification.objects.exists()


def test_modification_of_an_unknown_component_is_told_on_its_field(
    client: Client, intake: Actor, stay: Consignment
) -> None:
    given = {**SENT["add_modification"][1], "components": ["wings"]}
    response = sign_in(client, intake).post(url(stay, "add_modification"), given)
    assert set(response.context["forms"]["modification"].errors) == {"components"}
    assert not Modification.objects.exists()


# photos


def test_pictures_are_kept_bare_and_served_to_staff_only(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {
        "file": [upload(), upload("right.png", picture("PNG", size=(90, 60)))],
        "caption": "flanks",
        "public": "on",
    }
    sign_in(client, intake).post(url(stay, "add_photo"), given)
    assert Photo.objects.count() == 2
    address = reverse("photo", args=[Photo.objects.order_by("pk")[0].code])
    answer = client.get(address)
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert (answer["Content-Type"], content[:3]) == ("image/jpeg", b"\xff\xd8\xff")
    assert b"Phone of somebody" not in content
    assert "private" in answer["Cache-Control"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"].startswith("sandbox; default-src 'none'")
    client.logout()
    assert client.get(address)["Location"].startswith(reverse("sign_in"))


def test_bad_picture_is_told_by_name_and_the_good_one_is_kept(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {"file": [upload("notes.jpg", b"hello"), upload()], "caption": "flank"}
    response = sign_in(client, intake).post(url(stay, "add_photo"), given)
    assert "The file notes.jpg is no JPEG, PNG, WebP or HEIC picture." in text_of(response)
    assert "One picture is kept." in text_of(response)
    assert Photo.objects.get().caption == "flank"


@pytest.mark.parametrize(("content", "told"), [(b"hello", "is no JPEG"), (b"", "empty")])
def test_bad_picture_alone_writes_nothing(
    client: Client, intake: Actor, stay: Consignment, content: bytes, told: str
) -> None:
    response = sign_in(client, intake).post(url(stay, "add_photo"), {"file": upload(content=content)})
    assert told in " ".join(response.context["forms"]["photo"].errors["file"])
    assert not Photo.objects.exists()


def test_unknown_photo_and_lost_file_are_nothing_here(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    row = recording.add_photo(stay.pk, picture=clean_picture(picture(), name="a"), by=owner, at=now)
    Path(row.file.path).unlink()
    sign_in(client, owner)
    for code in (uuid.uuid4(), row.code):
        assert client.get(reverse("photo", args=[code])).status_code == 404


# corrections


def part_of(client: Client, stay: Consignment, part: str, **changes: str) -> dict[str, str]:
    """What the page itself would send for one part, with some of it changed."""
    form = client.get(url(stay, "correct_vehicle")).context["forms"][part]
    shown = {name: form[name].value() for name in form.fields}
    return {**{name: "" if value is None else str(value) for name, value in shown.items()}, **changes}


@pytest.mark.parametrize(
    ("part", "changes", "where", "value"),
    [
        ("vehicle", {"color": "maroon"}, "vehicle.color", "maroon"),
        ("stay", {"mileage": "61300"}, "mileage", 61300),
        ("consignor", {"phone": "555 0102"}, "consignor.phone", "555 0102"),
    ],
)
def test_each_part_is_corrected_by_itself_and_logged(
    client: Client, intake: Actor, stay: Consignment, part: str, changes: dict[str, str], where: str, value: object
) -> None:
    sign_in(client, intake)
    entries = LogEntry.objects.count()
    response = client.post(url(stay, "correct_vehicle"), part_of(client, stay, part, **changes))
    assert response["Location"] == url(stay, "vehicle_file")
    row: Any = Consignment.objects.get(pk=stay.pk)
    for name in where.split("."):
        row = getattr(row, name)
    assert row == value
    assert LogEntry.objects.count() == entries + 1


def test_stale_correction_is_told_in_full_and_loses_nothing(
    client: Client, intake: Actor, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sign_in(client, intake)
    sent = part_of(client, stay, "stay", mileage="61300", note="odd noise")
    recording.correct_consignment(stay.pk, values={"mileage": 61250}, by=owner, at=now)
    response = client.post(url(stay, "correct_vehicle"), sent)
    assert "has changed since you looked" in text_of(response)
    assert "odd noise" in text_of(response)
    stay.refresh_from_db()
    assert (stay.mileage, stay.note) == (61250, "")


@pytest.mark.parametrize(
    ("state", "given", "told"), [("booked", "2026-01-05", "It is only booked."), ("on_lot", "", "It has arrived.")]
)
def test_arrival_is_neither_made_nor_undone_by_a_correction(
    client: Client, intake: Actor, now: datetime, state: str, given: str, told: str
) -> None:
    here = build.consignment(State(state), at=now)
    sign_in(client, intake)
    response = client.post(url(here, "correct_vehicle"), part_of(client, here, "stay", arrived_on=given))
    assert told in " ".join(response.context["forms"]["stay"].errors["arrived_on"])
    assert Consignment.objects.get(pk=here.pk).arrived_on == here.arrived_on


def test_number_of_another_vehicle_is_refused_on_its_field(
    client: Client, intake: Actor, stay: Consignment, now: datetime
) -> None:
    other = build.consignment(at=now)
    sign_in(client, intake)
    sent = part_of(client, stay, "vehicle", vin=other.vehicle.serial)
    response = client.post(url(stay, "correct_vehicle"), sent)
    assert "belongs to 1968 Merrow Alder already" in " ".join(response.context["forms"]["vehicle"].errors["vin"])


def test_booked_vehicle_arrives_once(client: Client, intake: Actor, now: datetime) -> None:
    booked = build.consignment(State.BOOKED, at=now)
    page = text_of(sign_in(client, intake).get(url(booked, "vehicle_file")))
    assert "It has arrived" in page
    sent = {"part": "arrived", "version": str(booked.version)}
    client.post(url(booked, "correct_vehicle"), sent)
    booked.refresh_from_db()
    assert (booked.state, booked.arrived_on) == (State.ON_LOT, timezone.localdate())
    assert "has changed since you looked" in text_of(client.post(url(booked, "correct_vehicle"), sent))
