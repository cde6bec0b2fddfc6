"""kill -9 of the server while people sell, take deposits, take payments, approve settlements and pay them out."""

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import timedelta
from functools import partial
from typing import Any

from django.utils import timezone

from inventory.models import BuyerPayment, Consignment, Deal, Disbursement, LogEntry, RepeatKey, SaleOutcome, Settlement
from inventory.queries.settlements import draft_of
from inventory.rules.states import State
from tests import build
from tests.bench.faults.house import Answer, House, Row, key

POSTERS = 6


@dataclass
class Deed:
    """One post: what it does to which stay, and how many rows it leaves: all of them, or none."""

    stay: Consignment
    path: str
    body: dict[str, Any]
    trace: Callable[[Consignment], tuple[int, ...]]
    whole: tuple[int, ...]
    key: str = field(default_factory=key)
    answer: Answer | None = None

    def post(self, house: House) -> Answer:
        return house.api(f"consignments/{self.stay.stock_number}/{self.path}", key=self.key, **self.body)

    def left(self) -> tuple[int, ...]:
        """Rows of each kind, whether the state fits, and the row of its key."""
        return (*self.trace(self.stay), RepeatKey.objects.filter(key=self.key, status=201).count())


def _log(stay: Consignment, action: str) -> int:
    return LogEntry.objects.filter(consignment=stay, action=action).count()


def _is(stay: Consignment, state: State) -> int:
    return Consignment.objects.filter(pk=stay.pk, state=state).count()


def _sale(stay: Consignment) -> tuple[int, ...]:
    outcomes = SaleOutcome.objects.filter(consignment=stay)
    return (outcomes.count(), _is(stay, State.SOLD), Deal.objects.filter(consignment=stay, end="sold").count(),
            _log(stay, "outcome.sold"))  # fmt: skip


def _deposit(stay: Consignment) -> tuple[int, ...]:
    return (BuyerPayment.objects.filter(deal__consignment=stay).count(), _is(stay, State.DEPOSIT),
            Deal.objects.filter(consignment=stay).count(), _log(stay, "deal.opened"))  # fmt: skip


def _payment(stay: Consignment) -> tuple[int, ...]:
    return BuyerPayment.objects.filter(deal__consignment=stay).count(), _log(stay, "payment.received")


def _approval(stay: Consignment) -> tuple[int, ...]:
    rows = Settlement.objects.filter(consignment=stay)
    complete = sum(row.lines.exists() and row.payees.exists() for row in rows)
    return rows.count(), complete, _log(stay, "settlement.approved"), _is(stay, State.SETTLED)


def _paid(stay: Consignment) -> tuple[int, ...]:
    return Disbursement.objects.filter(settlement__consignment=stay).count(), _log(stay, "settlement.paid")


def _deed(number: int) -> Deed:
    at = timezone.now()
    bargain = {"price": "48500.00", "buyer": "Bo Larkin"}
    if number % 3 == 0:
        return Deed(build.consignment(State.LISTED, at=at), "sale/", bargain, _sale, (1, 1, 1, 1, 1))
    if number % 3 == 1:
        until = str(timezone.localdate() + timedelta(days=7))
        body = {**bargain, "deposit": "1000.00", "hold_until": until}
        return Deed(build.consignment(State.LISTED, at=at), "deposit/", body, _deposit, (1, 1, 1, 1, 1))
    sold = build.consignment(State.SOLD, at=at)
    return Deed(sold, "payments/", {"amount": "48500.00", "method": "wire"}, _payment, (1, 1, 1))


def server_in_a_sale(house: House) -> Iterator[Row]:
    yield _row(house, "kill -9 of the server: sales, deposits, payments", make=_deed, of_each=15)


def server_in_a_settlement(house: House) -> Iterator[Row]:
    yield _row(house, "kill -9 of the server: approving settlements, paying out", make=_money_deed, of_each=12)


def _money_deed(number: int) -> Deed:
    at = timezone.now()
    if number % 2 == 0:
        stay = build.consignment(State.SOLD, at=at)
        build.pay_in_full(stay, at=at)
        draft = draft_of(Consignment.objects.get(pk=stay.pk), on=timezone.localdate())
        body = {"expected_due": str(draft.statement.due)} if draft else {}
        return Deed(stay, "settlement/", body, _approval, (1, 1, 1, 1, 1))
    stay = build.consignment(State.SETTLED, at=at)
    payee = Settlement.objects.get(consignment=stay).payees.get(kind="consignor")
    body = {"payee_kind": "consignor", "payee": payee.name, "amount": str(payee.amount), "method": "wire"}
    return Deed(stay, "disbursements/", body, _paid, (1, 1, 1))


def _row(house: House, fault: str, *, make: Callable[[int], Deed], of_each: int) -> Row:
    """Rounds of posts from several threads; the server dies at a random moment, comes back, and all is sent again."""
    counted: Counter[str] = Counter()
    draw = random.Random(20261126)
    server = house.serve(wait=False)
    for _ in range(house.rounds):
        deeds = [make(number) for number in range(of_each)]
        draw.shuffle(deeds)
        house.wait_until_it_serves()
        with ThreadPoolExecutor(POSTERS) as posters:
            posted = [posters.submit(_post, deed, house) for deed in deeds]
            enough = draw.randrange(of_each - POSTERS)  # the others are on their way or not begun
            house.wait_for(partial(_answered, posted, enough), seconds=60, every=0.005)
            time.sleep(draw.uniform(0.0, 0.15))
            house.kill(server)
            for one in posted:
                one.result()
        server = house.serve()
        _count(deeds, house=house, counted=counted)
    house.kill(server)
    fitted = f"{house.rounds} kills, {counted['posts']} posts, {counted['acknowledged']} acknowledged"
    found = f"{counted['lost']} lost; {counted['done in silence']} done without an answer"
    again = f"sent again: {counted['again']} of {counted['unanswered']} taken, {counted['doubled']} doubled"
    return fault, fitted, f"{found}; {again}", str(counted["half-done"]), "connection broken; the same key then answers"


def _answered(posted: list[Future[None]], enough: int) -> bool:
    return sum(one.done() for one in posted) >= enough


def _post(deed: Deed, house: House) -> None:
    deed.answer = deed.post(house)


def _count(deeds: list[Deed], *, house: House, counted: Counter[str]) -> None:
    for deed in deeds:
        counted["posts"] += 1
        left, answer = deed.left(), deed.answer or Answer(None)
        none_of_it = not any(left)
        counted["acknowledged"] += answer.is_done
        counted["half-done"] += not (none_of_it or left == deed.whole)
        counted["lost"] += answer.is_done and left != deed.whole
        counted["refused"] += answer.status is not None and not answer.is_done
        if answer.is_done:
            continue
        counted["unanswered"] += 1
        counted["done in silence"] += left == deed.whole
        second = deed.post(house)
        counted["again"] += second.is_done
        counted["doubled"] += deed.left() != deed.whole
        if not second.is_done:
            print("not taken when sent again:", deed.path, second.status, second.body[:300], flush=True)
