"""How stays ended: outcomes with their frozen snapshot, settlements, and what was paid out."""

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.functions import Concat, Upper

from inventory.models.base import Appended, AppendedQuerySet
from inventory.models.consignments import Consignment
from inventory.models.deals import Deal
from inventory.models.fields import (
    MoneyField,
    WordField,
    at_least,
    client_key_field,
    interval_checks,
    points_field,
    within,
)
from inventory.models.jobs import SalesImport
from inventory.rules.words import (
    BuildClass,
    OdometerStatus,
    Payee,
    PaymentMethod,
    Result,
    SaleChannel,
    TitleBrand,
    WithdrawalReason,
)

SEAM = models.Value("\n")  # stands in no word that is looked for


class SaleOutcomeQuerySet(AppendedQuerySet["SaleOutcome"]):
    def ends(self) -> Self:
        """The end of each chain. As an anti-join: PostgreSQL takes an outer join that is null to leave one row."""
        return self.filter(~models.Exists(SaleOutcome.objects.filter(follows=models.OuterRef("pk"))))

    def live(self) -> Self:
        """The end of each chain, unless that end sets the sale aside."""
        return self.ends().exclude(result=Result.VOID)

    def for_fit(self) -> Self:
        return self.live().filter(result=Result.SOLD, arms_length=True)

    def naming(self, word: str) -> Self:
        """Those with a word in make, model or stock number, at the end of the VIN, or as the year."""
        found = models.Q(make__icontains=word) | models.Q(model__icontains=word)
        found |= models.Q(stock_number__icontains=word) | models.Q(vin__iendswith=word)
        held = models.Q(sought__contains=Upper(models.Value(word)))
        year = word.isascii() and word.isdigit() and len(word) == 4
        return self.filter(held & found | models.Q(year=int(word)) if year else held & found)


class SaleOutcome(Appended):
    """One end of a stay: sold or withdrawn, with the vehicle as it was.

    Imported past sales have no consignment: the snapshot is all they have. Null means not known.
    """

    consignment = models.ForeignKey(
        Consignment, on_delete=models.PROTECT, null=True, blank=True, related_name="outcomes"
    )
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by")
    deal = models.ForeignKey(Deal, on_delete=models.PROTECT, null=True, blank=True, related_name="outcomes")
    imported_with = models.ForeignKey(
        SalesImport, on_delete=models.PROTECT, null=True, blank=True, related_name="outcomes"
    )
    result = WordField(max_length=10, words=Result)
    reason = WordField(max_length=16, words=WithdrawalReason, blank=True)
    detail = models.CharField(max_length=200, blank=True)
    channel = WordField(max_length=16, words=SaleChannel, blank=True)
    arms_length = models.BooleanField("sold between strangers", default=True)
    ended_on = models.DateField()
    price = MoneyField(null=True, blank=True)
    concessions = MoneyField(default=0)
    over_allowance = MoneyField("allowed in trade above its worth", default=0)
    effective_price = MoneyField(null=True, blank=True)

    stock_number = models.CharField(max_length=40, blank=True)
    vin = models.CharField(max_length=40, blank=True)
    year = models.PositiveSmallIntegerField(validators=[MinValueValidator(1886), MaxValueValidator(2200)])
    make = models.CharField(max_length=200)
    model = models.CharField(max_length=200)
    trim = models.CharField(max_length=200, blank=True)
    body = models.CharField(max_length=200, blank=True)
    engine = models.CharField(max_length=200, blank=True)
    transmission = models.CharField(max_length=200, blank=True)
    build_class = WordField(max_length=20, words=BuildClass, blank=True)
    color = models.CharField(max_length=200, blank=True)
    mileage = models.PositiveIntegerField(null=True, blank=True, validators=[MaxValueValidator(2_000_000)])
    odometer_status = WordField(max_length=12, words=OdometerStatus, blank=True)
    condition_low = points_field()
    condition_high = points_field()
    originality_low = points_field()
    originality_high = points_field()
    title_brand = WordField(max_length=20, words=TitleBrand, blank=True)
    modifications = models.JSONField(null=True, blank=True)  # of strings, kinds or words; null: not known
    arrived_on = models.DateField(null=True, blank=True)
    listed_on = models.DateField(null=True, blank=True)
    first_ask = MoneyField(null=True, blank=True)
    last_ask = MoneyField(null=True, blank=True)

    content_hash = models.CharField(max_length=64, blank=True)  # of an imported row, to know it again
    by = models.CharField(max_length=120)
    at = models.DateTimeField()
    sought = models.GeneratedField(  # one column to look through: the case of four took six times as long
        expression=Upper(Concat("make", SEAM, "model", SEAM, "stock_number", SEAM, "vin")),
        output_field=models.TextField(),
        db_persist=True,
    )

    objects = SaleOutcomeQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(follows__isnull=True, consignment__isnull=False),
                name="saleoutcome_one_root_per_consignment",
                violation_error_message="This consignment has an outcome already.",
            ),
            models.UniqueConstraint(
                fields=["content_hash"],
                condition=~models.Q(content_hash=""),
                name="saleoutcome_imported_once",
                violation_error_message="This past sale is here already.",
            ),
            models.UniqueConstraint(
                fields=["stock_number"],
                condition=models.Q(consignment__isnull=True, follows__isnull=True) & ~models.Q(stock_number=""),
                name="saleoutcome_imported_stock_number_is_unique",
                violation_error_message="A past sale with this stock number is here already.",
            ),
            models.CheckConstraint(
                condition=~models.Q(result=Result.SOLD)
                | models.Q(price__isnull=False, price__gt=0, effective_price__isnull=False),
                name="saleoutcome_sold_has_price",
                violation_error_message="A sale has a price above zero.",
            ),
            models.CheckConstraint(
                condition=~models.Q(result=Result.WITHDRAWN) | models.Q(price__isnull=True),
                name="saleoutcome_withdrawn_has_no_price",
                violation_error_message="A withdrawn vehicle has no price.",
            ),
            models.CheckConstraint(
                condition=models.Q(arrived_on__isnull=True) | models.Q(arrived_on__lte=models.F("ended_on")),
                name="saleoutcome_ends_after_arrival",
                violation_error_message="A stay may not end before it began.",
            ),
            within("saleoutcome", field="result", allowed=Result.values),
            within("saleoutcome", field="reason", allowed=["", *WithdrawalReason.values]),
            within("saleoutcome", field="channel", allowed=["", *SaleChannel.values]),
            within("saleoutcome", field="build_class", allowed=["", *BuildClass.values]),
            within("saleoutcome", field="title_brand", allowed=["", *TitleBrand.values]),
            within("saleoutcome", field="odometer_status", allowed=["", *OdometerStatus.values]),
            *(
                at_least("saleoutcome", field=field)
                for field in ("concessions", "over_allowance", "effective_price", "first_ask", "last_ask")
            ),
            *interval_checks("saleoutcome", field="condition"),
            *interval_checks("saleoutcome", field="originality"),
        ]
        indexes = [
            models.Index(fields=["ended_on", "id"], name="outcome_by_date"),
            models.Index(fields=["make", "model", "year"], name="outcome_by_name"),
            models.Index(fields=["stock_number"], name="outcome_by_stock_number"),
            models.Index(Upper("stock_number"), name="outcome_by_upper_stock_number"),  # as iexact asks
            models.Index(
                Upper("make"),
                Upper("model"),
                models.F("ended_on").desc(),
                models.F("id").desc(),
                name="outcome_by_upper_name",
            ),
            models.Index(fields=["result", "ended_on", "id"], name="outcome_by_result"),
        ]

    def __str__(self) -> str:
        return f"{self.get_result_display()} {self.ended_on}: {self.year} {self.make} {self.model}"


class Settlement(Appended):
    """The approved statement of what a consignor is paid. A correction is a new one that follows it."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="settlements")
    follows = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by")
    outcome = models.ForeignKey(SaleOutcome, on_delete=models.PROTECT, related_name="settlements")
    terms = models.ForeignKey("Terms", on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveIntegerField(null=True, unique=True)  # counts through the whole lot, without gaps
    number = models.CharField(max_length=24, unique=True)
    is_reversal = models.BooleanField("takes back the one it follows", default=False)
    reason = models.CharField("why it was taken back", max_length=200, blank=True)
    pay_on = models.DateField("day it is paid out", null=True, blank=True)
    due = MoneyField("due to the consignor; negative: due from the consignor")
    pay_by = models.DateField()
    on = models.DateField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment"],
                condition=models.Q(follows__isnull=True),
                name="settlement_one_root_per_consignment",
                violation_error_message="This consignment has a settlement already.",
            ),
            models.CheckConstraint(
                condition=models.Q(is_reversal=False) | models.Q(follows__isnull=False) & ~models.Q(reason=""),
                name="settlement_reversal_follows_and_says_why",
                violation_error_message="A reversal names the statement it takes back, and says why.",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class SettlementLine(Appended):
    settlement = models.ForeignKey(Settlement, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=24)
    label = models.CharField(max_length=300)
    amount = MoneyField()
    vendor = models.CharField("vendor to be paid out of it", max_length=120, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["settlement", "position"], name="settlementline_position_is_unique")
        ]
        ordering = ["settlement", "position"]

    def __str__(self) -> str:
        return f"{self.label}: {self.amount}"


class SettlementPayee(Appended):
    """Who is paid what on a statement, frozen with it."""

    settlement = models.ForeignKey(Settlement, on_delete=models.PROTECT, related_name="payees")
    position = models.PositiveSmallIntegerField()
    kind = WordField(max_length=12, words=Payee)
    name = models.CharField(max_length=120)
    amount = MoneyField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["settlement", "position"], name="settlementpayee_position_is_unique"),
            within("settlementpayee", field="kind", allowed=Payee.values),
        ]
        ordering = ["settlement", "position"]

    def __str__(self) -> str:
        return f"{self.amount} to {self.name}"


class Disbursement(Appended):
    """Money that left the lot for one payee of a settlement."""

    settlement = models.ForeignKey(Settlement, on_delete=models.PROTECT, related_name="disbursements")
    share = models.ForeignKey(
        SettlementPayee, on_delete=models.PROTECT, null=True, blank=True, related_name="disbursements"
    )
    payee_kind = WordField(max_length=12, words=Payee)
    payee = models.CharField(max_length=120)
    amount = MoneyField()
    method = WordField(max_length=10, words=PaymentMethod)
    reference = models.CharField(max_length=60, blank=True)
    proof = models.FileField("proof of payment", upload_to="proofs/%Y/%m/", blank=True)
    proof_sha256 = models.CharField(max_length=64, blank=True)
    on = models.DateField()
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("disbursement", field="payee_kind", allowed=Payee.values),
            within("disbursement", field="method", allowed=PaymentMethod.values),
            models.CheckConstraint(
                condition=models.Q(amount__gt=0),
                name="disbursement_amount_above_0",
                violation_error_message="A payment must be above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} to {self.payee}"
