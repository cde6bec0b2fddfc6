"""A bargain with a buyer, and the buyer's money."""

from django.db import models

from inventory.models.agreements import ConsentRequest
from inventory.models.base import Appended
from inventory.models.consignments import Consignment, Offer
from inventory.models.fields import MoneyField, WordField, at_least, client_key_field, within
from inventory.rules.words import BornBy, DealEnd, DepositFate, ExtraKind, PaymentEvent, PaymentMethod, TrustKind


class Deal(models.Model):
    """A buyer and a price, from the deposit (or the sale itself) until sold, fallen through or unwound."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="deals")
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, null=True, blank=True, related_name="deals")
    buyer = models.CharField(max_length=120)
    address = models.TextField("buyer's address", max_length=300, blank=True)
    contact = models.CharField(max_length=120, blank=True)
    price = MoneyField()
    concessions = MoneyField("given by the lot or consignor with the sale", default=0)
    trade_allowance = MoneyField("allowed for a vehicle taken in trade", default=0)
    trade_value = MoneyField("what that vehicle is worth", default=0)
    trade_note = models.CharField(max_length=200, blank=True)
    trade_stay = models.OneToOneField(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="traded_in_with"
    )
    refundable = models.BooleanField("the deposit goes back if the deal falls through", default=True)
    hold_until = models.DateField(null=True, blank=True)
    began_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    end = WordField(max_length=16, words=DealEnd, blank=True)
    end_reason = models.CharField(max_length=200, blank=True)
    deposit_fate = WordField(max_length=10, words=DepositFate, blank=True)
    forfeited = MoneyField("deposit kept when it fell through", default=0)
    forfeited_to_consignor = MoneyField("the consignor's share of that", default=0)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(end="") | models.Q(end=DealEnd.SOLD),
                name="deal_one_live_per_consignment",
                violation_error_message="There is a deal on this vehicle already.",
            ),
            models.CheckConstraint(
                condition=models.Q(price__gt=0),
                name="deal_price_above_0",
                violation_error_message="The price must be above zero.",
            ),
            *(
                at_least("deal", field=field)
                for field in ("concessions", "trade_allowance", "trade_value", "forfeited", "forfeited_to_consignor")
            ),
            models.CheckConstraint(
                condition=models.Q(forfeited_to_consignor__lte=models.F("forfeited")),
                name="deal_share_within_forfeit",
                violation_error_message="The consignor's share cannot be more than what was kept.",
            ),
            models.CheckConstraint(
                condition=models.Q(end="", ended_on__isnull=True)
                | (~models.Q(end="") & models.Q(ended_on__isnull=False)),
                name="deal_end_has_date",
                violation_error_message="A deal that ended has the date of its end.",
            ),
        ]

    def __str__(self) -> str:
        return f"deal with {self.buyer}"


class BuyerPayment(Appended):
    """Money of the buyer: received; then, as rows that name it, cleared, bounced or returned."""

    deal = models.ForeignKey(Deal, on_delete=models.PROTECT, related_name="payments")
    event = WordField(max_length=10, words=PaymentEvent)
    of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="events")
    is_deposit = models.BooleanField(default=False)
    amount = MoneyField()
    method = WordField(max_length=10, words=PaymentMethod)
    reference = models.CharField("number or reference", max_length=60, blank=True)
    on = models.DateField()
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("buyerpayment", field="event", allowed=PaymentEvent.values),
            within("buyerpayment", field="method", allowed=PaymentMethod.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="buyerpayment_amount_above_0",
                violation_error_message="A payment must be above zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(event=PaymentEvent.RECEIVED, of__isnull=True)
                | (~models.Q(event=PaymentEvent.RECEIVED) & models.Q(of__isnull=False)),
                name="buyerpayment_event_names_payment",
                violation_error_message="Say which payment cleared, bounced or was returned.",
            ),
            models.UniqueConstraint(fields=["of", "event"], name="buyerpayment_event_once_per_payment"),
            models.UniqueConstraint(
                fields=["of"],
                condition=models.Q(event__in=[PaymentEvent.CLEARED, PaymentEvent.BOUNCED]),
                name="buyerpayment_clears_or_bounces",
                violation_error_message="This payment has cleared or bounced already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_event_display()} {self.amount}"


class Concession(Appended):
    """Money off the price after the sale, and who bears it. One borne by the consignor needs their consent."""

    deal = models.ForeignKey(Deal, on_delete=models.PROTECT, related_name="later_concessions")
    amount = MoneyField()
    borne_by = WordField(max_length=10, words=BornBy)
    reason = models.CharField(max_length=200)
    consent = models.OneToOneField(
        ConsentRequest, on_delete=models.PROTECT, null=True, blank=True, related_name="concession"
    )
    client_key = client_key_field()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("concession", field="borne_by", allowed=BornBy.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0) & ~models.Q(reason=""),
                name="concession_has_amount_and_reason",
                violation_error_message="A concession has an amount above zero and a reason.",
            ),
            models.CheckConstraint(
                condition=models.Q(borne_by=BornBy.LOT) | models.Q(consent__isnull=False),
                name="concession_of_consignor_has_consent",
                violation_error_message="What the consignor bears, the consignor agreed to.",
            ),
        ]

    def __str__(self) -> str:
        return f"concession of {self.amount}"


class DealExtra(Appended):
    """Tax or fee that the buyer pays beside the price. One that was wrong is set aside by a row that names it."""

    deal = models.ForeignKey(Deal, on_delete=models.PROTECT, related_name="extras")
    kind = WordField(max_length=16, words=ExtraKind)
    label = models.CharField(max_length=120, blank=True)
    amount = MoneyField()
    sets_aside = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="set_aside_by"
    )
    client_key = client_key_field()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("dealextra", field="kind", allowed=ExtraKind.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="dealextra_amount_above_0",
                violation_error_message="A tax or fee must be above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.amount}"


class TrustMovement(Appended):
    """Money between the trust account and the lot's own money, or passed on to an authority, for one consignment."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="trust_movements")
    kind = WordField(max_length=14, words=TrustKind)
    amount = MoneyField()
    method = WordField(max_length=10, words=PaymentMethod)
    reference = models.CharField("number or reference", max_length=60, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_key = client_key_field()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("trustmovement", field="kind", allowed=TrustKind.values),
            within("trustmovement", field="method", allowed=PaymentMethod.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="trustmovement_amount_above_0",
                violation_error_message="The amount must be above zero.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="trust_by_consignment")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.amount}"


class BankBalance(Appended):
    """What the bank says stands in the trust account on a day."""

    amount = MoneyField("balance of the bank")
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.amount} on {self.on}"
