"""Who may be the same person, which data goes on, and what is taken out of texts."""

import pytest

from inventory.errors import Refused
from inventory.rules.erasing import KEPT, NAMED_WITHIN, data_without, without
from inventory.rules.merging import Party, differences, joined, refuse_merge
from inventory.rules.people import Known, likely_doubles


def test_doubles_share_email_phone_or_name() -> None:
    people = [
        Known(1, "Ada Fenwick", "ada@example.org", "(555) 014-2233"), Known(2, "A. Fenwick", "ADA@example.org"),
        Known(3, "Cy Dunn", "", "+1 555 0142233"), Known(4, "ada  fenwick"), Known(5, "Bo Larkin", "", "310 014-2233"),
    ]  # fmt: skip
    found = {pk: [(one.pk, one.why) for one in others] for pk, others in likely_doubles(people).items()}
    assert found[1] == [(2, "same e-mail"), (3, "same phone"), (4, "same name")]
    assert 5 not in found, "seven digits alike in another area are another number"


def test_merge_is_refused_for_lot_erased_itself_and_circles() -> None:
    plain = Party("Ada Fenwick")
    for double, into, is_same, code in (
        (plain, plain, True, "merge_itself"), (Party("The lot", is_lot=True), plain, False, "merge_lot"),
        (plain, Party("Erased person 1", is_erased=True), False, "merge_erased"),
        (plain, Party("Ada", goes_on_as="Ada Fenwick"), False, "merged_already"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refusal:
            refuse_merge(double, into=into, is_same=is_same)
        assert (refusal.value.code, refusal.value.field) == (code, "double")


def test_what_goes_on_loses_nothing() -> None:
    kept = {"name": "Ada Fenwick", "email": "", "phone": "555 1", "note": "Calls late."}
    other = {"name": "A. Fenwick", "email": "ada@example.org", "phone": "555 2", "note": "Pays fast."}
    said = joined(kept, other=other, names=["name", "email", "phone"], take=["phone"])
    assert said == {
        "name": "Ada Fenwick", "email": "ada@example.org", "phone": "555 2", "note": "Calls late.\nPays fast.",
    }  # fmt: skip
    assert [one.field for one in differences(kept, other=other, labels={"name": "", "email": "", "phone": ""})] == [
        "name", "phone",
    ]  # fmt: skip
    with pytest.raises(Refused, match="Shorten one"):
        joined({**kept, "note": "a" * 600}, other={**other, "note": "b" * 600}, names=["name"], take=[])


def test_name_is_taken_out_of_any_text() -> None:
    marks = ["Ada Fenwick", "ada@example.org", "555 0142"]
    assert without("Sold by ADA  fenwick, not Ada Fenwicks", marks=marks, label="X") == "Sold by X, not Ada Fenwicks"
    said = {"who": ["Ada Fenwick", 3], "to": {"mail": "ada@example.org"}, "n": None}
    assert data_without(said, marks=marks, label="X") == {"who": ["X", 3], "to": {"mail": "X"}, "n": None}
    assert without("Bay 3, told Bay", marks=["Bay"], label="X") == "Bay 3, told Bay", "one word may be any word"
    assert without(" bay ", marks=["Bay"], label="X") == "X"


def test_lists_of_erasing_name_columns_once() -> None:
    both = set(KEPT) & set(NAMED_WITHIN)
    assert both == {"offer.bidder", "offer.contact"}, "offers that a deal followed are kept"
    assert all(KEPT.values())
