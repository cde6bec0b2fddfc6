"""The consignor's side of the demo lot: fuller terms, open questions, a forfeited deposit, descriptions."""

from contextlib import suppress
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from inventory.actions import (
    agreeing,
    consenting,
    describing,
    linking,
    offering,
    paying,
    questioning,
    selling,
    trusting,
)
from inventory.actions.consenting import Question
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import Consignment
from inventory.queries import trust
from inventory.rules.money import round_money
from inventory.rules.roles import Actor, command
from inventory.rules.states import State
from inventory.rules.trust import Account
from inventory.rules.words import ListingTone

BY = command("demo")


def beside(*, place: int, price: Decimal, consignor: str) -> dict[str, Any]:
    """What an agreement of the demo says beside its commission; every third is short."""
    if place % 3 == 2:
        return {}
    return {
        "charge_rules": (("repair", "consignor", Decimal(500)), ("photography", "lot", None)),
        "step_downs": ((60, _share(price, "0.95")), (120, _share(price, "0.90"))),
        "forfeit_percent": Decimal(60), "storage_per_day": Decimal(12), "storage_free_days": 14,
        "withdrawal_fee": Decimal(250) if place % 2 else None, "protection_days": 60, "renewal_days": 90,
        "insurance": "The lot insures it against fire and theft on its premises; the consignor insures it otherwise.",
        "payees": ((consignor, Decimal(50)), ("Joss Ferrand", Decimal(50))) if place == _TWO_OWNERS else (),
    }  # fmt: skip


_TWO_OWNERS = 18


def _share(price: Decimal, share: str) -> Decimal:
    return round_money((price * Decimal(share) / 100).to_integral_value() * 100)


def load(*, at: datetime) -> None:
    """What happened between lot and consignors in the last days."""
    listed = list(Consignment.objects.filter(state=State.LISTED).order_by("pk"))
    _publish(listed, at=at)
    if len(listed) < 4:
        return
    _ask(listed[0], kind="floor", share="0.78", at=at - timedelta(days=4), agreed=None)
    _ask(listed[1], kind="charge", share="", at=at - timedelta(days=6), agreed=True)
    _ask(listed[2], kind="ask", share="0.93", at=at - timedelta(days=9), agreed=False)
    _propose(listed[3], at=at - timedelta(days=1))
    _wonder(listed[0], at=at - timedelta(days=2))
    _forfeit(listed[1], at=at - timedelta(days=12))
    for stay in Consignment.objects.filter(state=State.SETTLED):
        _take_commission(stay, at=at)


def _publish(listed: list[Consignment], *, at: datetime) -> None:
    """As the record writes it; one that is questioned stays a draft."""
    for stay in listed:
        row = describing.write_listing(stay.pk, tone=ListingTone.TELLING, by=BY, at=at)
        with suppress(Refused):
            describing.publish(stay.pk, after=row.number, by=BY, at=at)


def _ask(stay: Consignment, *, kind: str, share: str, at: datetime, agreed: bool | None) -> None:
    ask = stay.asks.order_by("-pk")[0].amount
    question = Question(kind=kind, amount=_share(ask, share)) if share else Question(
        kind="charge", amount=Decimal("640.00"), charge_kind="repair", what="new brake hoses, all four",
    )  # fmt: skip
    asked = consenting.ask_consent(stay.pk, question=question, by=BY, at=at)
    if agreed is not None:
        consenting.record_answer(
            asked.pk, agreed=agreed, given_by=stay.consignor.name, how="by phone", by=BY, at=at + timedelta(days=1)
        )


def _propose(stay: Consignment, *, at: datetime) -> None:
    """New terms that wait: a longer run at a lower commission."""
    terms = agreeing.NewTerms(
        plan_kind="percent", rate=Decimal(8), floor=stay.terms.order_by("-number")[0].floor, starts_on=trade_day(at),
        ends_on=trade_day(at) + timedelta(days=180), convey_from=Decimal(5000),
    )  # fmt: skip
    agreeing.agree_terms(stay.pk, terms=terms, by=BY, at=at)
    consenting.ask_consent(
        stay.pk, question=Question(kind="terms", answer_by=trade_day(at) + timedelta(days=10)), by=BY, at=at
    )


def _wonder(stay: Consignment, *, at: datetime) -> None:
    link, _ = linking.make_link(stay.pk, by=BY, at=at)
    who: Actor = linking.actor_of(link)
    first = questioning.ask_question(text="Has anybody driven it since it came?", link=link, by=who, at=at)
    answer = "No. It is started once a week and stands under a cover."
    questioning.answer_question(first.pk, text=answer, by=BY, at=at + timedelta(hours=3))
    questioning.ask_question(text="Could it stand nearer the road?", link=link, by=who, at=at + timedelta(days=1))


def _forfeit(stay: Consignment, *, at: datetime) -> None:
    """A buyer who never came back, and an offer with a condition since."""
    price = stay.asks.order_by("-pk")[0].amount
    deal = selling.take_deposit(
        stay.pk, bargain=Bargain(price=price, buyer="Corin Leath", address="4 Sluice Road, Invented Falls"),
        deposit=Payment(amount=Decimal("750.00"), method="card", reference="C-2207"), refundable=False,
        hold_until=trade_day(at) + timedelta(days=5), by=BY, at=at,
    )  # fmt: skip
    paying.settle_payment(deal.payments.get().pk, event="cleared", by=BY, at=at + timedelta(days=1))
    selling.end_deal(
        stay.pk, reason="the buyer did not come back", deposit_fate="kept", by=BY, at=at + timedelta(days=6)
    )
    offering.log_offer(
        stay.pk, amount=_share(price, "0.90"), bidder="Ansel Brook", conditions="if his own inspector finds no rust",
        expires_on=trade_day(at) + timedelta(days=16), by=BY, at=at + timedelta(days=8),
    )  # fmt: skip


def _take_commission(stay: Consignment, *, at: datetime) -> None:
    """What the lot has earned goes to its own account, so that the older sales stand closed."""
    earned = -trust.ledger_of(stay).standing[Account.LOT]
    if earned > 0:
        trusting.move_money(stay.pk, kind="to_lot", amount=earned, method="wire", by=BY, at=at)
