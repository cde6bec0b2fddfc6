"""Forms of the sale desk, one for each deed. They turn text into types; the rules decide elsewhere."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.sale_desk import SaleDesk
from inventory.rules import money
from inventory.rules.words import (
    Answer,
    DepositFate,
    InquiryWay,
    PaymentEvent,
    PaymentMethod,
    SaleChannel,
    WithdrawalReason,
)

TODAY = "Today if left empty."
BARGAIN = ("price", "buyer", "contact", "offer")
TRADE = ("concessions", "trade_allowance", "trade_value", "trade_note")
CONSENT = ("given_by", "how", "text")


class DeskForm(SeenForm):
    """Several stand on one page, so each has its own ids; those it needs choices for get the desk."""

    slug = ""
    FOLDED: tuple[tuple[str, tuple[str, ...], str], ...] = ()  # heading, fields, the field whose error opens them

    def __init__(self, data: Any = None, *, desk: SaleDesk) -> None:
        super().__init__(data, auto_id=f"{self.slug}-%s", initial=self.begin_with(desk))
        self.offer_choices(desk)

    def begin_with(self, desk: SaleDesk) -> dict[str, Any]:
        return {"version": desk.stay.version}

    def offer_choices(self, desk: SaleDesk) -> None:
        """What is chosen from depends on the stay."""

    def plain_fields(self) -> list[forms.BoundField]:
        folded = {name for _, names, _ in self.FOLDED for name in names}
        return [field for field in self.visible_fields() if field.name not in folded]

    def folded_fields(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """Groups that are seldom needed: heading, fields, and whether they are wanted now."""
        return [
            (heading, [self[name] for name in names], opener in self.errors or any(map(self._stands, names)))
            for heading, names, opener in self.FOLDED
        ]

    def _stands(self, name: str) -> bool:
        return bool(name in self.errors or self[name].value())


class VersionedDeskForm(VersionedForm, DeskForm):
    """A deed that changes the state: refused when the page showed an older one."""


class InquiryForm(DeskForm):
    slug = "inquiry"
    way = forms.ChoiceField(label="How they asked", choices=chosen(InquiryWay))
    who = forms.CharField(label="Who asked", required=False, max_length=120, help_text="If they said.")
    about = forms.CharField(label="What about", required=False, max_length=200)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()


class ShowingForm(DeskForm):
    slug = "showing"
    inquiry = forms.TypedChoiceField(label="Out of which inquiry", coerce=int, required=False, empty_value=None)
    who = forms.CharField(label="Who came", required=False, max_length=120, help_text="If they said.")
    note = forms.CharField(label="Note", required=False, max_length=200)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()

    def offer_choices(self, desk: SaleDesk) -> None:
        asked = [(row.pk, f"{row.on}, {row.who or row.get_way_display()}") for row in desk.interest.inquiries]
        self.fields["inquiry"].choices = [("", "None of them"), *asked]  # type: ignore[attr-defined]


class OfferForm(DeskForm):
    slug = "offer"
    amount = MoneyInput(label="Amount offered")
    bidder = forms.CharField(label="Who offers", max_length=120)
    contact = forms.CharField(label="Phone or e-mail", required=False, max_length=120)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    note = forms.CharField(label="Note", required=False, max_length=200, help_text="Not shown to the consignor.")
    client_key = OnceKey()


class AnswerForm(DeskForm):
    slug = "answer"
    offer = forms.TypedChoiceField(label="Offer", coerce=int)
    answer = forms.ChoiceField(label="Answer", choices=chosen(Answer))
    amount = MoneyInput(label="Counter offer", required=False, help_text="Only when it is countered.")
    note = forms.CharField(label="Note", required=False, max_length=200, help_text="Not shown to the consignor.")

    def offer_choices(self, desk: SaleDesk) -> None:
        self.fields["offer"].choices = _offers(desk)  # type: ignore[attr-defined]


class BargainForm(VersionedDeskForm):
    price = MoneyInput(label="Price agreed")
    buyer = forms.CharField(label="Buyer", max_length=120)
    contact = forms.CharField(label="Buyer's phone or e-mail", required=False, max_length=120)
    offer = forms.TypedChoiceField(label="Out of which offer", coerce=int, required=False, empty_value=None)
    concessions = MoneyInput(
        label="Given with the sale", required=False, help_text="What lot or consignor gave: lowers the effective price."
    )
    trade_allowance = MoneyInput(label="Allowed for a vehicle taken in trade", required=False)
    trade_value = MoneyInput(label="What that vehicle is worth", required=False)
    trade_note = forms.CharField(label="Which vehicle", required=False, max_length=200)
    given_by = forms.CharField(label="Who gave consent", required=False, max_length=120)
    how = forms.CharField(label="How", required=False, max_length=120, help_text="In writing, by phone, in person.")
    text = forms.CharField(
        label="The words agreed to", required=False, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Exactly as the consignor gave or read them.",
    )  # fmt: skip

    FOLDED = (
        ("Concessions and trade-in", TRADE, ""),
        ("Below the floor: the consignor's consent", CONSENT, "price"),
    )

    def offer_choices(self, desk: SaleDesk) -> None:
        self.fields["offer"].choices = [("", "None of them"), *_offers(desk)]  # type: ignore[attr-defined]

    def begin_with(self, desk: SaleDesk) -> dict[str, Any]:
        """The deal that holds it, else the highest offer that was accepted."""
        given = super().begin_with(desk)
        if desk.deal is not None:
            names = ("price", "buyer", "contact", *TRADE)
            return {**given, **{name: getattr(desk.deal, name) or None for name in names}, "offer": desk.deal.offer_id}
        taken = max((row.row for row in desk.offers if row.is_accepted), key=lambda row: row.amount, default=None)
        if taken is None:
            return given
        return {
            **given, "price": taken.amount, "buyer": taken.bidder, "contact": taken.contact, "offer": taken.pk,
        }  # fmt: skip

    def bargain(self) -> dict[str, Any]:
        said = self.cleaned_data
        amounts = ("concessions", "trade_allowance", "trade_value")
        return {
            **{name: said[name] for name in ("price", "buyer", "contact", "trade_note")},
            **{name: money.ZERO if said[name] is None else said[name] for name in amounts},
            "offer_id": said["offer"],
        }

    def consent(self) -> dict[str, Any] | None:
        said = {name: self.cleaned_data[name] for name in CONSENT}
        return said if any(said.values()) else None


class DepositForm(BargainForm):
    slug = "deposit"
    deposit = MoneyInput(label="Deposit")
    method = forms.ChoiceField(label="Paid by", choices=chosen(PaymentMethod))
    hold_until = DayInput(label="Held until")
    client_key = OnceKey()
    field_order = ("price", "buyer", "contact", "deposit", "method", "hold_until", "offer")


class SoldForm(BargainForm):
    slug = "sold"
    sold_on = DayInput(label="Sold on", required=False, help_text=TODAY)
    channel = forms.ChoiceField(label="How it was sold", choices=chosen(SaleChannel))
    not_arms_length = forms.BooleanField(
        label="Buyer and seller know each other, so the price teaches nothing", required=False
    )
    field_order = ("price", "buyer", "contact", "sold_on", "channel", "offer", "not_arms_length")


class FallThroughForm(VersionedDeskForm):
    slug = "fall-through"
    reason = forms.CharField(label="Why it fell through", max_length=200)
    deposit_fate = forms.ChoiceField(label="The deposit is", choices=chosen(DepositFate))


class PaymentForm(DeskForm):
    slug = "payment"
    amount = MoneyInput(label="Amount received")
    method = forms.ChoiceField(label="Paid by", choices=chosen(PaymentMethod))
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()


class PaymentFateForm(DeskForm):
    slug = "payment-fate"
    payment = forms.TypedChoiceField(
        label="Payment", coerce=int,
        error_messages={"invalid_choice": "What became of this payment is known already, or it is of another vehicle."},
    )  # fmt: skip
    event = forms.ChoiceField(
        label="What became of it",
        choices=[choice for choice in chosen(PaymentEvent) if choice[0] != PaymentEvent.RECEIVED],
    )
    on = DayInput(label="Date", required=False, help_text=TODAY)

    def offer_choices(self, desk: SaleDesk) -> None:
        self.fields["payment"].choices = [  # type: ignore[attr-defined]
            (payment.row.pk, f"{money.show(payment.row.amount)}, {payment.row.on}, {payment.deal.buyer}")
            for payment in desk.open_payments
        ]


class WithdrawForm(VersionedDeskForm):
    slug = "withdraw"
    reason = forms.ChoiceField(label="Why", choices=chosen(WithdrawalReason))
    detail = forms.CharField(label="More about it", required=False, max_length=200)
    on = DayInput(label="Date", required=False, help_text=TODAY)


class ChargesPaidForm(DeskForm):
    slug = "charges-paid"
    amount = MoneyInput(label="Paid by the consignor")
    method = forms.ChoiceField(label="Paid by", choices=chosen(PaymentMethod))
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()

    def begin_with(self, desk: SaleDesk) -> dict[str, Any]:
        return {**super().begin_with(desk), "amount": desk.charges_unpaid}


class TitleSentForm(DeskForm):
    slug = "title-sent"
    on = DayInput(label="Sent on", required=False, help_text=TODAY)


class ReleaseForm(VersionedDeskForm):
    slug = "release"
    signed_for_by = forms.CharField(label="Signed for by", max_length=120)
    on = DayInput(label="Date", required=False, help_text=TODAY)


class UnwindForm(VersionedDeskForm):
    slug = "unwind"
    reason = forms.CharField(label="Why the sale is unwound", max_length=200)


def _offers(desk: SaleDesk) -> list[tuple[Any, str]]:
    return [(row.row.pk, f"{money.show(row.row.amount)} from {row.row.bidder}, {row.row.on}") for row in desk.offers]
