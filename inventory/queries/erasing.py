"""Before a person is erased: what would be emptied, and what stands in the way."""

from dataclasses import dataclass

from django.db.models import QuerySet

from inventory.errors import Refused
from inventory.models import Consignment, Deal, Offer, OutMessage, TestDrive
from inventory.queries import person_rows, trust
from inventory.queries.persons import Person
from inventory.rules.erasing import EMPTIED_SAID, KEPT_SAID
from inventory.rules.states import State
from inventory.rules.trust import Account
from inventory.rules.words import DealEnd, MessageStatus

_OF_CONSIGNOR = (Account.BUYER, Account.CONSIGNOR, Account.LENDER, Account.VENDOR)
_OF_BUYER = (Account.BUYER,)


@dataclass(frozen=True)
class Emptied:
    what: str
    rows: int


@dataclass(frozen=True)
class ErasurePlan:
    """What the page that asks whether to erase says."""

    person: Person
    emptied: tuple[Emptied, ...]
    kept: tuple[tuple[str, str], ...]
    refusal: Refused | None


def plan_of(person: Person) -> ErasurePlan:
    counted = counts(person)
    emptied = tuple(Emptied(what, counted[name]) for name, what in EMPTIED_SAID if counted[name])
    return ErasurePlan(person, emptied, KEPT_SAID, why_not(person))


def counts(person: Person) -> dict[str, int]:
    return {
        "people": sum(row.erased_at is None for row in person.rows),
        "notes": person_rows.notes(person).filter(erased_at__isnull=True).count(),
        "inquiries": person_rows.inquiries(person).count(),
        "follow_ups": person_rows.follow_ups(person).count(),
        "showings": person_rows.showings(person).count(),
        "offers": offers_without_deal(person).count(),
        "drives": person_rows.drives(person).count(),
        "prospects": person_rows.prospects(person).count(),
        "mails": person_rows.mails(person).count(),
        "links": person_rows.links(person).filter(revoked_at__isnull=True).count(),
    }


def offers_without_deal(person: Person) -> QuerySet[Offer]:
    return person_rows.offers(person).filter(deals__isnull=True)


def why_not(person: Person) -> Refused | None:
    """A vehicle of theirs is here, a deal or a test drive is under way, or money is open."""
    if (stay := person_rows.stays(person).filter(released_on__isnull=True).first()) is not None:
        return _refused(
            "vehicle_here", f"Their vehicle {stay} is {stay.get_state_display()}.", mend="Release it first."
        )
    if (deal := _deal_under_way(person)) is not None:
        return _refused("deal_open", f"Their deal about {deal.consignment} is under way.", mend="See it through first.")
    if (drive := _out(person)) is not None:
        return _refused("drive_open", f"They are out with {drive.consignment}.", mend="Log that it came back first.")
    bought = person_rows.deals(person).filter(end=DealEnd.SOLD).values("consignment")
    number = _open_money(person_rows.stays(person), accounts=_OF_CONSIGNOR)
    number = number or _open_money(Consignment.objects.filter(pk__in=bought), accounts=_OF_BUYER)
    if number:
        return _refused("money_open", f"Money of {number} is open.", mend="Settle and pay it out first.")
    if person_rows.mails(person).filter(status=MessageStatus.SENDING).exists():
        return _refused("mail_leaving", "A mail to them is being sent.", mend="Try again in a few minutes.")
    return None


def _deal_under_way(person: Person) -> Deal | None:
    deals = person_rows.deals(person).select_related("consignment")
    sold = deals.filter(end=DealEnd.SOLD)
    waiting = sold.filter(consignment__state=State.SOLD) | sold.filter(consignment__released_on__isnull=True)
    return deals.filter(end="").first() or waiting.first()


def _out(person: Person) -> TestDrive | None:
    return person_rows.drives(person).filter(back_at__isnull=True).select_related("consignment").first()


def _open_money(stays: QuerySet[Consignment], *, accounts: tuple[Account, ...]) -> str:
    """The stock number of one whose accounts are not even; "" where there is none."""
    ledgers = trust.ledgers_of(stays)
    open_ids = [pk for pk, ledger in ledgers.items() if any(ledger.standing[account] for account in accounts)]
    stay = Consignment.objects.filter(pk__in=open_ids).order_by("pk").first()
    return stay.stock_number if stay else ""


def _refused(code: str, message: str, *, mend: str) -> Refused:
    return Refused(code, message, field="person", mend=mend)


def mails_unsent(person: Person) -> QuerySet[OutMessage]:
    waits = (MessageStatus.QUEUED, MessageStatus.FAILED, MessageStatus.UNCLEAR, MessageStatus.NO_ADDRESS)
    return person_rows.mails(person).filter(status__in=waits)
