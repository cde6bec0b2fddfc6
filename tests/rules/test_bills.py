"""The bill of sale added up, and its sentences."""

from datetime import date
from decimal import Decimal

from inventory.rules import bills, deal_words
from inventory.rules.bills import Bill

D = Decimal


def added_up() -> Bill:
    return bills.bill(
        D("48500.00"), off=[("Taken off after the sale: cracked lens", D("150.00"))], trade_allowance=D("6000.00"),
        trade_note="1972 Corvane Plover", extras=[("Sales tax", D("2550.37")), ("Title fee", D("75.00"))],
        received=D("20000.00"), cleared=D("15000.00"),
    )  # fmt: skip


def test_bill_adds_up_to_the_cent() -> None:
    """48,500.00 - 150.00 - 6,000.00 + 2,550.37 + 75.00 = 44,975.37, by hand; less 15,000.00 cleared 29,975.37."""
    bill = added_up()
    assert (bill.due, bill.open, bill.waiting) == (D("44975.37"), D("29975.37"), D("5000.00"))
    assert bill.lines[2] == ("Allowed for the vehicle taken in trade: 1972 Corvane Plover", D("-6000.00"))


def test_bill_without_a_trade_has_no_line_for_it() -> None:
    bill = bills.bill(
        D("100.00"), off=[], trade_allowance=D("0.00"), trade_note="", extras=[], received=D("0.00"), cleared=D("0.00")
    )
    assert bill.lines == (("Price", D("100.00")),)


def test_seller_is_told_no_further_than_the_record_goes() -> None:
    told = deal_words.seller_told("Larkspur Yard", consignor="Ada Fenwick", agreement="version 1 of 2026-03-16")
    assert told == "Larkspur Yard, selling for Ada Fenwick under the consignment agreement, version 1 of 2026-03-16"
    assert "no consignment agreement" in deal_words.seller_told("Larkspur Yard", consignor="Ada", agreement="")
    assert deal_words.seller_told("Larkspur Yard", consignor="", agreement="x") == "Larkspur Yard, of its own stock"


def test_deposit_says_in_plain_words_whether_it_goes_back() -> None:
    back = " ".join(deal_words.deposit_conditions(refundable=True, hold_until=date(2026, 3, 23)))
    kept = " ".join(deal_words.deposit_conditions(refundable=False, hold_until=None))
    assert "until the end of 2026-03-23" in back
    assert "goes back to the buyer if the sale does not come about" in back
    assert "does not go back" in kept
    assert "Back-up offers may be taken" in kept


def test_what_was_given_beside_the_price_is_said_only_where_there_is_some() -> None:
    assert deal_words.given_beside(D("0.00")) == []
    assert "$250.00" in deal_words.given_beside(D("250.00"))[0]
    assert deal_words.bill_waits_for(" ") == "The buyer's address is missing."
    assert deal_words.bill_waits_for("12 Larkspur Lane") == ""
