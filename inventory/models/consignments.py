"""One stay of one vehicle on the lot: its state, terms, asks, offers, deals, charges and whereabouts."""

from typing import Self

from django.core.validators import MaxValueValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.fields import MoneyField, WordField, at_least, client_key_field, code_field, within
from inventory.models.people import Consignor
from inventory.models.vehicles import Vehicle
from inventory.rules.states import State
from inventory.rules.words import (
    Answer,
    BornBy,
    ChargeKind,
    Objective,
    OdometerStatus,
    PaymentMethod,
)


class ConsignmentQuerySet(models.QuerySet["Consignment"]):
    def still_here(self) -> Self:
        return self.filter(released_on__isnull=True)


class Consignment(models.Model):
    """One stay of one vehicle on the lot. `state` is changed by `actions.moving.move` alone."""

    code = code_field()
    stock_number = models.CharField(max_length=20, unique=True)
    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="consignments")
    consignor = models.ForeignKey(Consignor, on_delete=models.PROTECT, related_name="consignments")
    state = WordField(max_length=12, words=State, default=State.BOOKED)
    state_at = models.DateTimeField()
    state_by = models.CharField(max_length=120)
    booked_on = models.DateField()
    arrived_on = models.DateField(null=True, blank=True)
    listed_on = models.DateField(null=True, blank=True)
    mileage = models.PositiveIntegerField(
        "odometer reading, miles", null=True, blank=True, validators=[MaxValueValidator(2_000_000)]
    )
    odometer_status = WordField(max_length=12, words=OdometerStatus, default=OdometerStatus.NOT_STATED)
    title_sent_on = models.DateField(null=True, blank=True)
    released_on = models.DateField(null=True, blank=True)
    signed_for_by = models.CharField(max_length=120, blank=True)
    note = models.TextField("internal note", blank=True)
    key_tag = models.CharField("tag on the keys", max_length=20, blank=True)
    imported_with = models.ForeignKey(
        "SalesImport", on_delete=models.PROTECT, null=True, blank=True, related_name="consignments"
    )
    content_hash = models.CharField(max_length=64, blank=True)  # of an imported row, to know it again
    version = models.PositiveIntegerField(default=1)

    objects = ConsignmentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["vehicle"],
                condition=models.Q(released_on__isnull=True),
                name="consignment_one_open_per_vehicle",
                violation_error_message="This vehicle is on the lot already, under another stock number.",
            ),
            models.UniqueConstraint(
                fields=["key_tag"],
                condition=models.Q(released_on__isnull=True) & ~models.Q(key_tag=""),
                name="consignment_key_tag_is_unique",
                violation_error_message="This key tag is on the keys of another vehicle.",
            ),
            models.UniqueConstraint(
                fields=["content_hash"],
                condition=~models.Q(content_hash=""),
                name="consignment_imported_once",
                violation_error_message="This row was imported already.",
            ),
            within("consignment", field="state", allowed=State.values),
            within("consignment", field="odometer_status", allowed=OdometerStatus.values),
            models.CheckConstraint(
                condition=~models.Q(state=State.RELEASED) | models.Q(released_on__isnull=False),
                name="consignment_released_has_date",
                violation_error_message="A released vehicle has the date it left.",
            ),
            models.CheckConstraint(
                condition=models.Q(released_on__isnull=True) | ~models.Q(signed_for_by=""),
                name="consignment_released_is_signed_for",
                violation_error_message="Somebody signs for a vehicle that leaves.",
            ),
            at_least("consignment", field="mileage"),
        ]
        indexes = [
            models.Index(fields=["state", "id"], name="consignment_by_state"),
            models.Index(fields=["released_on", "id"], name="consignment_by_release"),
        ]

    def __str__(self) -> str:
        return self.stock_number

    @property
    def is_open(self) -> bool:
        return self.released_on is None


class AskChange(Appended):
    """The asking price from this moment on."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="asks")
    amount = MoneyField()
    reason = models.CharField(max_length=200, blank=True)
    opinion = models.ForeignKey("PriceOpinion", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    suggested = MoneyField("ask suggested when it was set", null=True, blank=True)
    objective = WordField(max_length=16, words=Objective, blank=True)
    suggested_because = models.CharField("reason of the suggestion", max_length=400, blank=True)
    expected = models.JSONField("what was expected of this ask", default=dict, blank=True)
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="askchange_amount_above_0",
                violation_error_message="The ask must be above zero.",
            ),
            within("askchange", field="objective", allowed=["", *Objective.values]),
            models.CheckConstraint(
                condition=models.Q(suggested__isnull=True) | models.Q(suggested__gt=0) & ~models.Q(objective=""),
                name="askchange_suggestion_has_objective",
                violation_error_message="A suggestion is above zero and says what it was made for.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="ask_by_consignment")]

    def __str__(self) -> str:
        return f"ask of {self.consignment_id} at {self.amount}"


class Offer(Appended):
    """What somebody would pay. Answers are rows of their own."""

    erasable = ("bidder", "contact", "note", "conditions")

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="offers")
    amount = MoneyField()
    bidder = models.CharField(max_length=120)
    contact = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=200, blank=True)
    conditions = models.CharField(max_length=300, blank=True)
    expires_on = models.DateField("stands until", null=True, blank=True)
    held_back = models.BooleanField("below what the consignor wants passed on", default=False)
    client_key = client_key_field()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="offer_amount_above_0",
                violation_error_message="An offer must be above zero.",
            )
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="offer_by_consignment")]

    def __str__(self) -> str:
        return f"offer of {self.amount} by {self.bidder}"


class OfferAnswer(Appended):
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="answers")
    answer = WordField(max_length=12, words=Answer)
    amount = MoneyField("counter", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("offeranswer", field="answer", allowed=Answer.values),
            models.CheckConstraint(
                condition=~models.Q(answer=Answer.COUNTERED) | models.Q(amount__isnull=False, amount__gt=0),
                name="offeranswer_counter_has_amount",
                violation_error_message="A counter offer has an amount.",
            ),
        ]

    def __str__(self) -> str:
        return self.get_answer_display()


class Charge(Appended):
    """An agreed cost. One that was wrong is set aside by a row that names it."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="charges")
    kind = WordField(max_length=16, words=ChargeKind)
    what = models.CharField(max_length=200)
    amount = MoneyField()
    borne_by = WordField(max_length=10, words=BornBy, default=BornBy.CONSIGNOR)
    agreed_by = models.CharField("who agreed to it", max_length=120)
    vendor = models.CharField("who is to be paid for it, if not the lot", max_length=120, blank=True)
    consent = models.OneToOneField(
        "ConsentRequest", on_delete=models.PROTECT, null=True, blank=True, related_name="charge"
    )
    on = models.DateField()
    sets_aside = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="set_aside_by"
    )
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("charge", field="kind", allowed=ChargeKind.values),
            within("charge", field="borne_by", allowed=BornBy.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="charge_amount_above_0",
                violation_error_message="A charge must be above zero.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="charge_by_consignment")]

    def __str__(self) -> str:
        return self.what


class ConsignorPayment(Appended):
    """Money that the consignor paid to the lot, towards charges."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="consignor_payments")
    amount = MoneyField()
    method = WordField(max_length=10, words=PaymentMethod)
    reference = models.CharField("number or reference", max_length=60, blank=True)
    on = models.DateField()
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("consignorpayment", field="method", allowed=PaymentMethod.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="consignorpayment_amount_above_0",
                violation_error_message="A payment must be above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} from the consignor"


class StatusLink(models.Model):
    """A private link to one consignment. Only a digest of its token is kept."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="links")
    digest = models.CharField(max_length=64, unique=True)
    seed = models.CharField(max_length=64, blank=True)  # with the server's key the token again, for mail; alone nothing
    prefix = models.CharField(max_length=8)
    made_by = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(revoked_at__isnull=True),
                name="statuslink_one_live_per_consignment",
                violation_error_message="This consignment has a live private link already.",
            )
        ]

    def __str__(self) -> str:
        return f"link {self.prefix}…"


class Movement(Appended):
    """Where vehicle and keys are from this moment on."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="movements")
    place = models.CharField(max_length=60)
    at_place = models.ForeignKey("Place", on_delete=models.PROTECT, null=True, blank=True, related_name="movements")
    keys = models.CharField("where the keys are", max_length=60, blank=True)
    expected_back_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    client_key = client_key_field()
    not_for_sale = models.BooleanField("not for sale while there: in the shop, away, at home", default=False)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["consignment", "id"], name="movement_by_consignment")]

    def __str__(self) -> str:
        return self.place
