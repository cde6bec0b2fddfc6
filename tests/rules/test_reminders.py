"""Reminders at their boundaries. Cash: 26 CFR 1.6050I-1(c)(1); days: IRS Publication 1544 (2009), examples 1 and 2."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.rules.reminders import MoneyIn, cash_reminder, guide_reminder, odometer_reminder

DAY = date(2009, 1, 6)


def paid(*payments: tuple[str, str], on: date = DAY) -> list[MoneyIn]:
    return [MoneyIn(method=method, amount=Decimal(amount), on=on) for method, amount in payments]


@pytest.mark.parametrize(
    ("payments", "reported"),
    [
        ([("cash", "10000.00")], False),
        ([("cash", "10000.01")], True),
        ([("draft", "10000.00")], False),
        ([("draft", "10000.01")], False),  # over 10,000 face value it is no cash
        ([("draft", "10000.01"), ("cash", "9000.00")], False),
        ([("draft", "6000.00"), ("draft", "6000.00")], True),
        ([("draft", "10000.00"), ("cash", "0.01")], True),
        ([("wire", "48500.00"), ("cheque", "20000.00"), ("lender", "12000.00")], False),
        ([], False),
    ],
)
def test_cash_is_reported_over_ten_thousand(payments: list[tuple[str, str]], reported: bool) -> None:
    assert (cash_reminder(paid(*payments)) is not None) == reported


def test_report_is_due_fifteen_days_after_the_payment_that_went_over() -> None:
    """Example 1: 18,000 on 6 January 2009, due 21 January. Example 2: thirds, the second on 6 February goes over; the
    21st is a Saturday, and that a weekend moves the day on is left to people."""
    once = cash_reminder(paid(("cash", "18000.00")))
    assert once is not None
    assert "2009-01-21" in once.text
    thirds = [*paid(("cash", "6000.00"), on=date(2009, 2, 6)), *paid(("cash", "6000.00"))]
    later = cash_reminder(thirds)
    assert later is not None
    assert "2009-02-21" in later.text
    assert "ask your adviser" in later.text
    assert "$12,000.00" in later.text


def test_odometer_reminder_says_whether_the_model_year_frees_the_sale() -> None:
    """49 CFR 580.17(a): in 2030 model year 2011 is not exempt yet, in 2031 it is."""
    assert "To be disclosed" in odometer_reminder(2011, sold_on=date(2030, 12, 31)).text
    free = odometer_reminder(2011, sold_on=date(2031, 1, 1)).text
    assert "Exempt" in free
    assert "signed with the title" not in free


def test_guide_reminder_names_its_section_and_consigned_vehicles() -> None:
    reminder = guide_reminder()
    assert reminder.section == "16 CFR 455"
    assert "Consigned vehicles need one too" in reminder.text
