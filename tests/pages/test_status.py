"""The status page: opened by its link alone, revoked at once, and silent about everybody else."""

import io
import re
import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from inventory.actions import asking, charging, linking, offering, recording, releasing, selling, settling
from inventory.models import Consignment, LogEntry, ModelFit, Photo, PriceOpinion, StatusLink
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.uploads import CleanPicture
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def listed(now: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=now)


def make_link(stay: Consignment, *, at: datetime | None = None) -> str:
    _, token = linking.make_link(stay.pk, by=build.BUILDER, at=at or timezone.now())
    return token


def follow(client: Client, token: str) -> Any:
    return client.get(reverse("open_link", args=[token]), follow=True)


def status_url(stay: Consignment) -> str:
    return reverse("status", args=[stay.code])


def test_link_swaps_its_token_for_a_cookie_and_a_clean_address(client: Client, listed: Consignment) -> None:
    token = make_link(listed)
    response = client.get(reverse("open_link", args=[token]))
    assert (response.status_code, response["Location"]) == (302, status_url(listed))
    cookie = response.cookies[f"status_{listed.code.hex}"]
    assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["secure"]) == (True, "Lax", "/", "")
    page = client.get(status_url(listed))
    assert page.status_code == 200
    assert token not in page.content.decode()


def test_cookie_is_bound_to_the_host_and_secure_behind_https(
    client: Client, listed: Consignment, settings: Any
) -> None:
    settings.HTTPS = True
    response = client.get(reverse("open_link", args=[make_link(listed)]), secure=True)
    (name,) = response.cookies
    assert name == f"__Host-status_{listed.code.hex}"
    assert response.cookies[name]["secure"] is True
    assert client.get(status_url(listed), secure=True).status_code == 200


def test_page_is_kept_by_no_cache_and_found_by_no_search(client: Client, listed: Consignment) -> None:
    token = make_link(listed)
    opened = client.get(reverse("open_link", args=[token]))
    for response in (opened, client.get(status_url(listed)), Client().get(status_url(listed))):
        assert response["Cache-Control"] == "no-store"
        assert response["Referrer-Policy"] == "same-origin"
        assert response["X-Robots-Tag"] == "noindex, nofollow"


def test_unknown_expired_and_revoked_links_get_one_answer(client: Client, listed: Consignment, now: datetime) -> None:
    expired = make_link(build.consignment(at=now), at=now - timedelta(days=linking.GRACE_DAYS))
    revoked = make_link(listed)
    make_link(listed)
    answers = [client.get(reverse("open_link", args=[token])) for token in ("nonsense", expired, revoked)]
    assert {answer.status_code for answer in answers} == {404}
    assert len({answer.content for answer in answers}) == 1
    assert "This link is not valid" in text_of(answers[0])
    assert not any(answer.cookies for answer in answers)


def test_revoked_link_closes_a_page_that_was_open(client: Client, listed: Consignment) -> None:
    follow(client, make_link(listed))
    linking.revoke_link(listed.pk, by=build.BUILDER, at=timezone.now())
    assert client.get(status_url(listed)).status_code == 404


def test_page_without_or_with_anothers_cookie_is_not_found(client: Client, listed: Consignment, now: datetime) -> None:
    other = build.consignment(State.LISTED, at=now)
    token = make_link(other)
    assert client.get(status_url(listed)).status_code == 404
    client.cookies[f"status_{listed.code.hex}"] = token
    assert client.get(status_url(listed)).status_code == 404
    assert client.get(reverse("status", args=[uuid.uuid4()])).status_code == 404


def test_opening_changes_nothing_but_when_it_was_last_used(client: Client, listed: Consignment) -> None:
    token = make_link(listed)
    entries = LogEntry.objects.count()
    follow(client, token)
    follow(client, token)
    listed_again = Consignment.objects.get(pk=listed.pk)
    assert listed_again.version == listed.version
    assert StatusLink.objects.get().last_used_at is not None
    assert LogEntry.objects.count() == entries + 1  # one line a day says that it was opened
    assert client.post(status_url(listed)).status_code == 405


def everything(stay: Consignment, *, at: datetime) -> None:
    """All that could leak: bidders, notes, staff, the band, set-aside charges."""
    offering.log_offer(
        stay.pk, amount=Decimal("41234.00"), bidder="Zebulon Bidder", contact="zeb@example.org",
        note="OFFER-NOTE", by=build.BUILDER, at=at,
    )  # fmt: skip
    offer = offering.log_offer(stay.pk, amount=Decimal("43000.00"), bidder="Quill Other", by=build.BUILDER, at=at)
    offering.answer_offer(
        offer.pk, answer="countered", amount=Decimal("47000.00"), note="ANSWER-NOTE", by=build.BUILDER, at=at
    )
    recording.correct_consignment(stay.pk, values={"note": "INTERNAL-NOTE"}, by=build.BUILDER, at=at)
    asking.set_ask(stay.pk, amount=Decimal("47500.00"), reason="ASK-REASON", by=build.BUILDER, at=at)
    for amount, by in (("612.40", "consignor"), ("77.77", "lot")):
        charging.add_charge(
            stay.pk, kind="repair", what=f"work for {by}", amount=Decimal(amount), agreed_by="AGREED-BY",
            borne_by=by, by=build.BUILDER, at=at,
        )  # fmt: skip
    fit = ModelFit.objects.create(
        learned={}, sales_used=12, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=at
    )
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=Decimal("39999.01"), likely=Decimal("44444.02"),
        high=Decimal("55555.03"), coverage_percent=80, by="tests", at=at,
    )  # fmt: skip


def test_page_shows_ask_history_offers_charges_and_the_net_by_the_line(
    client: Client, listed: Consignment, now: datetime
) -> None:
    """47,500.00 less 9 % 4,275.00 and 612.40 leaves 42,612.60, by hand."""
    everything(listed, at=now)
    page = text_of(follow(client, make_link(listed)))
    for shown in (
        "$48,500.00", "$47,500.00", "$41,234.00</strong>, not answered yet", "countered at $47,000.00",
        "−$4,275.00", "−$612.40", "$42,612.60", "agreement ends", "Arrived at the lot", "Inspected",
        "Offered for sale", "work for consignor",
    ):  # fmt: skip
        assert shown in page


def test_page_never_tells_of_bidders_staff_notes_or_the_band(
    client: Client, listed: Consignment, now: datetime, owner: Actor
) -> None:
    everything(listed, at=now)
    page = text_of(follow(client, make_link(listed)))
    for hidden in (
        "Zebulon", "Quill", "zeb@example.org", "OFFER-NOTE", "ANSWER-NOTE", "INTERNAL-NOTE", "ASK-REASON",
        "AGREED-BY", "work for lot", "39,999.01", "44,444.02", "55,555.03", "Sam ", "command", "tests", "Sign out",
    ):  # fmt: skip
        assert hidden not in page


def test_page_is_light_and_has_no_script(client: Client, listed: Consignment, now: datetime) -> None:
    everything(listed, at=now)
    body = follow(client, make_link(listed)).content.decode()
    assert "<script" not in body
    assert " style=" not in body
    assert len(body) < 150_000


def picture(tint: int) -> CleanPicture:
    kept = io.BytesIO()
    Image.new("RGB", (4, 4), (tint, 0, 0)).save(kept, format="JPEG")
    return CleanPicture(kept.getvalue(), "jpg", None)


def add_photo(stay: Consignment, *, tint: int, public: bool = True) -> Photo:
    return recording.add_photo(
        stay.pk, picture=picture(tint), caption=f"tint {tint}", public=public, by=build.BUILDER, at=timezone.now()
    )


def test_public_photos_open_with_the_link_and_no_others(client: Client, listed: Consignment, now: datetime) -> None:
    shown, hidden = add_photo(listed, tint=10), add_photo(listed, tint=20, public=False)
    others = add_photo(build.consignment(at=now), tint=30)
    page = text_of(follow(client, make_link(listed)))
    assert "tint 10" in page
    assert "tint 20" not in page
    answers = {
        row.pk: client.get(reverse("status_photo", args=[listed.code, row.code])) for row in (shown, hidden, others)
    }
    assert [answer.status_code for answer in answers.values()] == [200, 404, 404]
    assert answers[shown.pk]["Content-Type"] == "image/jpeg"
    assert b"".join(answers[shown.pk].streaming_content).startswith(b"\xff\xd8")
    assert Client().get(reverse("status_photo", args=[listed.code, shown.code])).status_code == 404
    linking.revoke_link(listed.pk, by=build.BUILDER, at=timezone.now())
    assert client.get(reverse("status_photo", args=[listed.code, shown.code])).status_code == 404


def test_sold_vehicle_shows_price_and_what_it_comes_to(client: Client, now: datetime) -> None:
    """48,500.00 less 9 % 4,365.00 leaves 44,135.00, by hand."""
    page = text_of(follow(client, make_link(build.consignment(State.SOLD, at=now))))
    for shown in ("Sold for $48,500.00", "At the price it sold for", "$44,135.00"):
        assert shown in page


def test_settled_vehicle_shows_the_statement_and_what_was_paid(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.SETTLED, at=now)
    settlement = stay.settlements.get()
    token = make_link(stay)
    assert "Nothing has been paid yet." in text_of(follow(client, token))
    settling.record_disbursement(
        settlement.pk, payee_kind="consignor", payee="Ada Fenwick", amount=Decimal(44135), method="wire",
        reference="T-77", by=owner, at=now,
    )  # fmt: skip
    releasing.send_title(stay.pk, by=owner, at=now)
    releasing.release(stay.pk, signed_for_by="Bo Larkin", by=owner, at=now)
    page = text_of(follow(client, token))
    for shown in (
        settlement.number, "−$4,365.00", "Due to you", "$44,135.00 to Ada Fenwick by bank transfer, reference T-77",
        "$44,135.00 paid to you", "Title sent to the buyer", "Handed over to the buyer",
    ):  # fmt: skip
        assert shown in page
    assert "Bo Larkin" not in page


def test_deals_that_came_to_nothing_are_told_without_the_buyer(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    token = make_link(stay)
    assert "A buyer paid a deposit at $48,500.00" in text_of(follow(client, token))
    selling.end_deal(stay.pk, reason="DEAL-REASON", by=owner, at=now)
    build.step_to(State.SOLD, stay, at=now, price=Decimal(48500))
    selling.unwind_sale(stay.pk, reason="UNWIND-REASON", by=owner, at=now)
    page = text_of(follow(client, token))
    assert "That deal fell through" in page
    assert "The sale was set aside; for sale again" in page
    for hidden in ("DEAL-REASON", "UNWIND-REASON", "Bo Larkin"):
        assert hidden not in page


def test_lien_paid_off_is_told_as_such(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.make_listable(
        stay, at=now, ask=Decimal(48500), lien_holder="Tarn Valley Credit Union", lien_amount=Decimal(100),
        lien_quoted_on=timezone.localdate(now),
    )  # fmt: skip
    asking.list_vehicle(stay.pk, by=owner, at=now)
    for step in (State.SOLD, State.SETTLED):
        build.step_to(step, stay, at=now, price=Decimal(48500))
    settling.record_disbursement(
        stay.settlements.get().pk, payee_kind="lien_holder", payee="Tarn Valley Credit Union", amount=Decimal(100),
        method="cheque", by=owner, at=now,
    )  # fmt: skip
    assert "$100.00 paid to the lien holder" in text_of(follow(client, make_link(stay)))


def test_withdrawn_and_handed_back_is_told(client: Client, now: datetime) -> None:
    page = text_of(follow(client, make_link(build.consignment(State.RELEASED, at=now))))
    assert "Withdrawn from sale" in page
    assert "Handed back" in page


@pytest.mark.parametrize("state", [State.BOOKED, State.ON_LOT, State.INSPECTED, State.WITHDRAWN])
def test_page_before_terms_and_ask_opens(client: Client, now: datetime, state: State) -> None:
    page = text_of(follow(client, make_link(build.consignment(state, at=now))))
    for shown in ("No ask has been set yet.", "No offers so far.", "No charges so far."):
        assert shown in page
    assert "you would be paid" not in page


def test_lien_quote_that_ran_out_is_told(client: Client) -> None:
    early = timezone.now() - timedelta(days=10)
    stay = build.consignment(State.INSPECTED, at=early)
    build.make_listable(
        stay, at=early, ask=Decimal(48500), lien_holder="Tarn Valley Credit Union", lien_amount=Decimal(100),
        lien_quoted_on=early.date() - timedelta(days=1), lien_good_until=early.date(),
    )  # fmt: skip
    assert "This cannot be worked out today" in text_of(follow(client, make_link(stay)))


def test_staff_make_a_link_that_is_shown_once_and_opens(client: Client, sales: Actor, listed: Consignment) -> None:
    response = sign_in(client, sales).post(url(listed, "manage_link"), {"do": "make"})
    assert response["Cache-Control"] == "no-store"
    found = re.search(r"readonly>([^<]+)<", response.content.decode())
    assert found is not None
    address = urlsplit(found[1])
    assert (address.scheme, address.netloc) == ("http", "testserver")
    assert Client().get(address.path, follow=True).status_code == 200
    page = text_of(client.get(url(listed, "manage_link")))
    assert "readonly" not in page
    assert "Revoke the link" in page


def test_staff_revoke_a_link(client: Client, sales: Actor, listed: Consignment) -> None:
    make_link(listed)
    page = text_of(sign_in(client, sales).post(url(listed, "manage_link"), {"do": "revoke"}, follow=True))
    assert "There is no link at present." in page
    assert not StatusLink.objects.filter(revoked_at__isnull=True).exists()
    assert client.post(url(listed, "manage_link"), {"do": "revoke"}).status_code == 404


def test_link_page_that_says_nothing_to_do_makes_nothing(client: Client, sales: Actor, listed: Consignment) -> None:
    assert sign_in(client, sales).post(url(listed, "manage_link"), {"do": "burn"}).status_code == 422
    assert client.post(url(listed, "manage_link"), {}).status_code == 422
    assert not StatusLink.objects.exists()


def test_intake_staff_make_no_links_and_strangers_sign_in(client: Client, intake: Actor, listed: Consignment) -> None:
    assert client.post(url(listed, "manage_link"), {"do": "make"})["Location"].startswith(reverse("sign_in"))
    assert sign_in(client, intake).post(url(listed, "manage_link"), {"do": "make"}).status_code == 403
    assert not StatusLink.objects.exists()


def test_page_takes_as_many_queries_with_one_offer_as_with_twenty(
    client: Client, listed: Consignment, now: datetime
) -> None:
    follow(client, make_link(listed))
    offering.log_offer(listed.pk, amount=Decimal(1000), bidder="x", by=build.BUILDER, at=now)
    with CaptureQueriesContext(connection) as few:
        client.get(status_url(listed))
    for _ in range(19):
        offer = offering.log_offer(listed.pk, amount=Decimal(1000), bidder="x", by=build.BUILDER, at=now)
        offering.answer_offer(offer.pk, answer="refused", by=build.BUILDER, at=now)
    with CaptureQueriesContext(connection) as many:
        client.get(status_url(listed))
    assert len(many) == len(few)
