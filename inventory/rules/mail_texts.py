"""The house's own wording of every kind of mail, and what each can say. A lot may put its own wording in its place.

No mail names a bidder, a buyer, a member of staff, the price band or another vehicle: there is no place for them.
"""

from dataclasses import dataclass, field

from inventory.rules.messages import LINK_MARK, fill, subject_of
from inventory.rules.words import MessageKind

Kind = MessageKind

EVERY_MAIL: dict[str, str] = {
    "name": "the consignor's name",
    "vehicle": "year, make and model",
    "stock_number": "the stock number",
    "lot": "the name of the lot",
    "link": "the consignor's private link; it is put in while the mail is sent",
}


@dataclass(frozen=True)
class Wording:
    """Subject and text of one kind, and what it can say beyond what every mail can."""

    subject: str
    body: str
    places: dict[str, str] = field(default_factory=dict)


_BEGINS, _ENDS = "Hello {name},\n\n", "\n\nYour page: {link}\n\n{lot}"


def _worded(subject: str, *, says: str, **places: str) -> Wording:
    return Wording(subject, f"{_BEGINS}{says}{_ENDS}", places)


HOUSE: dict[MessageKind, Wording] = {
    Kind.ARRIVED: _worded(
        "Your {vehicle} has arrived",
        says="Your {vehicle} came in on {date}. Its stock number is {stock_number}. Next, we inspect it.",
        date="the day",
    ),
    Kind.INSPECTED: _worded(
        "Your {vehicle} has been inspected",
        says="The inspection of your {vehicle} was finished on {date}. Next, the asking price is set and it is "
        "offered for sale.",
        date="the day",
    ),
    Kind.LISTED: _worded(
        "Your {vehicle} is for sale",
        says="Your {vehicle} is offered for sale from {date}, at {ask}. You find every offer on your page.",
        date="the day",
        ask="the asking price",
    ),
    Kind.PRICE_CHANGE: _worded(
        "The asking price of your {vehicle} is now {ask}",
        says="The asking price of your {vehicle} changed from {before} to {ask} on {date}.",
        date="the day",
        ask="the new asking price",
        before="the asking price until then",
    ),
    Kind.OFFER: _worded(
        "An offer for your {vehicle}",
        says="There is an offer of {amount} for your {vehicle}, made on {date}. An offer is not a sale: your page says "
        "how it was answered.",
        date="the day",
        amount="the amount offered",
    ),
    Kind.DEPOSIT: _worded(
        "A deposit holds your {vehicle}",
        says="A deposit was paid for your {vehicle} at a price of {price}. It is held until {until}. It is not sold "
        "until the sale is closed; further offers are still taken.",
        price="the price",
        until="the day until which it is held",
    ),
    Kind.FELL_THROUGH: _worded(
        "Your {vehicle} is for sale again",
        says="The deal on your {vehicle} fell through on {date}. It is offered for sale again.",
        date="the day",
    ),
    Kind.SOLD: _worded(
        "Your {vehicle} is sold",
        says="Your {vehicle} was sold on {date} for {price}. Next, the money has to clear; then we "
        "send you your settlement.",
        date="the day",
        price="the price",
    ),
    Kind.SETTLED: _worded(
        "Your settlement for the {vehicle}",
        says="Settlement {number} for your {vehicle} is approved. Due to you: {amount}, to be paid by {pay_by}. You "
        "find the statement on your page.",
        number="the number of the settlement",
        amount="the amount due to the consignor",
        pay_by="the day by which it is paid",
    ),
    Kind.PAID: _worded(
        "We have paid you {amount}",
        says="On {date} we paid you {amount} for your {vehicle}, by {way}.",
        date="the day",
        amount="the amount paid",
        way="the way of payment",
    ),
    Kind.ENDING: _worded(
        "Our agreement on your {vehicle} ends on {ends}",
        says="Our agreement on your {vehicle} ends on {ends}, in {days}. If you want us to go on, or to have it "
        "back then, tell us before that day.",
        ends="the last day of the agreement",
        days="how many days are left, in words",
    ),
    Kind.CONSENT: _worded(
        "Please answer: a question about your {vehicle}",
        says="We ask you about your {vehicle}:\n\n{text}\n\nNothing is done before you agree. Please answer on your "
        "page.",
        text="what the consignor is asked",
    ),
    Kind.ANSWER: _worded(
        "Our answer to your question about the {vehicle}",
        says="You asked us about your {vehicle}. Our answer:\n\n{text}",
        text="the answer",
    ),
    Kind.SUMMARY: _worded(
        "Your {vehicle}: the week to {until}",
        says="Your {vehicle} is {state}. Asking price: {ask}. Days for sale so far: {days}.\n\nIn the week to {until}: "
        "{inquiries}, {showings}, {offers}.\n\nSold today at the asking price it would leave you {net}.\n\nOpen "
        "questions: {questions}.",
        until="the last day of the week told of",
        state="where it stands",
        ask="the asking price",
        days="the days it was really for sale",
        inquiries="how many asked about it",
        showings="how many came to see it",
        offers="the offers of the week",
        net="what a sale at the asking price would leave today",
        questions="what waits for an answer",
    ),
}

# An invented mail, to look at a wording before it is kept.
EXAMPLE: dict[str, str] = {
    "name": "Ada Fenwick", "vehicle": "1968 Merrow Alder", "stock_number": "M-1042", "lot": "The lot",
    "link": LINK_MARK, "date": "March 16, 2026", "ask": "$48,500.00", "before": "$51,000.00",
    "amount": "$44,750.00", "price": "$47,000.00", "until": "March 23, 2026", "number": "S-00012",
    "pay_by": "April 5, 2026", "way": "wire", "ends": "March 30, 2026", "days": "14 days",
    "text": "May the asking price go down to $46,000.00?", "state": "for sale", "inquiries": "3 inquiries",
    "showings": "1 showing", "offers": "1 offer: $44,750.00", "net": "$44,135.00", "questions": "nothing",
}  # fmt: skip


def places_of(kind: MessageKind) -> dict[str, str]:
    """All that a mail of this kind can say, by name, each with its meaning."""
    return {**EVERY_MAIL, **HOUSE[kind].places}


@dataclass(frozen=True)
class Filled:
    subject: str
    body: str


def filled(wording: Wording, *, values: dict[str, str]) -> Filled:
    return Filled(subject_of(wording.subject, values=values), fill(wording.body, values=values))
