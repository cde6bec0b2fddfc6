"""What each address needs before a post to it can work, and rows for its list."""

import uuid
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings

from inventory.actions import (
    agreeing,
    asking,
    charging,
    conceding,
    consenting,
    extras,
    filming,
    inquiring,
    inspecting,
    linking,
    offering,
    paying,
    questioning,
    recording,
    selling,
    settling,
    tapping,
    trusting,
)
from inventory.actions.consenting import Question
from inventory.actions.inspecting import Finding
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.tapping import Tap
from inventory.models import (
    ArrivalReceipt,
    Charge,
    CheckResult,
    Clip,
    ConsentRequest,
    Consignment,
    ConsignorQuestion,
    DealExtra,
    ModelFit,
    Offer,
    PriceOpinion,
)
from inventory.rules.roles import Actor, ActorKind, Role
from inventory.rules.states import State
from inventory.uploads import CleanPicture, clean_clip
from tests import build, receipts
from tests.api.conftest import NOW
from tests.uploads import films

DEED: dict[str, Any] = {"by": build.BUILDER, "at": NOW}
ONE = Decimal("1.00")
SEEN: dict[str, Any] = {"check_code": "front.hood", "grade": 3, "basis": "seen"}
DATED = {"earliest_on": date(1967, 1, 10), "latest_on": date(1967, 1, 10), "date_basis": "seen"}


def listable(stay: Consignment) -> None:
    build.make_listable(stay, at=NOW, ask=Decimal("48500.00"))


def offered(stay: Consignment) -> Offer:
    return offering.log_offer(stay.pk, amount=Decimal("47000.00"), bidder="Bo Larkin", **DEED)


def charged(stay: Consignment) -> Charge:
    return charging.add_charge(stay.pk, kind="repair", what="brakes", amount=ONE * 100, agreed_by="Ada Fenwick", **DEED)


def long_over(stay: Consignment) -> None:
    """Terms that ended ten days ago, with storage of 5.00 a day after it."""
    end = build.trade_day(NOW) - timedelta(days=10)
    terms = build.terms(NOW, starts_on=end, ends_on=end, storage_per_day=ONE * 5)
    agreeing.agree_terms(stay.pk, terms=terms, **DEED)


def received(stay: Consignment) -> Any:
    return paying.record_payment(stay.pk, payment=Payment(amount=ONE), **DEED)


def begun(stay: Consignment) -> None:
    inspecting.begin_inspection(stay.pk, **DEED)


def graded(stay: Consignment) -> None:
    begun(stay)
    checked(stay)


def checked(stay: Consignment) -> None:
    inspecting.record_check(stay.pk, finding=Finding(check_code="front.hood", grade=3, basis="seen"), **DEED)


def found(stay: Consignment, code: str, **said: Any) -> CheckResult:
    """One answer of the open walk, which is begun where there is none."""
    begun(stay)
    finding = Finding(**{"check_code": code, "grade": 3, "basis": "seen", **said})
    return inspecting.record_check(stay.pk, finding=finding, **DEED)


def flagged(stay: Consignment) -> str:
    """A grave flag, by its key."""
    return f"check-{found(stay, 'tyres.nuts', grade=0).pk}"


def visited(stay: Consignment) -> None:
    begun(stay)
    inspecting.record_visit(stay.pk, station="front", engine="cold", **DEED)


def tapped_late(stay: Consignment) -> None:
    """A tap that comes after its inspection was finished."""
    if not stay.inspections.exists():
        walked(stay)
    tap = Tap(
        key=uuid.uuid4(), inspection=1, made_at=NOW, finding=Finding(check_code="front.hood", grade=1, basis="seen")
    )
    tapping.take_taps(stay.pk, taps=[tap], device="tablet", sent_at=NOW, **DEED)


def received_with_paper(stay: Consignment) -> ArrivalReceipt:
    return receipts.signed(stay, at=NOW)


def filmed(stay: Consignment) -> Clip:
    path = Path(settings.MEDIA_ROOT) / f"{stay.clips.count()}.mp4"
    path.write_bytes(films.mp4(film=f"film {stay.clips.count()}".encode()))
    clip = clean_clip(path, name="walk.mp4")
    return filming.add_clip(stay.pk, clip=clip, name="walk.mp4", kind="walk_round", **DEED)


def linked(stay: Consignment) -> None:
    linking.make_link(stay.pk, **DEED)


def in_deposit(stay: Consignment) -> None:
    selling.take_deposit(
        stay.pk, bargain=Bargain(price=Decimal("48500.00"), buyer="Bo Larkin"), deposit=Payment(amount=ONE),
        hold_until=NOW.date() + timedelta(days=9), **DEED,
    )  # fmt: skip


def dealt(stay: Consignment) -> None:
    in_deposit(stay)
    selling.end_deal(stay.pk, reason="no loan", **DEED)


def walked(stay: Consignment) -> None:
    graded(stay)
    inspecting.finish_inspection(stay.pk, **DEED)


def photographed(stay: Consignment) -> None:
    count = stay.photos.count()
    recording.add_photo(stay.pk, picture=CleanPicture(f"picture {count}".encode(), "jpg", None), **DEED)


def fitted() -> ModelFit:
    return ModelFit.objects.create(
        learned={"secret": 1}, summary={"coverage_percent": 80}, sales_used=40, sales_hash="0" * 64,
        newest_outcome_id=0, by="tests", at=NOW,
    )  # fmt: skip


def priced(stay: Consignment) -> None:
    PriceOpinion.objects.create(
        consignment=stay, fit=ModelFit.objects.first() or fitted(), inputs={"year": 1968}, low=ONE * 40000,
        likely=ONE * 45000, high=ONE * 50000, coverage_percent=80, parts=[{"name": "start", "amount": "45000.00"}],
        evidence={"sales": 40}, notes=["few of this make"], by="tests", at=NOW,
    )  # fmt: skip


def asked_consent(stay: Consignment) -> ConsentRequest:
    question = Question(kind="charge", amount=ONE * 240, what="new brake hoses", charge_kind="repair")
    return consenting.ask_consent(stay.pk, question=question, **DEED)


def answered_consent(stay: Consignment) -> None:
    said = {"agreed": False, "given_by": "Ada Fenwick", "how": "by phone"}
    consenting.record_answer(asked_consent(stay).pk, **said, **DEED)


def asked_by_consignor(stay: Consignment) -> ConsignorQuestion:
    """One more question on the status page; two hours apart, since there is a most for a day."""
    if not stay.links.exists():
        linked(stay)
    by = Actor(kind=ActorKind.LINK, role=Role.CONSIGNOR, name="Ada Fenwick", consignment_id=stay.pk)
    text, later = f"Is it dry, {stay.questions.count()}?", NOW + timedelta(hours=2 * stay.questions.count() - 72)
    return questioning.ask_question(text=text, link=stay.links.get(), by=by, at=later)


def taxed(stay: Consignment) -> DealExtra:
    return extras.add_extra(stay.pk, kind="sales_tax", amount=ONE * 12, label="county", **DEED)


def in_trade(stay: Consignment) -> None:
    """A sale with a vehicle taken in trade."""
    bargain = Bargain(price=Decimal("48500.00"), buyer="Bo Larkin", trade_allowance=ONE * 900, trade_value=ONE * 500)
    selling.mark_sold(stay.pk, bargain=bargain, **DEED)


def stated(stay: Consignment) -> None:
    """A statement more, and one that takes it back."""
    row = settling.approve_settlement(stay.pk, **DEED) if stay.settlements.count() % 2 == 0 else stay.settlements.get()
    settling.reverse_settlement(row.pk, reason="the wrong terms", **DEED)


def moved(stay: Consignment) -> None:
    trusting.move_money(stay.pk, kind="to_lot", amount=ONE, method="wire", **DEED)


DISAGREEMENT = "The identity numbers do not agree: 8A17J100001, 8A17J100007."


def disagreeing(stay: Consignment) -> None:
    recording.add_identity_number(stay.pk, kind="title", value="8A17J100007", basis="documented", **DEED)


def resolved(stay: Consignment) -> None:
    """One more number, and one more word of the owner on it."""
    disagreeing(stay)
    recording.resolve_identity(stay.pk, question=DISAGREEMENT, reason="a typing slip on the title", **DEED)


# For each list: the state it needs, and how one more row comes to it.
MORE: dict[str, tuple[State, Callable[[Consignment], Any]]] = {
    "asks/": (State.LISTED, lambda stay: asking.set_ask(stay.pk, amount=ONE * 50000, **DEED)),
    "inquiries/": (State.LISTED, lambda stay: inquiring.log_inquiry(stay.pk, way="phone", **DEED)),
    "showings/": (State.LISTED, lambda stay: inquiring.log_showing(stay.pk, **DEED)),
    "offers/": (
        State.LISTED,
        lambda stay: offering.answer_offer(offered(stay).pk, answer="countered", amount=ONE * 48000, **DEED),
    ),
    "terms/": (State.ON_LOT, lambda stay: agreeing.agree_terms(stay.pk, terms=build.terms(NOW), **DEED)),
    "charges/": (State.ON_LOT, charged),
    "lien-quotes/": (
        State.ON_LOT,
        lambda stay: agreeing.record_lien_quote(
            stay.pk, holder="Tarn Valley Credit Union", amount=ONE * 900, quoted_on=NOW.date(), **DEED
        ),
    ),
    "consent-requests/": (State.ON_LOT, answered_consent),
    "consignor-questions/": (State.LISTED, asked_by_consignor),
    "extras/": (State.SOLD, taxed),
    "concessions/": (State.SOLD, lambda stay: conceding.concede(stay.pk, amount=ONE, reason="a scratch", **DEED)),
    "settlement/statements/": (State.SETTLED, stated),
    "trust-movements/": (State.SETTLED, moved),
    "deals/": (State.LISTED, dealt),
    "payments/": (State.SOLD, received),
    "consignor-payments/": (
        State.WITHDRAWN,
        lambda stay: (charged(stay), charging.record_consignor_payment(stay.pk, amount=ONE, method="cash", **DEED)),
    ),
    "disbursements/": (
        State.SETTLED,
        lambda stay: settling.record_disbursement(
            stay.settlements.get().pk, payee_kind="consignor", payee="Ada Fenwick", amount=ONE, method="wire", **DEED
        ),
    ),
    "inspections/": (State.ON_LOT, walked),
    "checks/": (State.ON_LOT, graded),
    "visits/": (State.ON_LOT, visited),
    "late-taps/": (State.ON_LOT, tapped_late),
    "components/": (
        State.ON_LOT,
        lambda stay: build.write_line(stay, at=NOW, **DATED),
    ),
    "build-dates/": (State.ON_LOT, lambda stay: build.built(stay, at=NOW, first="1967-05")),
    "modifications/": (
        State.ON_LOT,
        lambda stay: recording.add_modification(
            stay.pk, kind="wheels", what="wider wheels", fitting="bolt_on", basis="seen", components=["wheels"], **DEED
        ),
    ),
    "identity-numbers/": (
        State.ON_LOT,
        lambda stay: recording.add_identity_number(stay.pk, kind="frame_stamp", value="8A17", basis="seen", **DEED),
    ),
    "identity-resolution/": (State.ON_LOT, resolved),
    "title-papers/": (
        State.ON_LOT,
        lambda stay: recording.add_title_paper(stay.pk, kind="title", standing="read", **DEED),
    ),
    "places/": (State.ON_LOT, lambda stay: recording.record_place(stay.pk, place="Shop", not_for_sale=True, **DEED)),
    "clips/": (State.ON_LOT, filmed),
    "receipts/": (State.ON_LOT, received_with_paper),
    "photos/": (State.ON_LOT, photographed),
    "price/": (State.ON_LOT, priced),
    "log/": (State.ON_LOT, charged),
}
