"""People who ask, come, or tell of a vehicle: the same one is one contact."""

from datetime import datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add
from inventory.models import Consignor, Contact
from inventory.rules.people import digits, same_phone
from inventory.rules.roles import Actor


@transaction.atomic
def contact_for(*, name: str, phone: str = "", email: str = "", by: Actor, at: datetime) -> Contact | None:
    """The contact with this e-mail or phone, or a new one; nobody where no name is given. Whoever may do the deed
    that this is part of may add a contact."""
    name, phone, email = name.strip(), phone.strip(), email.strip()
    if not name:
        return None
    if (known := _known(phone=phone, email=email)) is not None:
        return known
    row = add(
        Contact(name=name, phone=phone, email=email, consignor=consignor_like(phone=phone, email=email), created_at=at)
    )
    logbook.record("contact.added", row, by=by, at=at, name=row.name)
    return row


def _known(*, phone: str, email: str) -> Contact | None:
    """Of doubles that were merged the one that goes on."""
    rows = Contact.objects.filter(erased_at__isnull=True)
    found = rows.filter(email__iexact=email).order_by("pk").first() if email else None
    if found is None and digits(phone):
        numbers = rows.exclude(phone="").order_by("pk").values_list("pk", "phone")
        same = next((pk for pk, number in numbers if same_phone(number, phone)), None)
        found = Contact.objects.get(pk=same) if same is not None else None
    while found is not None and found.merged_into is not None:
        found = found.merged_into
    return found


def consignor_like(*, phone: str, email: str) -> Consignor | None:
    """The consignor who is known by this e-mail or phone."""
    rows = Consignor.objects.filter(erased_at__isnull=True, merged_into__isnull=True, is_lot=False)
    if email and (found := rows.filter(email__iexact=email).order_by("pk").first()) is not None:
        return found
    if not digits(phone):
        return None
    numbers = rows.exclude(phone="").order_by("pk").values_list("pk", "phone")
    same = next((pk for pk, number in numbers if same_phone(number, phone)), None)
    return rows.get(pk=same) if same is not None else None
