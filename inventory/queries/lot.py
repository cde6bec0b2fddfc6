"""The lot screen: who is here, in which state, and what needs a person today."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from inventory.errors import NotFound
from inventory.models import AskChange, Consignment, Deal, IntakeInspection, Lot, Movement, Offer, PriceOpinion, Terms
from inventory.rules import money
from inventory.rules.states import State

PER_PAGE = 50


@dataclass(frozen=True)
class LotRow:
    """One line of the lot screen, with money already written out."""

    stock_number: str
    vehicle: str
    consignor: str
    state: str
    state_label: str
    place: str
    days: int | None
    ask: str
    next_step: str
    urgent: bool


@dataclass(frozen=True)
class Filters:
    text: str = ""
    state: str = ""
    here_only: bool = True


def consignment_id_of(stock_number: str) -> int:
    pk = Consignment.objects.filter(stock_number=stock_number).values_list("pk", flat=True).first()
    if pk is None:
        raise NotFound(
            "not_found", f"There is no stock number {stock_number}.", field="stock_number", got=stock_number,
            mend="Look it up on the lot screen.",
        )  # fmt: skip
    return pk


def _latest(model: type, *, column: str, order: str = "-pk", **where: object) -> Subquery:
    rows = model.objects.filter(consignment=OuterRef("pk"), **where).order_by(order)  # type: ignore[attr-defined]
    return Subquery(rows.values(column)[:1])


def consignments(filters: Filters) -> QuerySet[Consignment]:
    """Stays with all that a line shows, in one query."""
    rows = Consignment.objects.select_related("vehicle", "consignor").annotate(
        ask=_latest(AskChange, column="amount"),
        place=_latest(Movement, column="place"),
        agreement_ends_on=_latest(Terms, column="ends_on", order="-number"),
        terms_signed_on=_latest(Terms, column="signed_on", order="-number"),
        hold_until=_latest(Deal, column="hold_until", end=""),
        band_low=_latest(PriceOpinion, column="low"),
        band_high=_latest(PriceOpinion, column="high"),
        walk_open=_latest(IntakeInspection, column="pk", finished_at__isnull=True),
        unanswered=Subquery(
            Offer.objects.filter(consignment=OuterRef("pk"), answers__isnull=True).order_by("-pk").values("amount")[:1]
        ),
        since=Coalesce(F("arrived_on"), F("booked_on")),
    )
    if filters.here_only:
        rows = rows.filter(released_on__isnull=True)
    if filters.state:
        rows = rows.filter(state=filters.state)
    for word in filters.text.split():
        rows = rows.filter(_matches(word))
    return rows.order_by("-pk")


def _matches(word: str) -> Q:
    found = Q(stock_number__icontains=word) | Q(vehicle__serial__iendswith=word)
    for column in ("vehicle__make", "vehicle__model", "consignor__name", "consignor__phone"):
        found |= Q(**{f"{column}__icontains": word})
    return found | Q(vehicle__year=int(word)) if word.isascii() and word.isdigit() and len(word) == 4 else found


def lot_page(filters: Filters, *, number: int, lot: Lot, today: date) -> tuple[Page[Consignment], list[LotRow]]:
    page = Paginator(consignments(filters), PER_PAGE).get_page(number)
    return page, [lot_row(row, lot=lot, today=today) for row in page.object_list]


def lot_row(row: Consignment, *, lot: Lot, today: date) -> LotRow:
    step, urgent = next_step(row, lot=lot, today=today)
    ask: Decimal | None = row.ask  # type: ignore[attr-defined]
    return LotRow(
        stock_number=row.stock_number,
        vehicle=str(row.vehicle),
        consignor=row.consignor.name,
        state=row.state,
        state_label=row.get_state_display(),
        place=row.place or "",  # type: ignore[attr-defined]
        days=(today - row.arrived_on).days if row.arrived_on else None,
        ask=money.show(ask) if ask is not None else "",
        next_step=step,
        urgent=urgent,
    )


def next_step(row: Consignment, *, lot: Lot, today: date) -> tuple[str, bool]:
    """What a person does next about a stay, and whether it cannot wait."""
    said = row.__dict__
    if row.state == State.DEPOSIT:
        late = said["hold_until"] is not None and said["hold_until"] < today
        return (f"hold ended {said['hold_until']}", True) if late else (f"held until {said['hold_until']}", False)
    if row.state in _STEPS:
        return _STEPS[row.state]
    if row.state == State.INSPECTED:
        return ("record signed terms", False) if said["terms_signed_on"] is None else ("set the ask and list", False)
    if row.state == State.LISTED:
        return _listed_step(row, said=said, lot=lot, today=today)
    return ("", False)


_STEPS = {
    State.BOOKED: ("waiting for arrival", False),
    State.ON_LOT: ("inspect", False),
    State.SOLD: ("clear the money, settle", True),
    State.WITHDRAWN: ("hand back to the consignor", False),
}


def _listed_step(row: Consignment, *, said: dict[str, object], lot: Lot, today: date) -> tuple[str, bool]:
    ends, ask, low, high = (said[name] for name in ("agreement_ends_on", "ask", "band_low", "band_high"))
    if said["unanswered"] is not None:
        return (f"answer the offer of {money.show(said['unanswered'])}", True)  # type: ignore[arg-type]
    if isinstance(ends, date) and (ends - today).days <= 14:
        return (f"agreement ends {ends}", True)
    if isinstance(ask, Decimal) and isinstance(low, Decimal) and isinstance(high, Decimal) and not low <= ask <= high:
        return (f"ask is {'above' if ask > high else 'below'} its band", False)
    if row.listed_on and (today - row.listed_on).days > lot.aged_after_days:
        return (f"listed for {(today - row.listed_on).days} days", False)
    return ("", False)


@dataclass(frozen=True)
class Tally:
    state: str
    label: str
    count: int


def tallies() -> list[Tally]:
    """How many vehicles that are still here stand in each state."""
    counted = Consignment.objects.still_here().order_by().values_list("state").annotate(count=Count("pk"))
    of = dict(counted)
    return [Tally(state.value, state.label, of[state]) for state in State if state in of]
