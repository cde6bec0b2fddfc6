"""The records as the API reads them: what the actor may see, with all that a row shows in a fixed number of queries.

Whoever may not see money never gets terms, charges, offers, deals, payments, settlements or past prices; whoever
may not see the price band never gets opinions or fits. The ask is advertised: everybody on the lot sees it.
"""

import uuid

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery, Value

from inventory.errors import NotFound
from inventory.models import (
    ArrivalReceipt,
    AskChange,
    BuildDate,
    BuyerPayment,
    Charge,
    CheckResult,
    Clip,
    ComponentRecord,
    Consignment,
    Consignor,
    ConsignorPayment,
    DecoderEntry,
    Disbursement,
    IdentityNumber,
    IdentityResolution,
    Inquiry,
    IntakeInspection,
    LateTap,
    LogEntry,
    ModelFit,
    Modification,
    Movement,
    Offer,
    OfferAnswer,
    Photo,
    PriceOpinion,
    SaleOutcome,
    Settlement,
    Showing,
    StationVisit,
    TitlePaper,
    Vehicle,
)
from inventory.queries import decoder, facts
from inventory.queries.ledger import with_build_date
from inventory.queries.media import shown_clips
from inventory.rules.roles import Act, Actor, may, require
from inventory.rules.words import PaymentEvent

# Log entries by the first part of their action: what is told to everybody on the lot, and what only to some.
TOLD_TO_ALL = (
    "ask", "clip", "consignment", "consignor", "flag", "identity", "inspection", "link", "listing", "modification",
    "movement", "photo", "publication", "receipt", "release", "test_drive", "title", "vehicle",
)  # fmt: skip
TOLD_WITH_MONEY = (
    "charge", "consent", "deal", "inquiry", "lien", "message", "offer", "outcome", "payment", "question",
    "settlement", "showing", "terms",
)  # fmt: skip
TOLD_WITH_PRICE = ("opinion",)
TOLD_WITH_TRUST = ("trust",)


def nothing_here() -> NotFound:
    """One answer for what is not there and for what the actor may not know of."""
    return NotFound("not_found", "Nothing here that you may see.")


def consignments(*, by: Actor) -> QuerySet[Consignment]:
    require(by, Act.SEE_LOT)
    latest_ask = AskChange.objects.filter(consignment=OuterRef("pk")).order_by("-pk").values("amount")[:1]
    return Consignment.objects.select_related("vehicle", "consignor").annotate(ask=Subquery(latest_ask))


def consignment(stock_number: str, *, by: Actor) -> Consignment:
    row = consignments(by=by).filter(stock_number=stock_number).first()
    if row is None:
        raise nothing_here()
    return row


def consignments_with(rows: QuerySet[Consignment], *, text: str) -> QuerySet[Consignment]:
    """Those in which every word is found: stock number, make, model, consignor or the end of the serial."""
    for word in text.split():
        rows = rows.filter(
            Q(stock_number__icontains=word)
            | Q(vehicle__make__icontains=word)
            | Q(vehicle__model__icontains=word)
            | Q(vehicle__serial__iendswith=word)
            | Q(consignor__name__icontains=word)
        )
    return rows


def vehicles(*, by: Actor) -> QuerySet[Vehicle]:
    require(by, Act.SEE_LOT)
    return Vehicle.objects.all()


def vehicle(code: uuid.UUID, *, by: Actor) -> Vehicle:
    row = vehicles(by=by).filter(code=code).first()
    if row is None:
        raise nothing_here()
    return row


def vehicles_with(rows: QuerySet[Vehicle], *, text: str) -> QuerySet[Vehicle]:
    for word in text.split():
        rows = rows.filter(Q(make__icontains=word) | Q(model__icontains=word) | Q(serial__iendswith=word))
    return rows


def consignors(*, by: Actor) -> QuerySet[Consignor]:
    require(by, Act.SEE_LOT)
    return Consignor.objects.all()


def consignor(code: uuid.UUID, *, by: Actor) -> Consignor:
    row = consignors(by=by).filter(code=code).first()
    if row is None:
        raise nothing_here()
    return row


def consignors_with(rows: QuerySet[Consignor], *, text: str) -> QuerySet[Consignor]:
    for word in text.split():
        rows = rows.filter(Q(name__icontains=word) | Q(email__icontains=word) | Q(phone__icontains=word))
    return rows


def asks(stay: Consignment, *, by: Actor) -> QuerySet[AskChange]:
    require(by, Act.SEE_LOT)
    hidden = not may(by, Act.SEE_PRICE)  # the ask is public, what was suggested is not
    return AskChange.objects.filter(consignment=stay).annotate(suggestion_hidden=Value(hidden))


def inquiries(stay: Consignment, *, by: Actor) -> QuerySet[Inquiry]:
    require(by, Act.LOG_INQUIRY)
    return Inquiry.objects.filter(consignment=stay).select_related("contact")


def showings(stay: Consignment, *, by: Actor) -> QuerySet[Showing]:
    require(by, Act.LOG_INQUIRY)
    return Showing.objects.filter(consignment=stay)


def offers(stay: Consignment, *, by: Actor) -> QuerySet[Offer]:
    require(by, Act.SEE_MONEY)
    return Offer.objects.filter(consignment=stay).prefetch_related(
        Prefetch("answers", queryset=OfferAnswer.objects.order_by("pk"))
    )


def offer(stay: Consignment, *, offer_id: int, by: Actor) -> Offer:
    row = offers(stay, by=by).filter(pk=offer_id).first()
    if row is None:
        raise nothing_here()
    return row


def answers(stay: Consignment, *, offer_id: int, by: Actor) -> QuerySet[OfferAnswer]:
    return OfferAnswer.objects.filter(offer=offer(stay, offer_id=offer_id, by=by))


def charges(stay: Consignment, *, by: Actor) -> QuerySet[Charge]:
    """All rows, those set aside and those that set one aside too; `stands` says which count."""
    require(by, Act.SEE_MONEY)
    aside = Charge.objects.filter(sets_aside=OuterRef("pk"))
    return Charge.objects.filter(consignment=stay).annotate(stands=~Exists(aside) & Q(sets_aside__isnull=True))


def charge(stay: Consignment, *, charge_id: int, by: Actor) -> Charge:
    row = charges(stay, by=by).filter(pk=charge_id).first()
    if row is None:
        raise nothing_here()
    return row


def payments(stay: Consignment, *, by: Actor) -> QuerySet[BuyerPayment]:
    require(by, Act.SEE_MONEY)
    return BuyerPayment.objects.filter(deal__consignment=stay).select_related("deal")


def receipt(stay: Consignment, *, payment_id: int, by: Actor) -> BuyerPayment:
    row = payments(stay, by=by).filter(pk=payment_id, event=PaymentEvent.RECEIVED).first()
    if row is None:
        raise nothing_here()
    return row


def consignor_payments(stay: Consignment, *, by: Actor) -> QuerySet[ConsignorPayment]:
    require(by, Act.SEE_MONEY)
    return ConsignorPayment.objects.filter(consignment=stay)


def approved_settlement(stay: Consignment, *, by: Actor) -> Settlement:
    require(by, Act.SEE_MONEY)
    row = facts.settlement_of(stay)
    if row is None:
        raise NotFound(
            "not_approved", f"No settlement of {stay.stock_number} has been approved.", field="settlement",
            mend="Approve the settlement first.",
        )  # fmt: skip
    return row


def disbursements(stay: Consignment, *, by: Actor) -> QuerySet[Disbursement]:
    require(by, Act.SEE_MONEY)
    return Disbursement.objects.filter(settlement__consignment=stay).select_related("settlement")


def inspections(stay: Consignment, *, by: Actor) -> QuerySet[IntakeInspection]:
    require(by, Act.SEE_LOT)
    return IntakeInspection.objects.filter(consignment=stay).select_related("policy")


def check_results(stay: Consignment, *, by: Actor) -> QuerySet[CheckResult]:
    require(by, Act.SEE_LOT)
    return CheckResult.objects.filter(inspection__consignment=stay).select_related("inspection")


def visits(stay: Consignment, *, by: Actor) -> QuerySet[StationVisit]:
    require(by, Act.SEE_LOT)
    return StationVisit.objects.filter(inspection__consignment=stay).select_related("inspection")


def late_taps(stay: Consignment, *, by: Actor) -> QuerySet[LateTap]:
    require(by, Act.SEE_LOT)
    return LateTap.objects.filter(inspection__consignment=stay).select_related("inspection")


def components(stay: Consignment, *, by: Actor) -> QuerySet[ComponentRecord]:
    require(by, Act.SEE_LOT)
    return with_build_date(ComponentRecord.objects.filter(vehicle=stay.vehicle_id))


def component_line(stay: Consignment, *, row_id: int, by: Actor) -> ComponentRecord:
    return components(stay, by=by).get(pk=row_id)


def build_dates(stay: Consignment, *, by: Actor) -> QuerySet[BuildDate]:
    require(by, Act.SEE_LOT)
    return BuildDate.objects.filter(vehicle=stay.vehicle_id)


def modifications(stay: Consignment, *, by: Actor) -> QuerySet[Modification]:
    require(by, Act.SEE_LOT)
    return Modification.objects.filter(vehicle=stay.vehicle_id).select_related("by").prefetch_related("changes")


def decoder_entries(*, by: Actor) -> QuerySet[DecoderEntry]:
    """Entries that count: neither corrected nor retired."""
    require(by, Act.SEE_LOT)
    return decoder.live()


def decoder_entries_for(rows: QuerySet[DecoderEntry], *, code: str) -> QuerySet[DecoderEntry]:
    return decoder.matching(rows, code=code)


def identity_numbers(stay: Consignment, *, by: Actor) -> QuerySet[IdentityNumber]:
    require(by, Act.SEE_LOT)
    return IdentityNumber.objects.filter(vehicle=stay.vehicle_id)


def identity_resolutions(stay: Consignment, *, by: Actor) -> QuerySet[IdentityResolution]:
    require(by, Act.SEE_LOT)
    return IdentityResolution.objects.filter(vehicle=stay.vehicle_id)


def places(stay: Consignment, *, by: Actor) -> QuerySet[Movement]:
    require(by, Act.SEE_LOT)
    return Movement.objects.filter(consignment=stay)


def title_papers(stay: Consignment, *, by: Actor) -> QuerySet[TitlePaper]:
    require(by, Act.SEE_LOT)
    return TitlePaper.objects.filter(vehicle=stay.vehicle_id)


def photos(stay: Consignment, *, by: Actor) -> QuerySet[Photo]:
    require(by, Act.SEE_LOT)
    return Photo.objects.shown().filter(consignment=stay).select_related("by")


def clips(stay: Consignment, *, by: Actor) -> QuerySet[Clip]:
    require(by, Act.SEE_LOT)
    return shown_clips(stay)


def arrival_receipts(stay: Consignment, *, by: Actor) -> QuerySet[ArrivalReceipt]:
    """All of them; those that another one follows were replaced."""
    require(by, Act.SEE_LOT)
    later = ArrivalReceipt.objects.filter(follows=OuterRef("pk"))
    rows = ArrivalReceipt.objects.filter(consignment=stay).select_related("consignment")
    return rows.annotate(replaced=Exists(later), signed=Q(signed_at__isnull=False))


def opinions(stay: Consignment, *, by: Actor) -> QuerySet[PriceOpinion]:
    require(by, Act.SEE_PRICE)
    return PriceOpinion.objects.filter(consignment=stay)


def log_of(stay: Consignment, *, by: Actor) -> QuerySet[LogEntry]:
    """The entries told to this actor. What no list above names is told to nobody."""
    require(by, Act.SEE_LOT)
    told = [*TOLD_TO_ALL]
    told += TOLD_WITH_MONEY if may(by, Act.SEE_MONEY) else ()
    told += TOLD_WITH_PRICE if may(by, Act.SEE_PRICE) else ()
    told += TOLD_WITH_TRUST if may(by, Act.SEE_TRUST) else ()
    which = Q()
    for subject in told:
        which |= Q(action__startswith=f"{subject}.")
    return LogEntry.objects.filter(which, consignment=stay)


def outcomes(*, by: Actor) -> QuerySet[SaleOutcome]:
    """Past sales and withdrawals that stand, those of earlier books too."""
    require(by, Act.SEE_MONEY)
    return SaleOutcome.objects.live()


def fits(*, by: Actor) -> QuerySet[ModelFit]:
    """Fits without what they learned and without every sale of their record, which are large."""
    require(by, Act.SEE_PRICE)
    return ModelFit.objects.defer("learned", "record", "selling")
