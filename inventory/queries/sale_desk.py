"""What the sale desk shows, and which deeds the state of the stay and the actor's role allow."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch

from inventory.models import (
    BuyerPayment,
    Charge,
    Concession,
    Consignment,
    Deal,
    DealExtra,
    Offer,
    OfferAnswer,
    Terms,
)
from inventory.queries import facts
from inventory.queries.interest import Interest, interest_in
from inventory.queries.settlements import Floor, Net, floor_on, net_at
from inventory.queries.trust import balance_of_consignor
from inventory.rules import money
from inventory.rules.roles import Act, Actor, may
from inventory.rules.states import FOR_SALE, State, move_of
from inventory.rules.terms import over_allowance
from inventory.rules.words import Answer, DealEnd, DepositFate, PaymentEvent


@dataclass(frozen=True)
class OfferRow:
    """An offer with its answers, and what it would leave the consignor."""

    row: Offer
    answers: tuple[OfferAnswer, ...]
    net: Net | None
    below_floor: bool

    @property
    def last_answer(self) -> OfferAnswer | None:
        return self.answers[-1] if self.answers else None

    @property
    def is_accepted(self) -> bool:
        return self.last_answer is not None and self.last_answer.answer == Answer.ACCEPTED


@dataclass(frozen=True)
class PaymentRow:
    """Money of a buyer and what became of it."""

    row: BuyerPayment
    deal: Deal
    events: tuple[BuyerPayment, ...]

    @property
    def is_gone(self) -> bool:
        return any(event.event in {PaymentEvent.BOUNCED, PaymentEvent.RETURNED} for event in self.events)

    @property
    def has_cleared(self) -> bool:
        return any(event.event == PaymentEvent.CLEARED for event in self.events)

    @property
    def is_kept(self) -> bool:
        """A deposit that was forfeited: it belongs to consignor and lot."""
        return self.row.is_deposit and self.deal.deposit_fate == DepositFate.KEPT

    @property
    def is_to_return(self) -> bool:
        """The deal ended, its money goes back, and nobody has said yet that it did."""
        ended = self.deal.end in {DealEnd.FALLEN_THROUGH, DealEnd.UNWOUND}
        return ended and not self.is_kept and not self.is_gone


@dataclass(frozen=True)
class SaleDesk:
    stay: Consignment
    ask: Decimal | None
    terms: Terms | None
    floor: Floor
    offers: tuple[OfferRow, ...]
    deal: Deal | None
    past_deals: tuple[Deal, ...]
    buyer: facts.BuyerMoney
    payments: tuple[PaymentRow, ...]
    charges_unpaid: Decimal
    hold_is_over: bool
    interest: Interest
    extras: tuple[DealExtra, ...]
    concessions: tuple[Concession, ...]
    owed_by_consignor: Decimal
    is_settled: bool

    @property
    def effective_price(self) -> Decimal | None:
        """What the sale is worth after concessions and over-allowance."""
        if self.deal is None:
            return None
        off = money.total([self.deal.concessions, *(row.amount for row in self.concessions), self.over_allowance])
        left: Decimal = self.deal.price - off
        return left

    @property
    def over_allowance(self) -> Decimal:
        """What a trade was taken in for above its worth."""
        if self.deal is None:
            return money.ZERO
        return over_allowance(self.deal.trade_allowance, value=self.deal.trade_value)

    @property
    def to_come(self) -> Decimal:
        """What the buyer has still to bring."""
        return self.buyer.owed - self.buyer.received

    @property
    def open_payments(self) -> tuple[PaymentRow, ...]:
        """Those whose fate can still be told."""
        return tuple(payment for payment in self.payments if not payment.is_gone and not payment.is_kept)


def desk(stay: Consignment, *, today: date) -> SaleDesk:
    terms, charges = facts.terms_of(stay), facts.live_charges(stay)
    ask = facts.current_ask(stay)
    floor = floor_on(today, terms=terms, charges=charges)
    deals = list(Deal.objects.filter(consignment=stay).order_by("pk"))
    deal = next((row for row in deals if row.end in {"", DealEnd.SOLD}), None)
    return SaleDesk(
        stay=stay,
        ask=ask.amount if ask else None,
        terms=terms,
        floor=floor,
        offers=offer_rows(stay, terms=terms, charges=charges, floor=floor, today=today),
        deal=deal,
        past_deals=tuple(row for row in deals if row is not deal),
        buyer=facts.buyer_money(deal),
        payments=payment_rows(stay),
        charges_unpaid=facts.charges_unpaid(stay, charges=charges),
        hold_is_over=stay.state == State.DEPOSIT
        and deal is not None
        and deal.hold_until is not None
        and deal.hold_until < today,
        interest=interest_in(stay),
        extras=tuple(facts.live_extras(deal)) if deal else (),
        concessions=tuple(Concession.objects.filter(deal=deal).order_by("pk")) if deal else (),
        owed_by_consignor=max(-balance_of_consignor(stay), money.ZERO),
        is_settled=facts.settlement_of(stay) is not None,
    )


def offer_rows(
    stay: Consignment, *, terms: Terms | None, charges: list[Charge], floor: Floor, today: date
) -> tuple[OfferRow, ...]:
    """Every offer, the latest first."""
    answers = Prefetch("answers", queryset=OfferAnswer.objects.order_by("pk"))
    return tuple(
        OfferRow(
            row=row,
            answers=tuple(row.answers.all()),
            net=net_at(row.amount, label="offer", terms=terms, charges=charges, on=today) if terms else None,
            below_floor=floor.price is not None and row.amount < floor.price,
        )
        for row in Offer.objects.filter(consignment=stay).prefetch_related(answers).order_by("-pk")
    )


def payment_rows(stay: Consignment) -> tuple[PaymentRow, ...]:
    rows = list(BuyerPayment.objects.filter(deal__consignment=stay).select_related("deal").order_by("pk"))
    return tuple(
        PaymentRow(row, row.deal, tuple(event for event in rows if event.of_id == row.pk))
        for row in rows
        if row.event == PaymentEvent.RECEIVED
    )


def open_deeds(desk: SaleDesk, *, by: Actor) -> tuple[str, ...]:
    """What this actor can do to this stay now, in the order of a sale."""
    return tuple(slug for slug, (act, is_open) in DEEDS_OPEN.items() if may(by, act) and is_open(desk))


def _to(state: State) -> Callable[[SaleDesk], bool]:
    return lambda desk: move_of(State(desk.stay.state), state) is not None


def _sold_and_cleared(desk: SaleDesk) -> bool:
    return desk.stay.state in {State.SOLD, State.SETTLED} and desk.buyer.in_full


def _still_open(desk: SaleDesk) -> bool:
    """What the buyer owes can still change."""
    return not desk.is_settled and desk.stay.released_on is None


DEEDS_OPEN: dict[str, tuple[Act, Callable[[SaleDesk], bool]]] = {
    "inquiry": (Act.LOG_INQUIRY, lambda desk: desk.stay.state in FOR_SALE),
    "showing": (Act.LOG_INQUIRY, lambda desk: desk.stay.state in FOR_SALE),
    "offer": (Act.LOG_OFFER, lambda desk: desk.stay.state in FOR_SALE),
    "answer": (Act.ANSWER_OFFER, lambda desk: desk.stay.state in FOR_SALE and bool(desk.offers)),
    "deposit": (Act.TAKE_DEPOSIT, _to(State.DEPOSIT)),
    "sold": (Act.MARK_SOLD, _to(State.SOLD)),
    "payment": (Act.RECORD_PAYMENT, lambda desk: desk.deal is not None and desk.to_come > money.ZERO),
    "payment-fate": (
        Act.CLEAR_PAYMENT,
        lambda desk: bool(desk.open_payments) and (not desk.is_settled or desk.buyer.too_much > money.ZERO),
    ),
    "extra": (Act.MARK_SOLD, lambda desk: desk.deal is not None and _still_open(desk)),
    "extra-aside": (Act.MARK_SOLD, lambda desk: bool(desk.extras) and _still_open(desk)),
    "concession": (Act.CONCEDE, lambda desk: desk.stay.state in {State.SOLD, State.SETTLED}),
    "trade": (
        Act.LOG_VEHICLE,
        lambda desk: (
            desk.stay.state in {State.SOLD, State.SETTLED}
            and desk.deal is not None
            and desk.deal.trade_allowance > money.ZERO
            and desk.deal.trade_stay_id is None
        ),
    ),
    "title-sent": (Act.RELEASE, lambda desk: _sold_and_cleared(desk) and desk.stay.title_sent_on is None),
    "charges-paid": (
        Act.RECORD_PAYMENT,
        lambda desk: (
            desk.stay.state in {State.WITHDRAWN, State.SETTLED, State.RELEASED} and desk.owed_by_consignor > money.ZERO
        ),
    ),
    "release": (
        Act.RELEASE,
        lambda desk: (
            (_to(State.RELEASED)(desk) and desk.charges_unpaid == money.ZERO)
            or (_sold_and_cleared(desk) and desk.stay.released_on is None)
        ),
    ),
    "fall-through": (Act.END_DEAL, lambda desk: desk.stay.state == State.DEPOSIT),
    "unwind": (
        Act.UNWIND,
        lambda desk: (
            desk.stay.state == State.SOLD and desk.stay.title_sent_on is None and desk.stay.released_on is None
        ),
    ),
    "withdraw": (Act.WITHDRAW, _to(State.WITHDRAWN)),
}
