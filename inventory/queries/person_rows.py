"""The rows that hold something about one person: for their page, their file and their erasure.

Rows name a contact, a consignor, or (older ones, and offers) nothing but what was typed. What was typed is taken for
this person where it is their whole name, e-mail or phone.
"""

from functools import reduce
from operator import or_

from django.db.models import Q, QuerySet

from inventory.models import (
    Consignment,
    Deal,
    FollowUp,
    Inquiry,
    MailChoice,
    Offer,
    OutMessage,
    PersonNote,
    Prospect,
    Showing,
    StatusLink,
    TestDrive,
)
from inventory.queries.persons import Person

NOBODY = Q(pk__in=[])


def stays(person: Person) -> QuerySet[Consignment]:
    return Consignment.objects.filter(consignor__in=person.consignors)


def prospects(person: Person) -> QuerySet[Prospect]:
    return Prospect.objects.filter(Q(consignor__in=person.consignors) | Q(contact__in=person.contacts))


def notes(person: Person) -> QuerySet[PersonNote]:
    return PersonNote.objects.filter(Q(consignor__in=person.consignors) | Q(contact__in=person.contacts))


def mails(person: Person) -> QuerySet[OutMessage]:
    return OutMessage.objects.filter(consignor__in=person.consignors)


def mail_choices(person: Person) -> QuerySet[MailChoice]:
    return MailChoice.objects.filter(consignor__in=person.consignors)


def links(person: Person) -> QuerySet[StatusLink]:
    return StatusLink.objects.filter(consignment__consignor__in=person.consignors)


def inquiries(person: Person) -> QuerySet[Inquiry]:
    typed = Q(contact__isnull=True) & typed_as("who", words=person.names)
    return Inquiry.objects.filter(Q(contact__in=person.contacts) | typed)


def follow_ups(person: Person) -> QuerySet[FollowUp]:
    return FollowUp.objects.filter(inquiry__in=inquiries(person))


def showings(person: Person) -> QuerySet[Showing]:
    theirs = Q(contact__in=person.contacts) | Q(contact__isnull=True, inquiry__in=inquiries(person), who="")
    return Showing.objects.filter(theirs | Q(contact__isnull=True) & typed_as("who", words=person.names))


def drives(person: Person) -> QuerySet[TestDrive]:
    typed = Q(contact__isnull=True) & typed_as("driver", words=person.names)
    return TestDrive.objects.filter(Q(contact__in=person.contacts) | typed)


def offers(person: Person) -> QuerySet[Offer]:
    reached = typed_as("contact", words=[*person.emails, *person.phones])
    return Offer.objects.filter(typed_as("bidder", words=person.names) | reached)


def deals(person: Person) -> QuerySet[Deal]:
    """Where they are the buyer."""
    reached = typed_as("contact", words=[*person.emails, *person.phones])
    return Deal.objects.filter(typed_as("buyer", words=person.names) | reached | Q(offer__in=offers(person)))


def typed_as(column: str, *, words: list[str]) -> Q:
    return reduce(or_, (Q(**{f"{column}__iexact": word}) for word in words), NOBODY)
