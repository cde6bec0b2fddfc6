"""What the terms page shows: the terms in plain words, their versions, the charges, and the net sheet."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.models import AskChange, Charge, Consignment, LienQuote, PriceOpinion, Terms
from inventory.queries import facts
from inventory.queries.consents import said_in
from inventory.queries.history import live_outcome
from inventory.queries.settlements import Floor, Net, floor_on, net_at
from inventory.rules.agreement import StepDown, protected_until, step_due
from inventory.rules.states import BEFORE_SOLD, State
from inventory.rules.terms_words import in_words, plan_in_words


@dataclass(frozen=True)
class Version:
    """One version of the terms with its plan in words."""

    row: Terms
    plan: str
    is_live: bool
    is_accepted: bool
    in_effect: bool
    points: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ChargeRow:
    row: Charge
    set_aside_by: Charge | None


@dataclass(frozen=True)
class TermsPage:
    stay: Consignment
    versions: tuple[Version, ...]
    floor: Floor
    net_sheet: tuple[Net, ...]
    charges: tuple[ChargeRow, ...]
    can_agree: bool
    can_charge: bool
    quote: LienQuote | None
    step: StepDown | None
    protected_until: date | None

    @property
    def current(self) -> Version | None:
        """The version in effect."""
        return next((version for version in self.versions if version.in_effect), None)

    @property
    def proposed(self) -> Version | None:
        """A newer version that the consignor has not accepted yet."""
        newest = self.versions[0] if self.versions else None
        return newest if newest and not newest.is_accepted and not newest.in_effect else None


def page(stay: Consignment, *, today: date, price: Decimal | None = None) -> TermsPage:
    """Terms, charges and net sheet; with `price` the sheet has a line for it too."""
    rows = list(Terms.objects.filter(consignment=stay).ranked())
    current = rows[0] if rows else None
    rows.sort(key=lambda row: -row.number)
    charges = charge_rows(stay)
    live = [charge.row for charge in charges if charge.set_aside_by is None]
    settled = facts.settlement_of(stay) is not None
    return TermsPage(
        stay=stay,
        versions=tuple(
            Version(
                row,
                plan_in_words(facts.plan_of(row)),
                row.starts_on <= today <= row.ends_on,
                is_accepted=bool(row.accepted),
                in_effect=row is current,
                points=in_words(said_in(row)),
            )
            for row in rows
        ),
        floor=floor_on(today, terms=current, charges=live),
        net_sheet=net_sheet(stay, terms=current, charges=live, today=today, price=price) if current else (),
        quote=current.last_quote if current else None,
        step=_step_due(stay, terms=current, today=today),
        protected_until=_protected_until(stay, terms=current),
        charges=tuple(charges),
        can_agree=stay.state in BEFORE_SOLD,
        can_charge=not settled and stay.state != State.RELEASED,
    )


def charge_rows(stay: Consignment) -> list[ChargeRow]:
    """The charges in order, each with the row that set it aside, if one did."""
    rows = list(Charge.objects.filter(consignment=stay).order_by("pk"))
    aside = {row.sets_aside_id: row for row in rows if row.sets_aside_id is not None}
    return [ChargeRow(row, aside.get(row.pk)) for row in rows if row.sets_aside_id is None]


def _step_due(stay: Consignment, *, terms: Terms | None, today: date) -> StepDown | None:
    """A step of the ask that was agreed ahead and whose day has come."""
    ask = facts.current_ask(stay)
    if terms is None or ask is None or stay.state != State.LISTED:
        return None
    return step_due(facts.beside(terms).step_downs, listed_on=stay.listed_on, ask=ask.amount, today=today)


def _protected_until(stay: Consignment, *, terms: Terms | None) -> date | None:
    """While a vehicle that was taken back may still owe commission; None otherwise."""
    ended = live_outcome(stay) if stay.state in {State.WITHDRAWN, State.RELEASED} else None
    if terms is None or ended is None:
        return None
    return protected_until(facts.beside(terms), ends_on=terms.ends_on, withdrawn_on=ended.ended_on)


def net_sheet(
    stay: Consignment, *, terms: Terms, charges: list[Charge], today: date, price: Decimal | None = None,
    with_band: bool = True,
) -> tuple[Net, ...]:  # fmt: skip
    """What the consignor would be paid at the ask, at the floor, across the last band, and at any other price."""
    ask = AskChange.objects.filter(consignment=stay).order_by("-pk").first()
    opinion = PriceOpinion.objects.filter(consignment=stay).order_by("-pk").first()
    floor = floor_on(today, terms=terms, charges=charges)
    points: list[tuple[str, Any]] = [("At the ask", ask.amount if ask else None), ("At the floor", floor.price)]
    if with_band and opinion is not None:
        points += [
            ("Band: low", opinion.low), ("Band: likely", opinion.likely), ("Band: high", opinion.high),
        ]  # fmt: skip
    points.append(("At the price asked about", price))
    return tuple(
        net_at(price, label=label, terms=terms, charges=charges, on=today)
        for label, price in points
        if price is not None
    )


def terms_to_start_from(stay: Consignment) -> dict[str, Any]:
    """The latest terms as given, for the next version; a signature is never carried over."""
    row = Terms.objects.filter(consignment=stay).order_by("-number").first()
    return {} if row is None else begun_with(row)


def begun_with(row: Terms) -> dict[str, Any]:
    """One version as the form of the next one begins."""
    beside = facts.beside(row)
    return {
        **{name: getattr(row, name) for name in CARRIED_OVER},
        "tiers": [(tier.up_to, tier.rate) for tier in facts.plan_of(row).tiers],
        "step_downs": beside.step_downs,
        "charge_rules": beside.charge_rules,
        "payees": beside.payees,
    }


CARRIED_OVER = (
    "plan_kind", "rate", "minimum", "flat", "guaranteed_net", "floor", "floor_kind", "starts_on", "ends_on",
    "title_protection", "lien_holder", "lien_amount", "lien_quoted_on", "lien_good_until", "lien_per_day", "maximum",
    "commission_base", "title_protection_note", "exclusivity", "renewal_days", "protection_days", "consent_below",
    "convey_from", "storage_per_day", "storage_free_days", "withdrawal_fee", "forfeit_percent", "insurance",
    "photos_allowed", "test_drives_allowed",
)  # fmt: skip
