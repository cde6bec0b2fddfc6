"""The same person is one contact."""

from datetime import datetime

import pytest

from inventory.actions.contacting import contact_for
from inventory.models import Contact
from inventory.rules.people import digits, same_phone
from inventory.rules.roles import Actor

pytestmark = pytest.mark.django_db


def test_same_phone_or_email_is_the_same_contact(sales: Actor, at: datetime) -> None:
    first = contact_for(name="Cy Dunn", phone="(555) 014-2233", email="cy@example.org", by=sales, at=at)
    assert contact_for(name="C. Dunn", phone="+1 555 0142233", by=sales, at=at) == first
    assert contact_for(name="Cyrus", email="CY@example.org", by=sales, at=at) == first
    assert contact_for(name="Cy Dunn", by=sales, at=at) != first, "a name alone tells nobody apart"
    assert contact_for(name="  ", phone="555 014 2233", by=sales, at=at) is None


def test_merged_contact_leads_to_the_one_that_goes_on(sales: Actor, at: datetime) -> None:
    first = contact_for(name="Cy Dunn", phone="555 014 2233", by=sales, at=at)
    second = Contact.objects.create(name="Cy", phone="555 999 0000", merged_into=first, created_at=at)
    assert contact_for(name="Cy", phone=second.phone, by=sales, at=at) == first


def test_few_digits_know_nobody() -> None:
    assert digits("ext. 42") == ""
    assert not same_phone("42", "42")
