"""The decoder table on its pages: looked through, added to, corrected, retired."""

import uuid
from dataclasses import replace
from datetime import date, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.actions import decoding
from inventory.models import DecoderEntry
from inventory.queries import decoder
from inventory.rules.roles import Actor
from tests.actions.test_decoding import SAID
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db
SENT = {
    "component": "engine", "make": "Merrow", "from_year": "1960", "to_year": "1979", "written": "6B10",
    "match": "exact", "meaning": "10 February", "earliest_on": "1966-02-10", "latest_on": "", "source": "pocket book",
}  # fmt: skip


def test_entry_is_added_once_and_shown(client: Client, intake: Actor) -> None:
    sent = {**SENT, "key": str(uuid.uuid4())}
    sign_in(client, intake)
    for _ in range(2):
        answer = client.post(reverse("add_meaning"), sent)
    assert answer["Location"] == reverse("decoder")
    row = DecoderEntry.objects.get()
    assert (row.written_key, row.earliest_on, row.latest_on) == ("6B10", date(1966, 2, 10), date(1966, 2, 10))
    page = text_of(client.get(reverse("decoder")))
    assert "Merrow, 1960 to 1979" in page
    assert "10 February, made 1966-02-10" in page


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"source": ""}, "source"), ({"component": ""}, "component"), ({"component": "wings"}, "component"),
        ({"to_year": "1950"}, "to_year"), ({"from_year": "1800"}, "from_year"), ({"written": "--"}, "written"),
        ({"earliest_on": "Feb 66"}, "earliest_on"), ({"earliest_on": "", "latest_on": "1966"}, "earliest_on"),
    ],
)  # fmt: skip
def test_bad_entry_is_told_on_its_field_and_nothing_is_lost(
    client: Client, intake: Actor, changes: dict[str, str], field: str
) -> None:
    response = sign_in(client, intake).post(reverse("add_meaning"), {**SENT, **changes})
    assert set(response.context["form"].errors) == {field}
    assert 'value="10 February"' in text_of(response)
    assert not DecoderEntry.objects.exists()


def test_correction_starts_from_the_entry_and_takes_its_place(client: Client, intake: Actor, at: datetime) -> None:
    entry = decoding.add_meaning(SAID, by=intake, at=at)
    address = reverse("correct_meaning", args=[entry.pk])
    form = sign_in(client, intake).get(address).context["form"]
    sent = {name: str(form[name].value() or "") for name in form.fields}
    assert (sent["written"], sent["earliest_on"], sent["latest_on"]) == ("6B-10", "1966-02-10", "")
    assert client.post(address, {**sent, "meaning": "10 March"})["Location"] == reverse("decoder")
    page = text_of(client.get(reverse("decoder")))
    assert "10 March" in page
    assert "10 February" not in page
    assert client.get(address).status_code == 404
    assert DecoderEntry.objects.count() == 2


def test_retired_entry_leaves_the_table(client: Client, intake: Actor, at: datetime) -> None:
    entry = decoding.add_meaning(SAID, by=intake, at=at)
    address = reverse("retire_meaning", args=[entry.pk])
    assert sign_in(client, intake).get(address)["Location"] == reverse("decoder")
    page = text_of(client.post(address, follow=True))
    assert "“6B-10” is out of use." in page
    assert "The table is empty." in page
    assert client.post(address).status_code == 404


def test_table_is_searched_and_paged_in_as_many_queries(client: Client, intake: Actor, at: datetime) -> None:
    sign_in(client, intake)

    def asked(count: int) -> int:
        for number in range(count):
            decoding.add_meaning(replace(SAID, written=f"A{number}"), by=intake, at=at)
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("decoder")).status_code == 200
        return len(captured)

    few = asked(3)
    assert asked(decoder.PER_PAGE) == few
    page = client.get(reverse("decoder"))
    assert len(page.context["entries"]) == decoder.PER_PAGE
    assert "Page 1 of 2" in text_of(page)
    decoding.add_meaning(replace(SAID, make="Tarn", meaning="paint six"), by=intake, at=at)
    found = client.get(reverse("decoder"), {"q": "tarn six"})
    assert [shown.row.meaning for shown in found.context["entries"]] == ["paint six"]
    assert "Nothing in the table fits “zebra”." in text_of(client.get(reverse("decoder"), {"q": "zebra"}))


def test_sales_staff_read_the_table_and_change_nothing(
    client: Client, sales: Actor, intake: Actor, at: datetime
) -> None:
    entry = decoding.add_meaning(SAID, by=intake, at=at)
    page = text_of(sign_in(client, sales).get(reverse("decoder")))
    assert "10 February" in page
    assert "Correct or retire" not in page
    assert client.post(reverse("add_meaning"), SENT).status_code == 403
    for name in ("correct_meaning", "retire_meaning"):
        assert client.post(reverse(name, args=[entry.pk])).status_code == 403
