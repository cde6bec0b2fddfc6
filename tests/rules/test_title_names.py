"""Whose names stand on the title against who consigned it and who signed. By reasoning: no published rule."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from inventory.errors import Refused
from inventory.rules import titles
from inventory.rules.titles import PaperSeen

ADA = PaperSeen(kind="title", standing="read", number="T-1", name="Ada Fenwick")
BOTH = replace(ADA, more_names="Bo Larkin")


def asked(*papers: PaperSeen, consignor: str = "Ada Fenwick", signed_by: str = "Ada Fenwick") -> str:
    return titles.names_question(papers, consignor=consignor, signed_by=signed_by)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Fenwick, Ada", "Ada Fenwick"), ("ADA FENWICK", "Ada Fenwick"), ("José Núñez", "Jose Nunez"),
        ("O'Brien-Vale, J.R.", "JR OBrien Vale"),
    ],
)  # fmt: skip
def test_name_is_the_same_whatever_its_case_accents_and_order(one: str, other: str) -> None:
    assert titles.same_name(one) == titles.same_name(other)


def test_names_that_agree_ask_nothing() -> None:
    assert asked(ADA) == ""
    assert asked(replace(ADA, name="FENWICK, ADA")) == ""
    assert asked(ADA, signed_by="") == ""  # unsigned terms are refused by their own need


def test_paper_without_a_name_asks_nothing() -> None:
    assert asked(replace(ADA, name=""), consignor="Somebody Else") == ""
    assert asked() == ""


def test_name_of_a_stranger_is_asked_about() -> None:
    assert "Cy Ogden" in asked(replace(ADA, name="Cy Ogden"))


def test_one_name_agrees_with_the_signer_that_is_recorded_for_it() -> None:
    formal = replace(ADA, name="Ada M. Fenwick", signer="Ada Fenwick", signs_by="owner")
    assert asked(formal) == ""
    assert asked(replace(formal, signer="Cy Ogden")) != ""


def test_terms_signed_by_somebody_off_the_title_are_asked_about() -> None:
    assert "signed by Cy Ogden" in asked(ADA, signed_by="Cy Ogden")
    assert asked(replace(ADA, signer="Cy Ogden", signs_by="attorney"), signed_by="Cy Ogden") == ""


@pytest.mark.parametrize("joined", ["and", "not_said", ""])
@pytest.mark.parametrize(
    "signed_by", ["Ada Fenwick and Bo Larkin", "Larkin, Bo & Fenwick, Ada", "Ada Fenwick, Bo Larkin"]
)
def test_all_of_joined_names_have_signed(joined: str, signed_by: str) -> None:
    paper = replace(BOTH, names_joined=joined)
    assert asked(paper, signed_by=signed_by) == ""
    assert "Bo Larkin" in asked(paper)


def test_or_needs_one_of_the_names() -> None:
    either = replace(BOTH, names_joined="or")
    assert asked(either) == ""
    assert asked(either, consignor="Cy Ogden", signed_by="Cy Ogden") != ""


def test_power_of_attorney_covers_a_joined_name() -> None:
    named = replace(BOTH, names_joined="and")
    assert asked(replace(named, signer="Ada Fenwick", signs_by="attorney")) == ""
    assert asked(replace(named, signer="Ada Fenwick", signs_by="owner")) != ""  # that covers nobody else
    power = PaperSeen(
        kind="power_of_attorney", standing="read", name="Bo Larkin", signer="Ada Fenwick", signs_by="attorney"
    )
    assert asked(named, power) == ""
    assert asked(named, replace(power, standing="copied")) != ""
    assert asked(named, replace(power, name="Cy Ogden")) != ""


@pytest.mark.parametrize(
    ("owner_kind", "right", "wrong"),
    [("estate", "executor", "attorney"), ("trust", "trustee", "officer"), ("company", "officer", "owner")],
)
def test_estate_trust_and_company_need_a_signer_with_the_right(owner_kind: str, right: str, wrong: str) -> None:
    paper = replace(ADA, name="Fenwick Motors", owner_kind=owner_kind, signer="Bo Larkin", signs_by=right)
    who = {"consignor": "Bo Larkin", "signed_by": "Bo Larkin"}
    assert asked(paper, **who) == ""
    assert asked(replace(paper, signs_by=wrong), **who) != ""
    assert asked(replace(paper, signer="", signs_by=""), **who) != ""
    assert asked(paper, consignor="Cy Ogden", signed_by="Cy Ogden") != ""


def test_latest_paper_that_was_read_counts() -> None:
    earlier = replace(ADA, number="R-1", kind="registration", name="Cy Ogden")
    assert asked(earlier, ADA) == ""
    assert asked(ADA, replace(earlier, standing="copied")) == ""
    assert asked(ADA, earlier) != ""


def test_two_titles_read_with_different_numbers_are_asked_about_until_one_is_doubted() -> None:
    other = replace(ADA, number="T-2")
    assert "T-1, T-2" in asked(ADA, other)
    assert asked(ADA, other, replace(ADA, standing="doubted")) == ""
    assert asked(ADA, replace(ADA, number="t 1")) == ""


def test_lien_release_counts_once_it_is_read_and_in_hand() -> None:
    release = PaperSeen(kind="lien_release", standing="read", in_hand_since=date(2026, 3, 16))
    assert titles.lien_release_in_hand([ADA, release], on=date(2026, 3, 16))
    assert not titles.lien_release_in_hand([ADA, release], on=date(2026, 3, 15))
    assert not titles.lien_release_in_hand([ADA, replace(release, in_hand_since=None)], on=date(2026, 3, 16))
    assert not titles.lien_release_in_hand([release, replace(release, standing="doubted")], on=date(2026, 3, 16))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": "", "more_names": "Bo"}, "name_on_paper"),
        ({"more_names": "Bo", "names_joined": "one"}, "names_joined"),
        ({"names_joined": "and"}, "more_names"),
        ({"signer": "Bo"}, "signs_by"),
        ({"signs_by": "owner"}, "signer"),
    ],
)
def test_what_the_form_says_of_names_must_fit_together(change: dict[str, Any], field: str) -> None:
    given = {"name": "Ada", "more_names": "", "names_joined": "", "signer": "", "signs_by": "", **change}
    with pytest.raises(Refused) as refusal:
        titles.check_names(**given)
    assert refusal.value.field == field
