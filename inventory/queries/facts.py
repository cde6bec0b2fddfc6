"""The facts that moves and money depend on, read fresh for one consignment."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q
from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import (
    AskChange,
    BuyerPayment,
    Charge,
    Concession,
    Consent,
    ConsentAnswer,
    ConsentRequest,
    Consignment,
    ConsignorPayment,
    Deal,
    DealExtra,
    IntakeInspection,
    LienQuote,
    Lot,
    OfferAnswer,
    Settlement,
    Terms,
)
from inventory.queries.identity import identity_of
from inventory.queries.titles import papers_seen
from inventory.rules import money, states, titles
from inventory.rules.agreement import Beside, ChargeRule, Share, StepDown
from inventory.rules.roles import Actor, Role
from inventory.rules.states import Facts, State
from inventory.rules.terms import (
    Amount,
    ChargeLine,
    CommissionPlan,
    LienPayoff,
    Sale,
    Tier,
    over_allowance,
    price_for_net,
    settlement_lines,
)
from inventory.rules.terms import Statement as StatementOfMoney
from inventory.rules.words import (
    Answer,
    BornBy,
    ChargeKind,
    CommissionBase,
    ConsentKind,
    ConsentResult,
    DealEnd,
    FloorKind,
    PaymentEvent,
    PlanKind,
)


def the_lot() -> Lot:
    """The lot's settings; the defaults until somebody saved them."""
    return Lot.objects.filter(pk=1).first() or Lot(pk=1)


def terms_of(consignment: Consignment) -> Terms | None:
    """The terms in effect: the latest version that both sides accepted; until there is one, the latest as drawn up."""
    return Terms.objects.filter(consignment=consignment).ranked().first()


def is_accepted(terms: Terms) -> bool:
    """Whether both sides accepted this version."""
    if terms.signed_by:
        return True
    return ConsentAnswer.objects.filter(request__terms=terms, result=ConsentResult.AGREED).exists()


def beside(terms: Terms) -> Beside:
    """All of the terms that is not commission, floor or lien, as the rules read it."""
    return Beside(
        step_downs=tuple(StepDown(int(days), Decimal(ask)) for days, ask in terms.step_downs),
        charge_rules=tuple(
            ChargeRule(ChargeKind(kind), BornBy(borne_by), None if cap is None else Decimal(cap))
            for kind, borne_by, cap in terms.charge_rules
        ),
        payees=tuple(Share(name, Decimal(percent)) for name, percent in terms.payees),
        consent_below=terms.consent_below,
        convey_from=terms.convey_from,
        storage_per_day=terms.storage_per_day,
        storage_free_days=terms.storage_free_days,
        withdrawal_fee=terms.withdrawal_fee,
        forfeit_percent=terms.forfeit_percent,
        protection_days=terms.protection_days,
        renewal_days=terms.renewal_days,
    )


def plan_of(terms: Terms) -> CommissionPlan:
    return CommissionPlan(
        kind=PlanKind(terms.plan_kind),
        rate=terms.rate,
        minimum=terms.minimum,
        maximum=terms.maximum,
        tiers=tuple(Tier(None if up is None else Decimal(up), Decimal(rate)) for up, rate in terms.tiers),
        flat=terms.flat,
        guaranteed_net=terms.guaranteed_net,
        base=CommissionBase(terms.commission_base),
    )


def lien_of(terms: Terms) -> LienPayoff | None:
    """What is owed to a lender: the latest quote, else what the terms say. A quote of nothing ends it."""
    return lien_in_terms(terms) if terms.last_quote is None else _quoted(terms.last_quote)


def lien_in_terms(terms: Terms) -> LienPayoff | None:
    """What this version says is owed, whatever was quoted since."""
    if terms.lien_amount is None or terms.lien_quoted_on is None:
        return None
    return LienPayoff(
        holder=terms.lien_holder,
        amount=terms.lien_amount,
        quoted_on=terms.lien_quoted_on,
        good_until=terms.lien_good_until,
        per_day=terms.lien_per_day,
    )


def _quoted(quote: LienQuote) -> LienPayoff | None:
    if not quote.amount:
        return None
    return LienPayoff(
        holder=quote.holder, amount=quote.amount, quoted_on=quote.quoted_on, good_until=quote.good_until,
        per_day=quote.per_day,
    )  # fmt: skip


def live_charges(consignment: Consignment) -> list[Charge]:
    """Charges that stand: neither set aside nor setting one aside."""
    rows = Charge.objects.filter(consignment=consignment, sets_aside__isnull=True)
    return list(rows.filter(set_aside_by__isnull=True).order_by("pk"))


def charge_lines(charges: list[Charge]) -> list[ChargeLine]:
    return [
        ChargeLine(
            label=charge.what, amount=charge.amount, borne_by=BornBy(charge.borne_by), vendor=charge.vendor
        )
        for charge in charges
    ]  # fmt: skip


def statement_at(price: Decimal | Sale, *, terms: Terms, charges: list[Charge], on: date) -> StatementOfMoney:
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


def deal_of(consignment: Consignment) -> Deal:
    """The deal that stands, or NotFound."""
    deal = live_deal(consignment)
    if deal is None:
        raise NotFound("no_deal", f"There is no deal on {consignment.stock_number}.", field="deal")
    return deal


def settlement_of(consignment: Consignment) -> Settlement | None:
    """The statement that stands; none while the last one was taken back."""
    return Settlement.objects.filter(consignment=consignment, followed_by__isnull=True, is_reversal=False).first()


def last_statement(consignment: Consignment) -> Settlement | None:
    """The end of the chain of statements, a reversal or not."""
    return Settlement.objects.filter(consignment=consignment, followed_by__isnull=True).first()


def forfeits_of(consignment: Consignment) -> tuple[Amount, ...]:
    """The consignor's share of each deposit that was kept when a deal fell through."""
    deals = Deal.objects.filter(consignment=consignment, forfeited_to_consignor__gt=0).order_by("pk")
    return tuple(
        Amount(f"Share of a deposit forfeited on {deal.ended_on}", deal.forfeited_to_consignor) for deal in deals
    )


def sale_of(consignment: Consignment, *, deal: Deal) -> Sale:
    """A sale with all that bears on the statement beside its price."""
    later = list(Concession.objects.filter(deal=deal).order_by("pk"))
    over = over_allowance(deal.trade_allowance, value=deal.trade_value)
    return Sale(
        price=deal.price,
        lowered_by=money.total([deal.concessions, over, *(row.amount for row in later)]),
        borne_by_consignor=tuple(
            Amount(f"Money off after the sale: {row.reason}", row.amount)
            for row in later
            if row.borne_by == BornBy.CONSIGNOR
        ),
        forfeits=forfeits_of(consignment),
    )


@dataclass(frozen=True)
class BuyerMoney:
    owed: Decimal
    received: Decimal
    cleared: Decimal
    extras: Decimal = money.ZERO  # of what is owed: taxes and fees beside the price

    @property
    def in_full(self) -> bool:
        return self.cleared >= self.owed

    @property
    def open(self) -> Decimal:
        return self.owed - self.cleared

    @property
    def too_much(self) -> Decimal:
        """What has cleared beyond what is owed: to be returned to the buyer."""
        return max(self.cleared - self.owed, money.ZERO)


def live_extras(deal: Deal) -> list[DealExtra]:
    """Taxes and fees that stand: neither set aside nor setting one aside."""
    rows = DealExtra.objects.filter(deal=deal, sets_aside__isnull=True, set_aside_by__isnull=True)
    return list(rows.order_by("pk"))


def buyer_money(deal: Deal | None) -> BuyerMoney:
    """What the buyer owes in money, what came in and what has cleared, less what went back.

    Owed is the price less trade allowance and money off after the sale, and the taxes and fees beside it.
    """
    if deal is None:
        return BuyerMoney(money.ZERO, money.ZERO, money.ZERO)
    off = money.total(Concession.objects.filter(deal=deal).values_list("amount", flat=True))
    extras = money.total(row.amount for row in live_extras(deal))
    received, cleared = money_in(list(BuyerPayment.objects.filter(deal=deal)))
    return BuyerMoney(deal.price - deal.trade_allowance - off + extras, received, cleared, extras)


def money_in(rows: Sequence[BuyerPayment]) -> tuple[Decimal, Decimal]:
    """Of a buyer's payments: what came in and did not bounce, and what of that has cleared, less what was returned."""
    fate: dict[int | None, dict[str, Decimal]] = {}
    for row in rows:
        fate.setdefault(row.of_id, {})[row.event] = row.amount
    received, cleared = [], []
    for row in rows:
        events = fate.get(row.pk, {})
        if row.event != PaymentEvent.RECEIVED or PaymentEvent.BOUNCED in events:
            continue
        left = row.amount - events.get(PaymentEvent.RETURNED, money.ZERO)
        received.append(left)
        if PaymentEvent.CLEARED in events:
            cleared.append(left)
    return money.total(received), money.total(cleared)


def cleared_in_full_on(consignment: Consignment) -> date | None:
    """The day on which the last of the buyer's money cleared; None while some is open."""
    deal = live_deal(consignment)
    if deal is None or not buyer_money(deal).in_full:
        return None
    cleared = BuyerPayment.objects.filter(deal=deal, event=PaymentEvent.CLEARED)
    return max(cleared.values_list("on", flat=True), default=deal.ended_on)


def charges_unpaid(consignment: Consignment, *, charges: list[Charge]) -> Decimal:
    """Charges the consignor bears that no payment covers yet (they are paid by the settlement otherwise).

    A share of a forfeited deposit that the lot still holds for them covers charges like a payment does.
    """
    borne = money.total(charge.amount for charge in charges if charge.borne_by == BornBy.CONSIGNOR)
    paid = money.total(ConsignorPayment.objects.filter(consignment=consignment).values_list("amount", flat=True))
    held = money.total(item.amount for item in forfeits_of(consignment))
    return max(borne - paid - held, money.ZERO)


def title_paper_seen(consignment: Consignment) -> bool:
    return titles.ownership_paper_seen(consignment.vehicle.title_papers.values_list("kind", "standing"))


def identity_question(consignment: Consignment) -> str:
    """What listing waits for; empty too when the owner has resolved it for the numbers as they stand."""
    return identity_of(consignment.vehicle).open


def papers_question(consignment: Consignment, *, terms: Terms | None) -> str:
    """What is open about the names and numbers on the papers of this stay."""
    signed_by = terms.signed_by if terms else ""
    papers = papers_seen(consignment)
    return titles.names_question(papers, consignor=consignment.consignor.name, signed_by=signed_by)


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
        is_own=consignment.consignor.is_lot,
        inspection_finished=finished_inspection(consignment) is not None,
        terms_signed=terms is not None and is_accepted(terms),
        agreement_ends_on=terms.ends_on if terms else None,
        floor=floor_price(terms, charges=charges, on=today) if _depends_on_floor(consignment, to=to) else None,
        ask=ask.amount if ask else None,
        title_paper_seen=title_paper_seen(consignment),
        identity_question=identity_question(consignment),
        papers_question=papers_question(consignment, terms=terms),
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
    if consignment.consignor.is_lot:
        return False  # whatever was agreed before it was the lot's
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


def ask_consented(consignment: Consignment, *, terms: Terms) -> Decimal | None:
    """The lowest ask the consignor agreed to under these terms."""
    agreed = ConsentRequest.objects.filter(
        consignment=consignment, kind=ConsentKind.ASK, answer__result=ConsentResult.AGREED, at__gte=terms.at
    )
    return _lowest(*agreed.values_list("amount", flat=True))


def _lowest(*amounts: Decimal | None) -> Decimal | None:
    return min((amount for amount in amounts if amount is not None), default=None)
