"""Forms of the sale desk, one for each deed. They turn text into types; the rules decide elsewhere."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.sale_desk import SaleDesk
from inventory.rules import money
from inventory.rules.floor_words import InquiryAim
from inventory.rules.words import (
    Answer,
    DepositFate,
    ExtraKind,
    InquiryWay,
    PaymentEvent,
    PaymentMethod,
    SaleChannel,
    WithdrawalReason,
)

TODAY = "Today if left empty."
APART = {"autocomplete": "off"}  # it is somebody else's, not that of whoever types
PHONE = {"type": "tel", **APART}
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
    aim = forms.TypedChoiceField(
        label="What they want", choices=chosen(InquiryAim), required=False, empty_value=InquiryAim.QUESTION
    )
    who = forms.CharField(label="Who asked", required=False, max_length=120, help_text="If they said.")
    phone = forms.CharField(label="Phone", required=False, max_length=40, widget=forms.TextInput(attrs=PHONE))
    email = forms.EmailField(label="E-mail", required=False, max_length=254, widget=forms.EmailInput(attrs=APART))
    about = forms.CharField(label="What about", required=False, max_length=200)
    follow_up_on = DayInput(label="Follow up on", required=False, help_text="Empty: nothing is left to do.")
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
    conditions = forms.CharField(
        label="Conditions",
        required=False,
        max_length=300,
        help_text="Shown to the consignor: inspection, a loan, a trade.",
    )
    expires_on = DayInput(label="Stands until", required=False)
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
    address = forms.CharField(
        label="Buyer's address", required=False, max_length=300, help_text="As the bill of sale has it.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
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
            names = ("price", "buyer", "address", "contact", *TRADE)
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
            **{name: said[name] for name in ("price", "buyer", "address", "contact", "trade_note")},
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
    refundable = forms.ChoiceField(
        label="If the deal falls through, it", choices=[("yes", "Goes back to the buyer"), ("no", "May be kept")],
        help_text="Say so to the buyer: it stands on the receipt. Whether it may be kept, local law says.",
    )  # fmt: skip
    client_key = OnceKey()
    field_order = ("price", "buyer", "contact", "address", "deposit", "method", "hold_until", "refundable", "offer")


class SoldForm(BargainForm):
    slug = "sold"
    sold_on = DayInput(label="Sold on", required=False, help_text=TODAY)
    channel = forms.ChoiceField(label="How it was sold", choices=chosen(SaleChannel))
    not_arms_length = forms.BooleanField(
        label="Buyer and seller know each other, so the price teaches nothing", required=False
    )
    field_order = ("price", "buyer", "contact", "address", "sold_on", "channel", "offer", "not_arms_length")


class FallThroughForm(VersionedDeskForm):
    slug = "fall-through"
    reason = forms.CharField(label="Why it fell through", max_length=200)
    deposit_fate = forms.ChoiceField(label="The deposit is", choices=chosen(DepositFate))


class PaymentForm(DeskForm):
    slug = "payment"
    amount = MoneyInput(label="Amount received")
    method = forms.ChoiceField(label="Paid by", choices=chosen(PaymentMethod))
    reference = forms.CharField(label="Number or reference", required=False, max_length=60)
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
    amount = MoneyInput(label="Part that was returned", required=False, help_text="Empty: all of it.")
    on = DayInput(label="Date", required=False, help_text=TODAY)

    def offer_choices(self, desk: SaleDesk) -> None:
        self.fields["payment"].choices = [  # type: ignore[attr-defined]
            (payment.row.pk, f"{money.show(payment.row.amount)}, {payment.row.on}, {payment.deal.buyer}")
            for payment in desk.open_payments
        ]


class ExtraForm(DeskForm):
    slug = "extra"
    kind = forms.ChoiceField(label="What", choices=chosen(ExtraKind))
    amount = MoneyInput(label="Amount", help_text="As your tax tables say: nothing is reckoned here.")
    label = forms.CharField(label="More about it", required=False, max_length=120)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()


class ExtraAsideForm(DeskForm):
    slug = "extra-aside"
    extra = forms.TypedChoiceField(label="Tax or fee", coerce=int)

    def offer_choices(self, desk: SaleDesk) -> None:
        self.fields["extra"].choices = [(row.pk, str(row)) for row in desk.extras]  # type: ignore[attr-defined]


class ConcedeForm(DeskForm):
    slug = "concession"
    amount = MoneyInput(label="Money off, borne by the lot")
    reason = forms.CharField(label="What for", max_length=200)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()


class TradeForm(DeskForm):
    slug = "trade"
    year = forms.IntegerField(label="Year", min_value=1886, max_value=2200)
    make = forms.CharField(label="Make", max_length=60)
    model = forms.CharField(label="Model", max_length=60)
    vin = forms.CharField(label="VIN or serial", required=False, max_length=40)
    vin_reason = forms.CharField(label="Why a number that fails its check is right", required=False, max_length=200)
    mileage = forms.IntegerField(label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000)


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
        return {**super().begin_with(desk), "amount": desk.owed_by_consignor}


class TitleSentForm(DeskForm):
    slug = "title-sent"
    to_whom = forms.CharField(label="Sent to", max_length=120, required=False, help_text="The buyer if left empty.")
    way = forms.CharField(
        label="How it was sent", max_length=120, required=False, help_text="By mail with its tracking number, by hand."
    )
    on = DayInput(label="Sent on", required=False, help_text=TODAY)

    def begin_with(self, desk: SaleDesk) -> dict[str, Any]:
        return {**super().begin_with(desk), "to_whom": desk.deal.buyer if desk.deal else ""}


class UnwindForm(VersionedDeskForm):
    slug = "unwind"
    reason = forms.CharField(label="Why the sale is unwound", max_length=200)


def _offers(desk: SaleDesk) -> list[tuple[Any, str]]:
    return [(row.row.pk, f"{money.show(row.row.amount)} from {row.row.bidder}, {row.row.on}") for row in desk.offers]
