"""What the paper of one settlement statement says: of each in the chain, as it was approved."""

from collections.abc import Sequence

from django.db.models import QuerySet

from inventory.errors import NotFound
from inventory.models import Consignment, Disbursement, Settlement
from inventory.papers.statement import StatementPaper
from inventory.queries import facts, paper_facts
from inventory.queries.settlements import PayeeLeft, payees_of
from inventory.rules import money, paper_words
from inventory.rules.words import Payee, Result


def settlement_by_id(stay: Consignment, *, statement_id: int) -> Settlement:
    row = _rows().filter(consignment=stay, pk=statement_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such statement.", field="statement", got=statement_id)
    return row


def statement_by_number(stay: Consignment, *, number: str) -> Settlement:
    row = _rows().filter(consignment=stay, number=number).first()
    if row is None:
        raise NotFound("not_found", f"There is no statement {number}.", field="number", got=number)
    return row


def _rows() -> QuerySet[Settlement]:
    return Settlement.objects.select_related(
        "consignment__vehicle", "consignment__consignor", "outcome", "follows", "terms"
    )


def statement_paper(settlement: Settlement) -> StatementPaper:
    """All from the record: the same statement says the same, but for payments made and what became of it since."""
    after = Settlement.objects.filter(follows=settlement).first()
    payees = () if settlement.is_reversal else payees_of(settlement)
    return StatementPaper(
        **paper_facts.lot_head(facts.the_lot()), number=settlement.number,
        made=f"Approved {settlement.on} by {settlement.by}", marks=_marks(settlement, after=after),
        facts=_facts(settlement), lines=_lines(settlement),
        payees=[(f"{row.name} ({row.label})", money.show(row.owed)) for row in payees],
        payments=_payments(settlement), left=_left(payees, after=after), notes=[paper_words.BUYERS_SIDE],
    )  # fmt: skip


def _marks(settlement: Settlement, *, after: Settlement | None) -> list[str]:
    marks = []
    if settlement.is_reversal and settlement.follows is not None:
        marks.append(f"REVERSAL: it takes back {settlement.follows.number}. Reason: {settlement.reason}")
    elif settlement.follows is not None:
        marks.append(f"It follows {settlement.follows.number}, which took back the statement before it.")
    if after is not None and after.is_reversal:
        marks.append(f"TAKEN BACK by {after.number} on {after.on}. Reason: {after.reason}")
    elif after is not None:
        marks.append(f"Followed by {after.number} of {after.on}.")
    return marks


def _facts(settlement: Settlement) -> list[tuple[str, str]]:
    stay, outcome = settlement.consignment, settlement.outcome
    sold = outcome.result == Result.SOLD and outcome.price is not None
    price = money.show(outcome.price) if outcome.price is not None else ""
    ended = [("Sold on", str(outcome.ended_on)), ("Price", price)]
    pay_on = [("Worked out for", str(settlement.pay_on))] if settlement.pay_on else []
    return [
        ("Consignor", _consignor_then(settlement)),
        *([("Address", stay.consignor.address)] if stay.consignor.address.strip() else []),
        ("Vehicle", str(stay.vehicle)),
        ("VIN or serial", stay.vehicle.serial or "none seen"),
        ("Stock number", stay.stock_number),
        *(ended if sold else [("Taken back on", str(outcome.ended_on))]),
        ("Terms", f"version {settlement.terms.number} of {settlement.terms.starts_on}"),
        *pay_on,
        ("To be paid by", str(settlement.pay_by)),
    ]


def _consignor_then(settlement: Settlement) -> str:
    """The name it was made with: it was paid to that name, whatever row the person goes on under since."""
    stated = settlement.follows if settlement.is_reversal and settlement.follows else settlement
    paid = [] if settlement.terms.payees else list(stated.payees.filter(kind=Payee.CONSIGNOR))
    return paid[0].name if len(paid) == 1 else settlement.consignment.consignor.name


def _lines(settlement: Settlement) -> list[tuple[str, str]]:
    rows = [(row.label, money.show(row.amount)) for row in settlement.lines.order_by("position")]
    return [*rows, paper_words.due_told(settlement.due, is_reversal=settlement.is_reversal)]


def _payments(settlement: Settlement) -> list[tuple[str, str, str, str]]:
    """Those under this statement, and those under the ones before it, which count towards it."""
    rows = Disbursement.objects.filter(
        settlement__consignment=settlement.consignment_id, settlement__lte=settlement.pk
    ).select_related("settlement")  # fmt: skip
    return [
        (
            f"{row.on}, {row.payee}{_under(row, settlement=settlement)}", str(row.get_method_display()),
            row.reference or "none", money.show(row.amount),
        )
        for row in rows.order_by("pk")
    ]  # fmt: skip


def _under(row: Disbursement, *, settlement: Settlement) -> str:
    return "" if row.settlement_id == settlement.pk else f", under {row.settlement.number}"


def _left(payees: Sequence[PayeeLeft], *, after: Settlement | None) -> str:
    """What is still to pay on a statement that stands."""
    left = [f"{row.name} {money.show(row.left)}" for row in payees if row.left > 0]
    if after is not None or not payees:
        return ""
    return f"Still to be paid: {'; '.join(left)}." if left else "Everything is paid."
