"""The states of a consignment and the one table of moves between them.

`check` says whether a move may be made, from plain facts; `actions/moving.py` makes it. Nothing else
changes a state.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import TextChoices

from inventory.errors import Refused
from inventory.rules.money import show
from inventory.rules.roles import Act


class State(TextChoices):
    BOOKED = "booked", "booked"
    ON_LOT = "on_lot", "on the lot"
    INSPECTED = "inspected", "inspected"
    LISTED = "listed", "listed"
    DEPOSIT = "deposit", "deposit taken"
    SOLD = "sold", "sold"
    SETTLED = "settled", "settled"
    WITHDRAWN = "withdrawn", "withdrawn"
    RELEASED = "released", "released"


BEFORE_SOLD = (State.BOOKED, State.ON_LOT, State.INSPECTED, State.LISTED, State.DEPOSIT)
FOR_SALE = (State.LISTED, State.DEPOSIT)


@dataclass(frozen=True)
class Facts:
    """What a move may depend on, as plain values. `None` and `False` mean: not so, or not known."""

    state: State
    today: date
    moved_by: str = ""
    moved_at: str = ""
    acts_as_owner: bool = False
    is_own: bool = False  # the lot's own: it agrees with nobody what it may sell it for
    inspection_finished: bool = False
    terms_signed: bool = False
    agreement_ends_on: date | None = None
    floor: Decimal | None = None
    ask: Decimal | None = None
    title_paper_seen: bool = False
    identity_question: str = "No identity number has been seen."
    papers_question: str = ""
    sale_price: Decimal | None = None
    accepted_offer: Decimal | None = None
    consent_down_to: Decimal | None = None
    buyer_paid_in_full: bool = False
    title_sent: bool = False
    released: bool = False
    charges_unpaid: Decimal = Decimal("0.00")
    signed_for_by: str = ""


Need = Callable[[Facts], Refused | None]


def needs_inspection(facts: Facts) -> Refused | None:
    if facts.inspection_finished:
        return None
    return Refused("inspection_open", "The inspection is not finished.", field="inspection", mend="Finish it first.")


def needs_signed_terms(facts: Facts) -> Refused | None:
    if facts.terms_signed or facts.is_own:
        return None
    return Refused(
        "terms_unsigned",
        "The consignment agreement is not signed.",
        field="terms",
        mend="Record terms and who signed them.",
    )


def needs_live_agreement(facts: Facts) -> Refused | None:
    if facts.is_own or (facts.agreement_ends_on is not None and facts.agreement_ends_on >= facts.today):
        return None
    return Refused(
        "agreement_ended",
        f"The consignment agreement ended on {facts.agreement_ends_on}.",
        field="terms",
        got=facts.agreement_ends_on,
        mend="Agree new terms with the consignor.",
    )


def needs_ask_at_floor(facts: Facts) -> Refused | None:
    if facts.ask is None:
        return Refused("no_ask", "No ask has been set.", field="ask", mend="Set the ask first.")
    if facts.floor is not None and facts.ask < facts.floor:
        return Refused(
            "ask_below_floor",
            f"The ask {show(facts.ask)} is below the floor {show(facts.floor)}.",
            field="ask",
            got=facts.ask,
            mend="Set an ask at or above the floor, or agree a lower floor with the consignor.",
        )
    return None


def needs_title_paper(facts: Facts) -> Refused | None:
    if facts.title_paper_seen:
        return None
    return Refused(
        "title_not_seen",
        "No title paper has been seen.",
        field="title",
        mend="Record the title or the paper that stands for it. Check local law.",
    )


def needs_agreeing_identity(facts: Facts) -> Refused | None:
    if not facts.identity_question:
        return None
    return Refused(
        "identity_open",
        facts.identity_question,
        field="identity",
        mend="Record each number as read off the vehicle and off the title. If they differ, the owner resolves it "
        "in the file.",
    )


def needs_agreeing_papers(facts: Facts) -> Refused | None:
    """Nothing is listed on papers that disagree with each other, with the consignor or with who signed."""
    if not facts.papers_question:
        return None
    return Refused(
        "papers_disagree",
        facts.papers_question,
        field="title",
        mend="Record the paper as it reads, who may sign and by what right, or have those named on it sign the "
        "terms. Check local law.",
    )


def needs_agreed_price(facts: Facts) -> Refused | None:
    """At the ask a sale needs no decision; below it the owner decides, or has accepted an offer."""
    price = facts.sale_price
    if price is None:
        return Refused("no_price", "The price is missing.", field="price", mend="Give the price agreed.")
    at_ask = facts.ask is not None and price >= facts.ask
    accepted = facts.accepted_offer is not None and price >= facts.accepted_offer
    if at_ask or accepted or facts.acts_as_owner:
        return None
    return Refused(
        "price_not_agreed",
        f"{show(price)} is below the ask"
        + (f" {show(facts.ask)}" if facts.ask is not None else "")
        + " and no offer at this price has been accepted.",
        field="price",
        got=price,
        mend="Log the offer and have the owner accept it.",
    )


def needs_consent_below_floor(facts: Facts) -> Refused | None:
    price, floor = facts.sale_price, facts.floor
    if price is None or floor is None or price >= floor:
        return None
    if facts.consent_down_to is not None and price >= facts.consent_down_to:
        return None
    return Refused(
        "below_floor",
        f"{show(price)} is below the floor {show(floor)} that the consignor agreed to.",
        field="price",
        got=price,
        mend="Record the consignor's consent: who gave it, how, and why.",
    )


def needs_cleared_money(facts: Facts) -> Refused | None:
    if facts.buyer_paid_in_full:
        return None
    return Refused(
        "money_not_cleared",
        "The buyer's money has not cleared in full.",
        field="payments",
        mend="Record the payments and wait until they have cleared.",
    )


def needs_nothing_left(facts: Facts) -> Refused | None:
    gone = "the title was sent" if facts.title_sent else "the vehicle was released" if facts.released else ""
    if not gone:
        return None
    return Refused(
        "too_late_to_unwind",
        f"The sale cannot be unwound: {gone}.",
        field="state",
        mend="Take the vehicle back as a new consignment.",
    )


def needs_charges_paid(facts: Facts) -> Refused | None:
    if facts.charges_unpaid == 0:
        return None
    return Refused(
        "charges_unpaid",
        f"Charges of {show(facts.charges_unpaid)} are not paid.",
        field="charges",
        got=facts.charges_unpaid,
        mend="Record the consignor's payment first.",
    )


def needs_signature(facts: Facts) -> Refused | None:
    if facts.signed_for_by.strip():
        return None
    return Refused(
        "not_signed_for",
        "Nobody has signed for the vehicle.",
        field="signed_for_by",
        mend="Give the name of whoever takes it away.",
    )


@dataclass(frozen=True)
class Move:
    act: Act
    needs: tuple[Need, ...] = ()
    reason: bool = False  # the move must say why


_LISTING = (
    needs_signed_terms,
    needs_live_agreement,
    needs_ask_at_floor,
    needs_title_paper,
    needs_agreeing_identity,
    needs_agreeing_papers,
)
_SELLING = (needs_agreed_price, needs_consent_below_floor)

MOVES: dict[tuple[State, State], Move] = {
    (State.BOOKED, State.ON_LOT): Move(Act.LOG_VEHICLE),
    (State.ON_LOT, State.INSPECTED): Move(Act.INSPECT, (needs_inspection,)),
    (State.INSPECTED, State.LISTED): Move(Act.LIST, _LISTING),
    (State.LISTED, State.DEPOSIT): Move(Act.TAKE_DEPOSIT, _SELLING),
    (State.DEPOSIT, State.LISTED): Move(Act.END_DEAL, reason=True),
    (State.LISTED, State.SOLD): Move(Act.MARK_SOLD, _SELLING),
    (State.DEPOSIT, State.SOLD): Move(Act.MARK_SOLD, _SELLING),
    (State.SOLD, State.SETTLED): Move(Act.APPROVE_SETTLEMENT, (needs_cleared_money,)),
    (State.SOLD, State.LISTED): Move(Act.UNWIND, (needs_nothing_left, needs_live_agreement), reason=True),
    **{(state, State.WITHDRAWN): Move(Act.WITHDRAW, reason=True) for state in BEFORE_SOLD},
    (State.WITHDRAWN, State.RELEASED): Move(Act.RELEASE, (needs_charges_paid, needs_signature)),
}


def next_states(state: State) -> list[State]:
    return [to for (was, to) in MOVES if was == state]


def move_of(was: State, to: State) -> Move | None:
    return MOVES.get((was, to))


def check(facts: Facts, *, to: State, reason: str = "") -> Move:
    """Return the move of the table, or raise `Refused` with the first thing that is missing."""
    move = move_of(facts.state, to)
    if move is None:
        raise _no_such_move(facts, to)
    if move.reason and not reason.strip():
        raise Refused("reason_missing", "The reason is missing.", field="reason", mend="Say why.")
    for need in move.needs:
        refusal = need(facts)
        if refusal is not None:
            raise refusal
    return move


def _no_such_move(facts: Facts, to: State) -> Refused:
    since = f" (by {facts.moved_by}, {facts.moved_at})" if facts.moved_by else ""
    ways = ", ".join(state.label for state in next_states(facts.state)) or "nothing further"
    return Refused(
        "no_such_move",
        f"A consignment that is {facts.state.label}{since} cannot become {to.label}.",
        field="state",
        got=facts.state.value,
        mend=f"From here it can become: {ways}.",
    )
