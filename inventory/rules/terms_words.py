"""Terms in plain words: what the consignor reads before agreeing, line by line."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.rules.agreement import Beside, ChargeRule
from inventory.rules.money import show
from inventory.rules.terms import CommissionPlan, LienPayoff
from inventory.rules.words import BornBy, CommissionBase, Exclusivity, FloorKind, PlanKind, TitleProtection


@dataclass(frozen=True, kw_only=True)
class Said:
    """One version of the terms as plain values."""

    plan: CommissionPlan
    beside: Beside
    floor: Decimal | None
    floor_kind: FloorKind
    starts_on: date
    ends_on: date
    exclusivity: Exclusivity
    title_protection: TitleProtection
    title_protection_note: str = ""
    lien: LienPayoff | None = None
    insurance: str = ""
    photos_allowed: bool = True
    test_drives_allowed: bool = True


def in_words(said: Said) -> tuple[tuple[str, str], ...]:
    """Heading and sentence of every point of the terms, in the order in which an agreement has them."""
    return tuple((heading, text) for heading, text in _points(said) if text)


def _points(said: Said) -> Iterator[tuple[str, str]]:
    more = said.beside
    yield "Time", f"From {said.starts_on} to {said.ends_on}.{_renewal(more)}"
    yield "Commission", plan_in_words(said.plan)
    yield "Lowest price", _floor(said)
    yield "Who may sell it", f"{said.exclusivity.label[:1].upper()}{said.exclusivity.label[1:]}.{_protection(more)}"
    yield "Asking price", " ".join([*_steps(more), *_ask_consent(more)])
    yield "Offers", _offers(more)
    yield "Charges", " ".join(_charge(rule) for rule in more.charge_rules)
    yield "Storage", _storage(more)
    yield "Taking it back early", _early(more)
    yield "Forfeited deposits", _forfeits(more)
    yield "Lien", _lien(said.lien)
    yield "Who is paid", _payees(more)
    yield "Title", _title(said)
    yield "Insurance", said.insurance
    yield "Permissions", _permissions(said)


def plan_in_words(plan: CommissionPlan) -> str:
    """How the lot is paid, as one would say it."""
    if plan.flat is not None:
        return f"A flat fee of {show(plan.flat)}, whatever the price."
    if plan.guaranteed_net is not None:
        return (
            f"The consignor gets {show(plan.guaranteed_net)} before charges and lien; "
            "the lot keeps what the price exceeds it by, and pays what is short."
        )
    of = "price less what was given with the sale" if plan.base is CommissionBase.EFFECTIVE else "sale price"
    if plan.kind == PlanKind.TIERED:
        return f"{_tiers(plan)}{_limits(plan)}{'' if of == 'sale price' else f', of the {of}'}."
    return f"{percent(plan.rate)} of the {of}{_limits(plan)}."


def _tiers(plan: CommissionPlan) -> str:
    return ", then ".join(
        f"{percent(tier.rate)} of the part {'above that' if tier.up_to is None else f'up to {show(tier.up_to)}'}"
        for tier in plan.tiers
    )


def percent(rate: Decimal | None) -> str:
    return "" if rate is None else f"{rate.normalize():f} %"


def _limits(plan: CommissionPlan) -> str:
    least = "" if plan.minimum is None else f", at least {show(plan.minimum)}"
    return least + ("" if plan.maximum is None else f", at most {show(plan.maximum)}")


def _renewal(more: Beside) -> str:
    if more.renewal_days is None:
        return " It ends then; it is not renewed by itself."
    return f" The lot may ask to renew it for {more.renewal_days} days; without the consignor's word it ends."


def _protection(more: Beside) -> str:
    if not more.protection_days:
        return ""
    return (
        f" Commission is also owed on a sale within {more.protection_days} days after the end to a buyer whom the lot "
        "introduced."
    )


def _floor(said: Said) -> str:
    if said.floor is None:
        return "None is agreed."
    if said.floor_kind is FloorKind.NET:
        return f"Not below a price that leaves the consignor {show(said.floor)}."
    return f"Not below {show(said.floor)}."


def _steps(more: Beside) -> Iterator[str]:
    for step in more.step_downs:
        yield f"From {step.days} days after the listing the lot may go down to {show(step.ask)}."


def _ask_consent(more: Beside) -> Iterator[str]:
    if more.consent_below is not None:
        yield f"Below {show(more.consent_below)} the consignor is asked first."


def _offers(more: Beside) -> str:
    if more.convey_from is None:
        return "Every offer is passed on."
    return f"Every offer of {show(more.convey_from)} or more is passed on; lower ones need not be."


def _charge(rule: ChargeRule) -> str:
    kind = f"{rule.kind.label[:1].upper()}{rule.kind.label[1:]}"
    if rule.borne_by is BornBy.LOT:
        return f"{kind}: borne by the lot."
    cap = "" if rule.cap is None else f", up to {show(rule.cap)} in sum without asking"
    return f"{kind}: borne by the consignor{cap}."


def _storage(more: Beside) -> str:
    if more.storage_per_day is None:
        return ""
    free = f" after {more.storage_free_days} free days" if more.storage_free_days else ""
    return f"{show(more.storage_per_day)} a day after the end{free}."


def _early(more: Beside) -> str:
    return "" if more.withdrawal_fee is None else f"{show(more.withdrawal_fee)} if taken back before the last day."


def _forfeits(more: Beside) -> str:
    if more.forfeit_percent is None:
        return ""
    return f"{percent(more.forfeit_percent)} go to the consignor, the rest to the lot."


def _lien(lien: LienPayoff | None) -> str:
    if lien is None:
        return "No lien is recorded."
    until = f", good until {lien.good_until}" if lien.good_until else ""
    per_day = f", {show(lien.per_day)} each further day" if lien.per_day is not None else ""
    return f"{lien.holder} is owed {show(lien.amount)} as quoted on {lien.quoted_on}{until}{per_day}; paid first."


def _payees(more: Beside) -> str:
    return "; ".join(f"{share.name}: {percent(share.percent)}" for share in more.payees)


def _title(said: Said) -> str:
    if said.title_protection is TitleProtection.NONE:
        return "Nothing is recorded that protects the consignor's title at the lot. Check local law."
    note = f" ({said.title_protection_note})" if said.title_protection_note else ""
    return f"Protected by: {said.title_protection.label}{note}."


def _permissions(said: Said) -> str:
    photos = "Photos may be shown" if said.photos_allowed else "No photos may be shown"
    drives = "test drives are allowed" if said.test_drives_allowed else "no test drives"
    return f"{photos}; {drives}."
