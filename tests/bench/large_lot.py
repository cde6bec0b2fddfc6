"""A large invented lot, written in bulk round the actions, to measure what size costs.

Run by hand, on an empty database:

    DATABASE_URL=postgresql://… python -m tests.bench.large_lot --scale 1

Scale 1 is 200,000 ends of stays, 5,000 stays with all that belongs to them (`large_lot_rows`), some 60 of them still
here. Equal seeds give equal rows, but for codes and digests of links. Sign in as intake, sales or owner, with the pass
phrases of the demo (`larkspur-owner-demo`).
"""

import argparse
import os
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")

import django

django.setup()

import numpy as np
import pandas as pd
from django.core.management import call_command
from django.db import transaction
from django.utils import timezone

from inventory.actions import staffing
from inventory.actions.demo import password_of
from inventory.models import Consignor, Contact, Job, Lot, SaleOutcome, ScorePolicy, User
from inventory.rules.roles import STAFF_ROLES, command
from inventory.rules.scores import FIRST_POLICY
from inventory.rules.states import State
from inventory.rules.words import JobStatus
from tests.bench import large_lot_rows as beside
from tests.bench.large_lot_parts import BY, ENDED, HERE, Plan, Tally, moment
from valuation.simulate import simulate

OUTCOMES, STAYS, YEARS = 200_000, 5_000, 15.0


def make(*, scale: float, seed: int = 1) -> Tally:
    """The whole lot, in a migrated and empty database."""
    tally, today = Tally(), timezone.localdate()
    with transaction.atomic():
        house(today)
        total, stays = round(OUTCOMES * scale), round(STAYS * scale)
        rows = outcome_rows(total, today=today, seed=seed)
        plans = list(planned(rows, stays=stays, today=today, seed=seed))
        bound = {id(plan.outcome) for plan in plans if plan.outcome}
        tally.write(SaleOutcome, (row for row in rows if id(row) not in bound))
        people = tally.write(Consignor, consignors(max(stays // 3, 20), today=today))
        contacts = tally.write(Contact, contacts_of(stays * 2, today=today))
        beside.write(plans, people=people, contacts=contacts, tally=tally, today=today, seed=seed)
        tally.write(Job, jobs(max(stays // 10, 10), today=today))
    return tally


def house(today: date) -> None:
    """Staff, the lot's row and the weights."""
    Lot.objects.update_or_create(
        pk=1, defaults={"name": "Larkspur Yard (large)", "is_demo": True, "carrying_cost_per_day": Decimal("11.50")}
    )
    for role in STAFF_ROLES:
        if not User.objects.filter(username=role.value).exists():
            staffing.add_staff(
                role.value, full_name=f"{role.value.title()} Larkspur", role=role, password=password_of(role),
                by=command("bench"), at=moment(today),
            )  # fmt: skip
    ScorePolicy.objects.get_or_create(number=1, defaults={"weights": FIRST_POLICY, "by": BY, "at": moment(today)})


def outcome_rows(total: int, *, today: date, seed: int) -> list[SaleOutcome]:
    """Ends of stays in order of their day: seven sold for each that was taken back."""
    sold = total - round(total / 8)
    book = simulate(sold, ending_on=today - timedelta(days=3), years=YEARS, seed=seed).sales.head(total)
    return [outcome(row) for row in book.to_dict("records")]


def outcome(row: dict[Any, Any]) -> SaleOutcome:
    price = None if row["result"] == "withdrawn" else Decimal(int(row["price"]))
    ended = day_of(row["ended_on"])
    return SaleOutcome(
        **facts_of(row), stock_number=row["stock_number"], vin=word(row["vin"]), result=row["result"],
        reason=word(row["reason"]).replace(" ", "_"), channel=word(row["channel"]), ended_on=ended, price=price,
        effective_price=price, by=BY, at=moment(ended),
    )  # fmt: skip


def facts_of(row: dict[Any, Any]) -> dict[str, Any]:
    """What an outcome and a vehicle that stays have in common, in the columns of the history."""
    words = ("make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand")
    points = {name: None if pd.isna(row[name]) else Decimal(str(round(row[name], 1))) for name in POINTS}
    return {
        **{name: word(row[name]) for name in words},
        "year": int(row["year"]), "mileage": None if pd.isna(row["mileage"]) else int(row["mileage"]),
        "odometer_status": str(row["odometer_status"]).replace(" ", "_"),
        **{f"{name}_{end}": points[name] for name in POINTS for end in ("low", "high")},
        "modifications": [kind for kind in str(row["modifications"]).split("; ") if kind],
        "arrived_on": day_of(row["arrived_on"]), "listed_on": day_of(row["listed_on"]),
        "first_ask": Decimal(int(row["first_ask"])), "last_ask": Decimal(int(row["last_ask"])),
    }  # fmt: skip


POINTS = ("condition", "originality")


def word(value: Any) -> str:
    return "" if pd.isna(value) else str(value)


def day_of(value: Any) -> date:
    return pd.Timestamp(value).date()


def planned(rows: list[SaleOutcome], *, stays: int, today: date, seed: int) -> Iterator[Plan]:
    """The last ends belong to stays that are known; sold vehicles that are still here are the very last of them."""
    ended = rows[-(stays - sum(HERE.values()) + sum(HERE[state] for state in ENDED)) :]
    still = [row for row in ended if row.result == "sold"][-sum(HERE[state] for state in ENDED) :]
    for_state = iter([state for state in ENDED for _ in range(HERE[state])])
    states = {id(row): next(for_state) for row in still}
    number = 0
    for number, row in enumerate(ended, start=1):
        facts = {name: getattr(row, name) for name in (*FACTS, "arrived_on", "listed_on", "first_ask", "last_ask")}
        yield Plan(number, states.get(id(row), State.RELEASED), facts, row)
    fresh = iter(simulate(100, ending_on=today, years=1.0, seed=seed + 1).sales.to_dict("records"))
    rng = np.random.default_rng(seed)
    for state in [one for one in HERE if one not in ENDED for _ in range(HERE[one])]:
        number += 1
        listed = today - timedelta(days=int(rng.integers(1, 120)))
        days = {"arrived_on": listed - timedelta(days=9), "listed_on": listed}
        yield Plan(number, state, facts_of(next(fresh)) | days, None)


FACTS = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "title_brand", "mileage",
    "odometer_status", "condition_low", "condition_high", "originality_low", "originality_high", "modifications",
)  # fmt: skip


def consignors(count: int, *, today: date) -> Iterator[Consignor]:
    for number in range(count):
        yield Consignor(
            name=f"{FIRST[number % len(FIRST)]} {LAST[number // len(FIRST) % len(LAST)]} {number}",
            email=f"owner{number}@example.org", phone=f"555 {number:07d}", created_at=moment(today),
        )  # fmt: skip


def contacts_of(count: int, *, today: date) -> Iterator[Contact]:
    for number in range(count):
        yield Contact(
            name=f"{FIRST[number % len(FIRST)]} {LAST[number // len(FIRST) % len(LAST)]} of {number}",
            email=f"caller{number}@example.org", phone=f"556 {number:07d}", created_at=moment(today),
        )  # fmt: skip


FIRST = ("Ada", "Bram", "Cleo", "Dov", "Edda", "Finn", "Greta", "Hale", "Ivo", "June", "Kit", "Lena", "Milo")
LAST = ("Fenwick", "Larkin", "Quarles", "Amberley", "Marchbanks", "Thistle", "Oakes", "Penhale", "Rook", "Sayer")


def jobs(count: int, *, today: date) -> Iterator[Job]:
    for number in range(count):
        at = moment(today - timedelta(days=count - number))
        yield Job(
            kind="fit", status=JobStatus.DONE, done=1, total=1, message="Done.", asked_by=BY, asked_at=at, began_at=at,
            ended_at=at,
        )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--scale", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    call_command("migrate", verbosity=0)
    if User.objects.exists() or SaleOutcome.objects.exists():
        parser.error("this database is not empty: name an empty one in DATABASE_URL")
    print(make(scale=asked.scale, seed=asked.seed).tell())


if __name__ == "__main__":
    main()
