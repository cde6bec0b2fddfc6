"""Offers in hand weighed against waiting, and what the consignor would be paid at the prices that matter."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused
from inventory.queries.ask_desk import Curve, Row
from inventory.queries.settlements import Net, net_at
from inventory.rules.ask_curve import counters_between
from inventory.rules.asking import Deal, OfferWeighed, weigh_offer


@dataclass(frozen=True, kw_only=True)
class InHand:
    """One offer against waiting; `question` says why it cannot be weighed."""

    label: str
    amount: Decimal
    weighed: OfferWeighed | None = None
    breaks_even: bool = True  # not where the consignor is left the same at every price
    question: str = ""


def offers_in_hand(curve: Curve) -> tuple[InHand, ...]:
    """Each offer without an answer, the latest first, and the one that is only supposed."""
    found = [(f"Offer of {offer.bidder}", offer.amount) for offer in curve.here.open_offers]
    if curve.view.offer is not None:
        found.insert(0, ("An offer, supposed", curve.view.offer))
    return tuple(_in_hand(amount, label=label, curve=curve) for label, amount in found)


def _in_hand(amount: Decimal, *, label: str, curve: Curve) -> InHand:
    waiting = curve.waiting
    if curve.deal is None:
        return InHand(label=label, amount=amount, question=curve.deal_question)
    if waiting is None or waiting.money is None:
        return InHand(label=label, amount=amount, question="There is no ask to wait at: set one, or see why none is "
                      "suggested.")  # fmt: skip
    try:
        weighed = _weighed(amount, waiting=waiting, deal=curve.deal, floor=curve.here.floor.price)
    except Refused as problem:
        return InHand(label=label, amount=amount, question=str(problem))
    return InHand(label=label, amount=amount, weighed=weighed, breaks_even=curve.deal.plan.guaranteed_net is None)


def _weighed(amount: Decimal, *, waiting: Row, deal: Deal, floor: Decimal | None) -> OfferWeighed | None:
    if waiting.money is None:
        return None
    return weigh_offer(
        amount, waiting=waiting.money, chance=waiting.end.likely, deal=deal, floor=floor,
        counters=counters_between(amount, ask=waiting.ask, floor=floor),
    )  # fmt: skip


def net_sheet(curve: Curve) -> tuple[Net, ...]:
    """What the consignor would be paid today at the prices that matter, as the settlement would say it."""
    here, moved = curve.here, curve.moved
    if here.terms is None:
        return ()
    prices = {
        "At the floor": here.floor.price, "Band now: low": moved.low, "Band now: likely": moved.likely,
        "Band now: high": moved.high, "At the ask": here.ask,
        "At the suggested ask": curve.suggestion.ask if curve.suggestion else None,
    }  # fmt: skip
    return tuple(
        net_at(price, label=label, terms=here.terms, charges=here.charges, on=here.today)
        for label, price in prices.items()
        if price is not None
    )
