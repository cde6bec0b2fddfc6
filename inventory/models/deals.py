"""A bargain with a buyer, and the buyer's money."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment, Offer
from inventory.models.fields import MoneyField, WordField, at_least, client_key_field, within
from inventory.rules.words import DealEnd, DepositFate, PaymentEvent, PaymentMethod


class Deal(models.Model):
    """A buyer and a price, from the deposit (or the sale itself) until sold, fallen through or unwound."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="deals")
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, null=True, blank=True, related_name="deals")
    buyer = models.CharField(max_length=120)
    contact = models.CharField(max_length=120, blank=True)
    price = MoneyField()
    concessions = MoneyField("given by the lot or consignor with the sale", default=0)
    trade_allowance = MoneyField("allowed for a vehicle taken in trade", default=0)
    trade_value = MoneyField("what that vehicle is worth", default=0)
    trade_note = models.CharField(max_length=200, blank=True)
    hold_until = models.DateField(null=True, blank=True)
    began_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    end = WordField(max_length=16, words=DealEnd, blank=True)
    end_reason = models.CharField(max_length=200, blank=True)
    deposit_fate = WordField(max_length=10, words=DepositFate, blank=True)
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
            *(at_least("deal", field=field) for field in ("concessions", "trade_allowance", "trade_value")),
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
