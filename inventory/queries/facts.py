"""The facts that moves and money depend on, read fresh for one consignment."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q
from django.utils import timezone

from inventory.models import (
    AskChange,
    BuyerPayment,
    Charge,
    Consent,
    Consignment,
    ConsignorPayment,
    Deal,
    IntakeInspection,
    Lot,
    OfferAnswer,
    Settlement,
    Terms,
)
from inventory.queries.identity import identity_of
from inventory.rules import money, states, titles
from inventory.rules.roles import Actor, Role
from inventory.rules.states import Facts, State
from inventory.rules.terms import (
    ChargeLine,
    CommissionPlan,
    LienPayoff,
    Tier,
    price_for_net,
    settlement_lines,
)
from inventory.rules.terms import Statement as StatementOfMoney
from inventory.rules.words import Answer, BornBy, DealEnd, FloorKind, PaymentEvent, PlanKind


def the_lot() -> Lot:
    """The lot's settings; the defaults until somebody saved them."""
    return Lot.objects.filter(pk=1).first() or Lot(pk=1)


def terms_of(consignment: Consignment) -> Terms | None:
    return Terms.objects.filter(consignment=consignment).order_by("-number").first()


def plan_of(terms: Terms) -> CommissionPlan:
    return CommissionPlan(
        kind=PlanKind(terms.plan_kind),
        rate=terms.rate,
        minimum=terms.minimum,
        tiers=tuple(Tier(None if up is None else Decimal(up), Decimal(rate)) for up, rate in terms.tiers),
        flat=terms.flat,
        guaranteed_net=terms.guaranteed_net,
    )


def lien_of(terms: Terms) -> LienPayoff | None:
    if terms.lien_amount is None or terms.lien_quoted_on is None:
        return None
    return LienPayoff(
        holder=terms.lien_holder,
        amount=terms.lien_amount,
        quoted_on=terms.lien_quoted_on,
        good_until=terms.lien_good_until,
        per_day=terms.lien_per_day,
    )


def live_charges(consignment: Consignment) -> list[Charge]:
    """Charges that stand: neither set aside nor setting one aside."""
    rows = Charge.objects.filter(consignment=consignment, sets_aside__isnull=True)
    return list(rows.filter(set_aside_by__isnull=True).order_by("pk"))


def charge_lines(charges: list[Charge]) -> list[ChargeLine]:
    return [ChargeLine(label=charge.what, amount=charge.amount, borne_by=BornBy(charge.borne_by)) for charge in charges]


def statement_at(price: Decimal, *, terms: Terms, charges: list[Charge], on: date) -> StatementOfMoney:
    """What the consignor would be paid on a day for a sale at `price`, line by line."""
    return settlement_lines(price, plan=plan_of(terms), charges=charge_lines(charges), lien=lien_of(terms), on=on)


def floor_price(terms: Terms | None, *, charges: list[Charge], on: date) -> Decimal | None:
    """The floor as a sale price: a floor given as a net in hand goes through the terms."""
    if terms is None or terms.floor is None:
        return None
    if terms.floor_kind == FloorKind.PRICE:
        price: Decimal = terms.floor
        return price
    return price_for_net(terms.floor, plan=plan_of(terms), charges=charge_lines(charges), lien=lien_of(terms), on=on)


def current_ask(consignment: Consignment) -> AskChange | None:
    return AskChange.objects.filter(consignment=consignment).order_by("-pk").first()


def finished_inspection(consignment: Consignment) -> IntakeInspection | None:
    rows = IntakeInspection.objects.filter(consignment=consignment, finished_at__isnull=False)
    return rows.order_by("-number").first()


def open_inspection(consignment: Consignment) -> IntakeInspection | None:
    return IntakeInspection.objects.filter(consignment=consignment, finished_at__isnull=True).first()


def live_deal(consignment: Consignment) -> Deal | None:
    """The deal that is open, or that ended in the sale that stands."""
    return Deal.objects.filter(Q(end="") | Q(end=DealEnd.SOLD), consignment=consignment).first()


def settlement_of(consignment: Consignment) -> Settlement | None:
    return Settlement.objects.filter(consignment=consignment, followed_by__isnull=True).first()


@dataclass(frozen=True)
class BuyerMoney:
    owed: Decimal
    received: Decimal
    cleared: Decimal

    @property
    def in_full(self) -> bool:
        return self.cleared >= self.owed

    @property
    def open(self) -> Decimal:
        return self.owed - self.cleared


def buyer_money(deal: Deal | None) -> BuyerMoney:
    """What the buyer owes in money (price less trade allowance), what came in and what has cleared."""
    if deal is None:
        return BuyerMoney(money.ZERO, money.ZERO, money.ZERO)
    rows = list(BuyerPayment.objects.filter(deal=deal))
    fate: dict[int | None, set[str]] = {}
    for row in rows:
        fate.setdefault(row.of_id, set()).add(row.event)
    received, cleared = [], []
    for row in rows:
        if row.event != PaymentEvent.RECEIVED:
            continue
        events = fate.get(row.pk, set())
        if events & {PaymentEvent.BOUNCED, PaymentEvent.RETURNED}:
            continue
        received.append(row.amount)
        if PaymentEvent.CLEARED in events:
            cleared.append(row.amount)
    return BuyerMoney(deal.price - deal.trade_allowance, money.total(received), money.total(cleared))


def charges_unpaid(consignment: Consignment, *, charges: list[Charge]) -> Decimal:
    """Charges the consignor bears that no payment covers yet (they are paid by the settlement otherwise)."""
    borne = money.total(charge.amount for charge in charges if charge.borne_by == BornBy.CONSIGNOR)
    paid = money.total(ConsignorPayment.objects.filter(consignment=consignment).values_list("amount", flat=True))
    return max(borne - paid, money.ZERO)


def title_paper_seen(consignment: Consignment) -> bool:
    return titles.ownership_paper_seen(consignment.vehicle.title_papers.values_list("kind", "standing"))


def identity_question(consignment: Consignment) -> str:
    """What listing waits for; empty too when the owner has resolved it for the numbers as they stand."""
    return identity_of(consignment.vehicle).open


def facts_of(
    consignment: Consignment,
    *,
    today: date,
    by: Actor,
    to: State | None = None,
    sale_price: Decimal | None = None,
    consent_down_to: Decimal | None = None,
    signed_for_by: str = "",
) -> Facts:
    """Everything a move may depend on. Call it after the row is locked.

    A floor agreed as a net cannot be worked out on a lien quote that has run out. With `to` the floor is
    asked for only where that move depends on it, so that a vehicle can still be withdrawn or released.
    """
    terms = terms_of(consignment)
    charges = live_charges(consignment)
    ask = current_ask(consignment)
    deal = live_deal(consignment)
    return Facts(
        state=State(consignment.state),
        today=today,
        moved_by=consignment.state_by,
        moved_at=timezone.localtime(consignment.state_at).strftime("%Y-%m-%d %H:%M"),
        acts_as_owner=by.role == Role.OWNER,
        inspection_finished=finished_inspection(consignment) is not None,
        terms_signed=terms is not None and bool(terms.signed_by),
        agreement_ends_on=terms.ends_on if terms else None,
        floor=floor_price(terms, charges=charges, on=today) if _depends_on_floor(consignment, to=to) else None,
        ask=ask.amount if ask else None,
        title_paper_seen=title_paper_seen(consignment),
        identity_question=identity_question(consignment),
        sale_price=sale_price,
        accepted_offer=_accepted_offer(consignment),
        consent_down_to=_lowest(consent_down_to, _consented(consignment, terms=terms)),
        buyer_paid_in_full=deal is not None and buyer_money(deal).in_full,
        title_sent=consignment.title_sent_on is not None,
        released=consignment.released_on is not None,
        charges_unpaid=charges_unpaid(consignment, charges=charges),
        signed_for_by=signed_for_by,
    )


def _accepted_offer(consignment: Consignment) -> Decimal | None:
    """The highest offer whose last answer is *accepted*."""
    last: dict[int, OfferAnswer] = {
        answer.offer_id: answer
        for answer in OfferAnswer.objects.filter(offer__consignment=consignment).select_related("offer").order_by("pk")
    }
    return max((answer.offer.amount for answer in last.values() if answer.answer == Answer.ACCEPTED), default=None)


def _depends_on_floor(consignment: Consignment, *, to: State | None) -> bool:
    if to is None:
        return True
    move = states.move_of(State(consignment.state), to)
    return move is not None and not _FLOOR_NEEDS.isdisjoint(move.needs)


_FLOOR_NEEDS = frozenset({states.needs_ask_at_floor, states.needs_consent_below_floor})


def _consented(consignment: Consignment, *, terms: Terms | None) -> Decimal | None:
    """The last consent, unless terms were agreed after it: they set a floor of their own."""
    consents = Consent.objects.filter(consignment=consignment)
    if terms is not None:
        consents = consents.filter(at__gte=terms.at)
    consent = consents.order_by("-pk").first()
    return consent.down_to if consent else None


def _lowest(*amounts: Decimal | None) -> Decimal | None:
    return min((amount for amount in amounts if amount is not None), default=None)
