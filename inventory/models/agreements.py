"""What lot and consignor agreed: terms in versions, and consent beyond them."""

from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.functional import cached_property

from inventory.models.base import Appended, AppendedQuerySet
from inventory.models.consignments import Consignment, StatusLink
from inventory.models.fields import MoneyField, WordField, at_least, client_key_field, code_field, within
from inventory.rules.words import (
    ChargeKind,
    CommissionBase,
    ConsentKind,
    ConsentResult,
    Exclusivity,
    FloorKind,
    PlanKind,
    TitleProtection,
)

_AMOUNTS = (
    "minimum", "maximum", "flat", "guaranteed_net", "floor", "lien_amount", "lien_per_day", "consent_below",
    "convey_from", "storage_per_day", "withdrawal_fee",
)  # fmt: skip


class TermsQuerySet(AppendedQuerySet["Terms"]):
    def ranked(self) -> Self:
        """The version in effect first: the latest that both sides accepted; until there is one, the latest at all.

        Accepted is one that was signed on paper, or agreed to in answer to a question (`accepted` is 1, else 0).
        """
        answered = ConsentAnswer.objects.filter(request__terms=models.OuterRef("pk"), result=ConsentResult.AGREED)
        accepted = models.Case(models.When(~models.Q(signed_by="") | models.Exists(answered), then=1), default=0)
        return self.annotate(accepted=accepted).order_by("-accepted", "-number")


class Terms(Appended):
    """One version of what lot and consignor agreed; the latest that both sides accepted counts."""

    accepted: int  # set by `ranked`

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="terms")
    number = models.PositiveIntegerField()
    plan_kind = WordField(max_length=24, words=PlanKind)
    rate = models.DecimalField("commission, percent", max_digits=6, decimal_places=3, null=True, blank=True)
    minimum = MoneyField("least commission", null=True, blank=True)
    maximum = MoneyField("most commission", null=True, blank=True)
    tiers = models.JSONField(default=list, blank=True)  # [[up to, or null; rate], …] as strings
    flat = MoneyField("flat fee", null=True, blank=True)
    guaranteed_net = MoneyField(null=True, blank=True)
    commission_base = WordField("commission is taken of", max_length=12, words=CommissionBase, default="price")
    floor = MoneyField(null=True, blank=True)
    floor_kind = WordField(max_length=8, words=FloorKind, default=FloorKind.PRICE)
    starts_on = models.DateField()
    ends_on = models.DateField()
    signed_by = models.CharField(max_length=120, blank=True)
    signed_on = models.DateField(null=True, blank=True)
    title_protection = WordField(max_length=16, words=TitleProtection, default=TitleProtection.NONE)
    title_protection_note = models.CharField("its number, account or place", max_length=120, blank=True)
    exclusivity = WordField(max_length=12, words=Exclusivity, default=Exclusivity.EXCLUSIVE)
    renewal_days = models.PositiveSmallIntegerField(
        "days a renewal would add", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(730)]
    )
    protection_days = models.PositiveSmallIntegerField(
        "days after the end in which a sale to a buyer the lot introduced still owes commission",
        default=0,
        validators=[MaxValueValidator(730)],
    )
    step_downs = models.JSONField("asks agreed ahead", default=list, blank=True)  # [[days listed, "ask"], …]
    consent_below = MoneyField("asks below this need the consignor's consent", null=True, blank=True)
    convey_from = MoneyField("offers below this need not be passed on", null=True, blank=True)
    charge_rules = models.JSONField("who bears which charge", default=list, blank=True)  # [[kind, by, cap]]
    storage_per_day = MoneyField("storage after the end, a day", null=True, blank=True)
    storage_free_days = models.PositiveSmallIntegerField(
        "days after the end without storage", default=0, validators=[MaxValueValidator(365)]
    )
    withdrawal_fee = MoneyField("fee for taking it back before the end", null=True, blank=True)
    forfeit_percent = models.DecimalField(
        "consignor's share of a forfeited deposit, percent", max_digits=6, decimal_places=3, null=True, blank=True
    )
    insurance = models.CharField("who insures the vehicle, and for what", max_length=400, blank=True)
    photos_allowed = models.BooleanField("photos may be shown", default=True)
    test_drives_allowed = models.BooleanField("test drives are allowed", default=True)
    payees = models.JSONField("who is paid which share", default=list, blank=True)  # [[name, percent]]
    lien_holder = models.CharField(max_length=120, blank=True)
    lien_amount = MoneyField("lien payoff quoted", null=True, blank=True)
    lien_quoted_on = models.DateField(null=True, blank=True)
    lien_good_until = models.DateField(null=True, blank=True)
    lien_per_day = MoneyField("lien, each further day", null=True, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    objects = TermsQuerySet.as_manager()  # type: ignore[misc]

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["consignment", "number"], name="terms_number_is_unique"),
            within("terms", field="plan_kind", allowed=PlanKind.values),
            within("terms", field="floor_kind", allowed=FloorKind.values),
            within("terms", field="title_protection", allowed=TitleProtection.values),
            within("terms", field="commission_base", allowed=CommissionBase.values),
            within("terms", field="exclusivity", allowed=Exclusivity.values),
            models.CheckConstraint(
                condition=models.Q(forfeit_percent__isnull=True)
                | models.Q(forfeit_percent__gte=0, forfeit_percent__lte=100),
                name="terms_forfeit_is_percent",
                violation_error_message="The share of a forfeited deposit is a percentage from 0 to 100.",
            ),
            models.CheckConstraint(
                condition=models.Q(starts_on__lte=models.F("ends_on")),
                name="terms_start_before_end",
                violation_error_message="The agreement may not end before it starts.",
            ),
            models.CheckConstraint(
                condition=models.Q(rate__isnull=True) | models.Q(rate__gte=0, rate__lte=100),
                name="terms_rate_is_percent",
                violation_error_message="The commission is a percentage from 0 to 100.",
            ),
            models.CheckConstraint(
                condition=models.Q(signed_by="", signed_on__isnull=True)
                | (~models.Q(signed_by="") & models.Q(signed_on__isnull=False)),
                name="terms_signature_has_name_and_date",
                violation_error_message="A signature has a name and a date.",
            ),
            *(at_least("terms", field=field) for field in _AMOUNTS),
        ]

    def __str__(self) -> str:
        return f"terms {self.number}"

    @cached_property
    def last_quote(self) -> "LienQuote | None":
        """The latest payoff quote given since this version; runs one query, or is set by whoever reads many."""
        return LienQuote.objects.filter(consignment=self.consignment_id, at__gte=self.at).order_by("-pk").first()


class LienQuote(Appended):
    """What a lender says is owed. The latest counts; an amount of zero says that nothing is owed any more."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="lien_quotes")
    holder = models.CharField("lender", max_length=120)
    amount = MoneyField("payoff")
    quoted_on = models.DateField()
    good_until = models.DateField(null=True, blank=True)
    per_day = MoneyField("each further day", null=True, blank=True)
    reference = models.CharField("account or reference", max_length=60, blank=True)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(holder=""),
                name="lienquote_has_holder",
                violation_error_message="A payoff quote names the lender.",
            ),
            models.CheckConstraint(
                condition=models.Q(good_until__isnull=True) | models.Q(good_until__gte=models.F("quoted_on")),
                name="lienquote_ends_after_quote",
                violation_error_message="A quote may not end before it was given.",
            ),
            at_least("lienquote", field="amount"),
            at_least("lienquote", field="per_day"),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="lienquote_by_consignment")]

    def __str__(self) -> str:
        return f"payoff of {self.holder}, {self.quoted_on}"


class ConsentRequest(Appended):
    """A question to the consignor. What is asked takes effect with the answer *agreed*, never before."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="consent_requests")
    kind = WordField(max_length=12, words=ConsentKind)
    text = models.TextField("exact text to agree to", max_length=2000)
    amount = MoneyField(null=True, blank=True)
    terms = models.ForeignKey("Terms", on_delete=models.PROTECT, null=True, blank=True, related_name="requests")
    charge_kind = WordField(max_length=16, words=ChargeKind, blank=True)
    what = models.CharField(max_length=200, blank=True)
    vendor = models.CharField(max_length=120, blank=True)
    answer_by = models.DateField("answer wanted by", null=True, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("consentrequest", field="kind", allowed=ConsentKind.values),
            within("consentrequest", field="charge_kind", allowed=["", *ChargeKind.values]),
            models.CheckConstraint(
                condition=~models.Q(text=""),
                name="consentrequest_has_text",
                violation_error_message="Say what the consignor is asked to agree to.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind=ConsentKind.TERMS, terms__isnull=False, amount__isnull=True)
                | (~models.Q(kind=ConsentKind.TERMS) & models.Q(terms__isnull=True, amount__isnull=False)),
                name="consentrequest_has_amount_or_terms",
                violation_error_message="A question about terms names them; any other has an amount.",
            ),
            models.CheckConstraint(
                condition=models.Q(amount__isnull=True) | models.Q(amount__gt=0),
                name="consentrequest_amount_above_0",
                violation_error_message="The amount must be above zero.",
            ),
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="consent_asked_by_consignment")]

    def __str__(self) -> str:
        return f"question about {self.get_kind_display()}"


class ConsentAnswer(Appended):
    """The one answer to a question: by whom, how, and the exact text agreed to."""

    request = models.OneToOneField(ConsentRequest, on_delete=models.PROTECT, related_name="answer")
    result = WordField(max_length=12, words=ConsentResult)
    given_by = models.CharField(max_length=120)
    how = models.CharField(max_length=120)
    text = models.TextField(max_length=2000)
    link = models.ForeignKey(StatusLink, on_delete=models.PROTECT, null=True, blank=True, related_name="answers")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("consentanswer", field="result", allowed=ConsentResult.values),
            models.CheckConstraint(
                condition=~models.Q(given_by="") & ~models.Q(text=""),
                name="consentanswer_has_name_and_text",
                violation_error_message="An answer has the name of who gave it and the text answered.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_result_display()} by {self.given_by}"


class Consent(Appended):
    """The consignor's agreement to something beyond the terms, with the exact words agreed to."""

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="consents")
    down_to = MoneyField("sale price down to")
    given_by = models.CharField(max_length=120)
    how = models.CharField(max_length=120)
    text = models.TextField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(given_by="") & ~models.Q(text=""),
                name="consent_has_name_and_text",
                violation_error_message="Consent has the name of who gave it and the text agreed to.",
            ),
            at_least("consent", field="down_to"),
        ]

    def __str__(self) -> str:
        return f"consent of {self.given_by}"
