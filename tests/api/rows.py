"""What each address needs before a post to it can work, and rows for its list."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.actions import agreeing, asking, inspecting, linking, offering, paying, recording, selling, settling
from inventory.actions.inspecting import Finding
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.models import Charge, Consignment, ModelFit, Offer, PriceOpinion
from inventory.rules.states import State
from inventory.uploads import CleanPicture
from tests import build
from tests.api.conftest import NOW

DEED: dict[str, Any] = {"by": build.BUILDER, "at": NOW}
ONE = Decimal("1.00")
DATED = {"earliest_on": date(1967, 1, 10), "latest_on": date(1967, 1, 10), "date_basis": "seen"}


def listable(stay: Consignment) -> None:
    build.make_listable(stay, at=NOW, ask=Decimal("48500.00"))


def offered(stay: Consignment) -> Offer:
    return offering.log_offer(stay.pk, amount=Decimal("47000.00"), bidder="Bo Larkin", **DEED)


def charged(stay: Consignment) -> Charge:
    return agreeing.add_charge(stay.pk, kind="repair", what="brakes", amount=ONE * 100, agreed_by="Ada Fenwick", **DEED)


def received(stay: Consignment) -> Any:
    return paying.record_payment(stay.pk, payment=Payment(amount=ONE), **DEED)


def begun(stay: Consignment) -> None:
    inspecting.begin_inspection(stay.pk, **DEED)


def graded(stay: Consignment) -> None:
    begun(stay)
    checked(stay)


def checked(stay: Consignment) -> None:
    inspecting.record_check(stay.pk, finding=Finding(check_code="front.hood", grade=3, basis="seen"), **DEED)


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
    "offers/": (
        State.LISTED,
        lambda stay: offering.answer_offer(offered(stay).pk, answer="countered", amount=ONE * 48000, **DEED),
    ),
    "terms/": (State.ON_LOT, lambda stay: agreeing.agree_terms(stay.pk, terms=build.terms(NOW), **DEED)),
    "charges/": (State.ON_LOT, charged),
    "deals/": (State.LISTED, dealt),
    "payments/": (State.SOLD, received),
    "consignor-payments/": (
        State.WITHDRAWN,
        lambda stay: (charged(stay), agreeing.record_consignor_payment(stay.pk, amount=ONE, method="cash", **DEED)),
    ),
    "disbursements/": (
        State.SETTLED,
        lambda stay: settling.record_disbursement(
            stay.settlements.get().pk, payee_kind="consignor", payee="Ada Fenwick", amount=ONE, method="wire", **DEED
        ),
    ),
    "inspections/": (State.ON_LOT, walked),
    "checks/": (State.ON_LOT, graded),
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
    "photos/": (State.ON_LOT, photographed),
    "price/": (State.ON_LOT, priced),
    "log/": (State.ON_LOT, charged),
}
