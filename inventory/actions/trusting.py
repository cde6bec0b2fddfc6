"""The trust account: money between it and the lot's own, taxes passed on, and what the bank says."""

import uuid
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.actions import logbook, owning
from inventory.actions.writing import add, again, locked, trade_day
from inventory.errors import Refused
from inventory.models import BankBalance, TrustMovement
from inventory.queries.trust import ledger_of
from inventory.rules import money
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.trust import Account
from inventory.rules.words import TrustKind


@transaction.atomic
def move_money(
    consignment_id: int, *, kind: str, amount: Decimal, method: str, reference: str = "", note: str = "",
    on: date | None = None, client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> TrustMovement:  # fmt: skip
    """Record money that went between the trust account and the lot, or taxes that were passed on.

    The lot takes no more than it has earned of this consignment, and never money that is not there.
    """
    require(by, Act.MOVE_TRUST)
    stay = locked(consignment_id)
    if (known := again(TrustMovement, client_key=client_key)) is not None:
        return known
    if kind not in TrustKind.values:
        raise Refused("kind_unknown", f"“{kind}” is no way that money goes.", field="kind", got=kind,
                      mend=f"Give one of {', '.join(TrustKind.labels)}.")  # fmt: skip
    owning.refuse_own(stay, what="its money is not in the trust account")
    money.check_amount(amount, field="amount", minimum=money.CENT)
    standing = ledger_of(stay).standing
    _refuse_beyond(amount, may_go=_may_go(standing, kind=TrustKind(kind)), kind=TrustKind(kind))
    today = trade_day(at)
    row = add(
        TrustMovement(
            consignment=stay, kind=kind, amount=amount, method=method, reference=reference.strip(), note=note.strip(),
            on=check_not_future(on or today, today=today, field="on"), client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "trust.moved", row, by=by, at=at, consignment=stay, amount=row.amount, kind=row.get_kind_display(),
        because=logbook.because(row.note),
    )  # fmt: skip
    return row


def _may_go(standing: dict[Account, Decimal], *, kind: TrustKind) -> Decimal:
    if kind is TrustKind.FROM_LOT:
        return max(standing[Account.LOT], money.ZERO)
    account = Account.LOT if kind is TrustKind.TO_LOT else Account.TAXES
    return max(min(-standing[account], standing[Account.BANK]), money.ZERO)


def _refuse_beyond(amount: Decimal, *, may_go: Decimal, kind: TrustKind) -> None:
    if amount <= may_go:
        return
    why = {
        TrustKind.TO_LOT: "the lot has earned of this consignment and the account holds",
        TrustKind.FROM_LOT: "the lot has to pay in for this consignment",
        TrustKind.TO_AUTHORITY: "is held for authorities in this consignment",
    }
    raise Refused(
        "more_than_there", f"{money.show(amount)} is more than the {money.show(may_go)} that {why[kind]}.",
        field="amount", got=str(amount), mend="Look at the consignment's ledger.",
    )  # fmt: skip


@transaction.atomic
def enter_balance(*, amount: Decimal, on: date | None = None, note: str = "", by: Actor, at: datetime) -> BankBalance:
    """What the bank says stands in the trust account at the end of a day."""
    require(by, Act.MOVE_TRUST)
    today = trade_day(at)
    row = add(
        BankBalance(
            amount=money.check_amount(amount, field="amount", minimum=-money.MAX_MONEY),
            on=check_not_future(on or today, today=today, field="on"), note=note.strip(), by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("trust.balance", row, by=by, at=at, amount=row.amount, on=row.on)
    return row
