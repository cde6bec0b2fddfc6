"""Vehicle and title leave: the receipt that is signed, the papers that are sent, and what holds them back."""

import hashlib
import uuid
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from inventory.actions import asking, dealing, recording, releasing
from inventory.actions.releasing import ReleaseReceipt, Sending
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import Consignment, LogEntry, Release, TitlePaper, TitleSending
from inventory.rules.roles import Actor
from inventory.rules.signatures import Signature
from inventory.rules.states import State
from inventory.rules.wording import log_sentence
from tests import build
from tests.receipts import HAND

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def settled(at: datetime) -> Consignment:
    return build.consignment(State.SETTLED, at=at)


def receipt(**changes: Any) -> ReleaseReceipt:
    given: dict[str, Any] = {
        "collector": "buyer", "signature": Signature(strokes=HAND), "mileage": 61251, "keys_count": 2,
        "handed_over_by": "Ines Quarles",
    }  # fmt: skip
    return ReleaseReceipt(**{**given, **changes})


def refused(deed: Any, *args: Any, **kwargs: Any) -> tuple[str, str]:
    with pytest.raises(Refused) as refusal:
        deed(*args, **kwargs)
    return refusal.value.code, refusal.value.field


def printed(row: Release) -> str:
    return " ".join(PdfReader(row.file.path).pages[0].extract_text().split())


def last_sentence() -> list[str]:
    return [log_sentence(entry.action, data=entry.data) for entry in LogEntry.objects.order_by("-pk")[:2]]


def test_release_is_signed_for_and_its_paper_kept(sales: Actor, at: datetime, settled: Consignment) -> None:
    row = releasing.release(settled.pk, signed_for_by="Bo Larkin", receipt=receipt(), by=sales, at=at)
    kept = Release.objects.get()
    assert (row.released_on, kept.collected_by, kept.signed) == (kept.on, "Bo Larkin", "drawn")
    assert hashlib.sha256(Path(kept.file.path).read_bytes()).hexdigest() == kept.sha256
    said = printed(kept)
    for value in (settled.stock_number, "Bo Larkin, the buyer", "61,251 miles", "Keys 2", "Ines Quarles"):
        assert value in said, value
    assert "made the release receipt, collected by Bo Larkin (the buyer)" in last_sentence()[1]


def test_release_sent_twice_is_one(sales: Actor, at: datetime, settled: Consignment) -> None:
    once = receipt(client_key=uuid.uuid4())
    for _ in range(2):
        releasing.release(settled.pk, signed_for_by="Bo Larkin", receipt=once, version=settled.version, by=sales, at=at)
    assert Release.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"collector": "consignor"}, ("collector_does_not_fit", "collector")),
        ({"collector": "carrier"}, ("authority_missing", "note")),
        ({"signature": Signature()}, ("not_signed", "strokes")),
        ({"mileage": 3_000_000}, ("invalid", "mileage")),
    ],
)
def test_receipt_that_does_not_hold_releases_nothing(
    sales: Actor, at: datetime, settled: Consignment, change: dict[str, Any], expected: tuple[str, str]
) -> None:
    given = {"signed_for_by": "Bo Larkin", "receipt": receipt(**change), "by": sales, "at": at}
    assert refused(releasing.release, settled.pk, **given) == expected
    settled.refresh_from_db()
    assert settled.released_on is None
    assert not Release.objects.exists()


def test_withdrawn_vehicle_goes_to_its_consignor(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.WITHDRAWN, at=at)
    who = {"signed_for_by": "Ada Fenwick", "by": sales, "at": at}
    assert refused(releasing.release, stay.pk, receipt=receipt(), **who)[0] == "collector_does_not_fit"
    typed = receipt(collector="consignor", signature=Signature(typed=True), mileage=None, keys_count=None)
    assert releasing.release(stay.pk, receipt=typed, **who).state == State.RELEASED
    said = printed(Release.objects.get())
    for value in ("withdrawn by its consignor", "no reading taken", "not counted", "Signed by typing the name."):
        assert value in said, value


def test_title_goes_to_the_buyer_with_the_paper_that_counts(sales: Actor, at: datetime, settled: Consignment) -> None:
    releasing.send_title(settled.pk, way="by mail, 42", by=sales, at=at)
    row = TitleSending.objects.get()
    assert (row.to_whom, row.way) == ("Bo Larkin", "by mail, 42")
    assert row.paper is not None
    assert row.paper.number == "T-1"
    assert last_sentence()[0] == f"sent the title to Bo Larkin on {row.on}, by mail, 42"


def test_title_waits_for_the_release_of_a_lien(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    lien = {"lien_holder": "Alder Bank", "lien_amount": Decimal(9000), "lien_quoted_on": at.date()}
    build.make_listable(stay, at=at, ask=Decimal(48500), **lien)
    asking.list_vehicle(stay.pk, by=build.BUILDER, at=at)  # a lien is no bar to listing
    build.step_to(State.SOLD, stay, at=at, price=Decimal(48500))
    build.pay_in_full(stay, at=at)
    assert refused(releasing.send_title, stay.pk, by=sales, at=at) == ("lien_not_released", "title")
    build.lien_released(stay, at=at)
    assert releasing.send_title(stay.pk, by=sales, at=at).title_sent_on is not None


def test_other_paper_is_sent_to_a_lender(sales: Actor, intake: Actor, at: datetime, settled: Consignment) -> None:
    paper = TitlePaper.objects.get()
    sending = Sending(to_whom="Alder Bank", way="by courier")
    releasing.send_paper(settled.pk, paper_id=paper.pk, sending=sending, by=sales, at=at)
    assert last_sentence()[0].startswith("sent title T-1 to Alder Bank on ")
    with pytest.raises(NotAllowed):
        releasing.send_paper(settled.pk, paper_id=paper.pk, sending=sending, by=intake, at=at)
    with pytest.raises(NotFound):
        releasing.send_paper(settled.pk, paper_id=paper.pk + 1, sending=sending, by=sales, at=at)


def test_title_does_not_slip_to_the_buyer_as_another_paper(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    deed = {"paper_id": TitlePaper.objects.get().pk, "by": sales, "at": at}
    said = refused(releasing.send_paper, stay.pk, sending=Sending(to_whom="larkin, bo"), **deed)
    assert said == ("title_to_buyer", "to_whom")


def test_listing_waits_while_title_and_consignor_disagree(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    build.make_listable(stay, at=at, ask=Decimal(48500))
    title = {"kind": "title", "standing": "read", "number": "T-1", "by": owner, "at": at}
    recording.add_title_paper(stay.pk, name_on_paper="Cy Ogden", **title)
    assert refused(asking.list_vehicle, stay.pk, by=owner, at=at) == ("papers_disagree", "title")
    recording.add_title_paper(stay.pk, name_on_paper="Fenwick, Ada", in_hand_since=at.date(), **title)
    assert asking.list_vehicle(stay.pk, by=owner, at=at).state == State.LISTED


def test_paper_of_an_earlier_stay_asks_nothing_of_the_next(owner: Actor, at: datetime) -> None:
    """Sold once and back again: the new title has another number and another name."""
    first = build.consignment(State.SETTLED, at=at.replace(year=2024))
    releasing.release(first.pk, signed_for_by="Bo Larkin", by=owner, at=at.replace(year=2024))
    again = build.consignment(State.INSPECTED, at=at, vin=first.vehicle.serial)
    assert again.vehicle_id == first.vehicle_id
    build.make_listable(again, at=at, ask=Decimal(48500))
    title = {"kind": "title", "standing": "read", "by": owner, "at": at}
    recording.add_title_paper(again.pk, number="T-1", name_on_paper="Ada Fenwick", **title)
    assert asking.list_vehicle(again.pk, by=owner, at=at).state == State.LISTED


@pytest.mark.parametrize("field", ["buyer", "address"])
def test_buyer_needs_name_and_address(sales: Actor, at: datetime, settled: Consignment, field: str) -> None:
    given = {"buyer": "Bo A. Larkin", "address": "4 Elm Row", "by": sales, "at": at}
    assert refused(dealing.correct_buyer, settled.pk, **{**given, field: " "}) == (f"no_{field}", field)
    deal = dealing.correct_buyer(settled.pk, **given)
    assert (deal.buyer, deal.address) == ("Bo A. Larkin", "4 Elm Row")
    assert last_sentence()[0] == "corrected the buyer of the deal: Bo A. Larkin, before Bo Larkin, no address"


def test_buyer_is_corrected_on_a_deal_that_stands(sales: Actor, intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(NotFound):
        dealing.correct_buyer(stay.pk, buyer="Bo", address="4 Elm Row", by=sales, at=at)
    with pytest.raises(NotAllowed):
        dealing.correct_buyer(stay.pk, buyer="Bo", address="4 Elm Row", by=intake, at=at)
