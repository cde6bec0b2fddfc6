"""What the terms page shows: the terms in plain words, their versions, the charges, and the net sheet."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.models import AskChange, Charge, Consignment, PriceOpinion, Settlement, Terms
from inventory.queries import facts
from inventory.queries.consents import said_in
from inventory.queries.settlements import Floor, Net, floor_on, net_at
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

    @property
    def current(self) -> Version | None:
        """The version in effect."""
        return next((version for version in self.versions if version.in_effect), None)

    @property
    def proposed(self) -> Version | None:
        """A newer version that the consignor has not accepted yet."""
        newest = self.versions[0] if self.versions else None
        return newest if newest and not newest.is_accepted and not newest.in_effect else None


def page(stay: Consignment, *, today: date) -> TermsPage:
    rows = list(Terms.objects.filter(consignment=stay).ranked())
    current = rows[0] if rows else None
    rows.sort(key=lambda row: -row.number)
    charges = charge_rows(stay)
    live = [charge.row for charge in charges if charge.set_aside_by is None]
    settled = Settlement.objects.filter(consignment=stay).exists()
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
        net_sheet=net_sheet(stay, terms=current, charges=live, today=today) if current else (),
        charges=tuple(charges),
        can_agree=stay.state in BEFORE_SOLD,
        can_charge=not settled and stay.state != State.RELEASED,
    )


def charge_rows(stay: Consignment) -> list[ChargeRow]:
    """The charges in order, each with the row that set it aside, if one did."""
    rows = list(Charge.objects.filter(consignment=stay).order_by("pk"))
    aside = {row.sets_aside_id: row for row in rows if row.sets_aside_id is not None}
    return [ChargeRow(row, aside.get(row.pk)) for row in rows if row.sets_aside_id is None]


def net_sheet(stay: Consignment, *, terms: Terms, charges: list[Charge], today: date) -> tuple[Net, ...]:
    """What the consignor would be paid at the ask, at the floor, and across the last band."""
    ask = AskChange.objects.filter(consignment=stay).order_by("-pk").first()
    opinion = PriceOpinion.objects.filter(consignment=stay).order_by("-pk").first()
    floor = floor_on(today, terms=terms, charges=charges)
    points: list[tuple[str, Any]] = [("At the ask", ask.amount if ask else None), ("At the floor", floor.price)]
    if opinion is not None:
        points += [
            ("Band: low", opinion.low), ("Band: likely", opinion.likely), ("Band: high", opinion.high),
        ]  # fmt: skip
    return tuple(
        net_at(price, label=label, terms=terms, charges=charges, on=today)
        for label, price in points
        if price is not None
    )


def terms_to_start_from(stay: Consignment) -> dict[str, Any]:
    """The latest terms as given, for the next version; a signature is never carried over."""
    row = Terms.objects.filter(consignment=stay).order_by("-number").first()
    if row is None:
        return {}
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
