"""One vehicle that is here now as plain values, and what must hold between them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.rules import identity
from inventory.rules.identity import Severity
from inventory.sheets.options import Options
from inventory.sheets.sale import hash_of, impossible_day
from inventory.sheets.told import VehicleTold

LONGEST_STOCK_NUMBER = 20
LONGEST_NAME, LONGEST_ENGINE = 60, 80
_FIT_FOR_ADDRESSES = re.compile(r"[^\W_][^/\\?#%'\"<>]*")
_TERMS = (
    "commission_rate", "commission_minimum", "commission_flat", "floor", "agreement_starts_on", "agreement_ends_on",
    "signed_by", "signed_on",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class InStock(VehicleTold):
    """A vehicle on the lot, with its consignor, terms and ask. None means unknown."""

    consignor_name: str
    stock_number: str | None = None
    consignor_email: str | None = None
    consignor_phone: str | None = None
    vin_reason: str | None = None
    arrived_on: date | None = None
    place: str | None = None
    key_tag: str | None = None
    commission_rate: Decimal | None = None
    commission_minimum: Decimal | None = None
    commission_flat: Decimal | None = None
    floor: Decimal | None = None
    agreement_starts_on: date | None = None
    agreement_ends_on: date | None = None
    signed_by: str | None = None
    signed_on: date | None = None
    ask: Decimal | None = None
    ask_since: date | None = None
    note: str | None = None

    def content_hash(self) -> str:
        return hash_of(self)

    def said_of_terms(self) -> tuple[str, ...]:
        """The columns of the terms that this row fills."""
        return tuple(name for name in _TERMS if getattr(self, name) is not None)

    def wanting_for_terms(self) -> tuple[str, ...]:
        """What terms would need besides; () where nothing is said of them, or all that is needed."""
        said = self.said_of_terms()
        if not said:
            return ()
        paid = "commission_rate" in said or "commission_flat" in said
        wanted = () if paid else ("commission_rate",)
        return (*wanted, *(name for name in ("agreement_starts_on", "agreement_ends_on") if name not in said))

    def has_terms(self) -> bool:
        return bool(self.said_of_terms()) and not self.wanting_for_terms()


def make(values: dict[str, Any], *, options: Options) -> InStock:
    return InStock(**values)


def contradictions(said: InStock, *, today: date) -> Iterator[tuple[str, str]]:
    """Column and reason for each fact that cannot stand beside the others."""
    yield from _about_numbers(said)
    for column in ("make", "model", "trim", "body", "transmission", "color"):
        if len(getattr(said, column) or "") > LONGEST_NAME:
            yield column, f"It has more than {LONGEST_NAME} characters. Shorten it."
    if len(said.engine or "") > LONGEST_ENGINE:
        yield "engine", f"It has more than {LONGEST_ENGINE} characters. Shorten it."
    for column in ("arrived_on", "signed_on", "ask_since"):
        if (day := getattr(said, column)) is not None:
            yield from impossible_day(day, column=column, today=today)
    if said.ask_since is not None and said.ask is None:
        yield "ask", "It is said since when it is asked, but not what. Enter the ask, or empty the date."
    yield from _about_terms(said)


def _about_numbers(said: InStock) -> Iterator[tuple[str, str]]:
    number = said.stock_number
    if number is not None and len(number) > LONGEST_STOCK_NUMBER:
        yield "stock_number", f"It has {len(number)} characters. Use at most {LONGEST_STOCK_NUMBER}."
    if number is not None and (not _FIT_FOR_ADDRESSES.fullmatch(number) or number.casefold() == "new"):
        yield (
            "stock_number",
            (
                "A stock number stands in addresses: it begins with a letter or a digit and holds no / \\ ? # % "
                "or quote. Write it otherwise."
            ),
        )
    odd = identity.assess(said.vin or "", year=said.year).of(Severity.WARNING) if said.vin else ()
    if odd and not said.vin_reason:
        told = " ".join(f"{finding.message} {finding.mend}" for finding in odd)
        yield "vin", f"{told} If it is right as it stands, give the reason in a column “VIN reason”."


def _about_terms(said: InStock) -> Iterator[tuple[str, str]]:
    starts, ends = said.agreement_starts_on, said.agreement_ends_on
    if starts is not None and ends is not None and ends < starts:
        yield "agreement_ends_on", f"{ends} is before the agreement starts, {starts}. Correct one of them."
    if said.commission_flat is not None and (said.commission_rate is not None or said.commission_minimum is not None):
        yield "commission_flat", "A flat fee and a rate or minimum are two plans. Keep one of them."
    if said.commission_minimum is not None and said.commission_rate is None and said.commission_flat is None:
        yield "commission_rate", "A minimum needs the rate it belongs to. Enter the rate, or make it a flat fee."
    if said.signed_by is not None and said.signed_on is None:
        yield "signed_on", "It is said who signed, but not when. Enter the date, or empty the name."
    if said.signed_on is not None and said.signed_by is None:
        yield "signed_by", "It was signed, but nobody is named. Name who signed, or empty the date."
    if said.ask is not None and said.floor is not None and said.ask < said.floor:
        yield "ask", "The ask is below the floor. Correct one of them."


def oddities(said: InStock) -> Iterator[tuple[str, str]]:
    """Column and remark for what is imported, but not complete enough for a step."""
    wanting = said.wanting_for_terms()
    if wanting:
        given = ", ".join(_words(name) for name in said.said_of_terms())
        yield (
            wanting[0],
            (
                f"No terms were recorded: {', '.join(map(_words, wanting))} is missing. "
                f"What the row says of {given} was not kept: enter the terms on the vehicle's page."
            ),
        )
    elif not said.said_of_terms():
        yield "commission_rate", "The row says nothing of terms: agree them before the vehicle is listed."
    elif said.signed_by is None:
        yield "signed_by", "The terms are recorded as not signed: they are a proposal until somebody has signed."
    if said.ask is None:
        yield "ask", "The row gives no ask."
    elif said.ask_since is None:
        yield "ask_since", "It is not said since when this is asked: the ask counts from today."
    if said.arrived_on is None:
        yield "arrived_on", "It is not said when it came: its days on the lot count from today."
    if said.vin is None:
        yield "vin", "The row gives no number: read it off the vehicle before it is listed."
    if said.consignor_email is None and said.consignor_phone is None:
        yield "consignor_name", "Neither e-mail nor phone: taken as a person of their own."


def _words(column: str) -> str:
    return column.replace("_", " ")
