"""Terms, charges and what the consignor paid towards them."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Shown, Text, Version, Word
from inventory.models import Charge, ConsignorPayment, LienQuote, Terms
from inventory.rules.words import (
    BornBy,
    ChargeKind,
    CommissionBase,
    Exclusivity,
    FloorKind,
    PaymentMethod,
    PlanKind,
    TitleProtection,
)

ZERO = Decimal(0)


class Rate(serializers.DecimalField):
    """A percentage: 9 is 9 %."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=6, decimal_places=3, min_value=ZERO, max_value=Decimal(100), **kwargs)


class Days(serializers.IntegerField):
    def __init__(self, most: int, **kwargs: Any) -> None:
        super().__init__(min_value=kwargs.pop("min_value", 0), max_value=most, **kwargs)


class Tier(Given):
    up_to = Money(allow_null=True, help_text="Upper end of the tier; null in the last.")
    rate = Rate()


class Step(Given):
    days = Days(3650, min_value=1, help_text="Since it was listed.")
    ask = Money(help_text="From that day on the ask may go down to this without asking again.")


class ChargeRuleGiven(Given):
    kind = Word(ChargeKind)
    borne_by = Word(BornBy)
    cap = Money(
        allow_null=True, required=False, min_value=ZERO, help_text="In sum; beyond it the consignor is asked first."
    )


class ShareGiven(Given):
    name = Text(120)
    percent = Rate(help_text="Of what the consignor is due; all shares add up to 100.")


class _Listed(serializers.Serializer[Any]):
    """One entry of a list that is kept as a list of texts, in the order of the fields."""

    def to_representation(self, instance: Any) -> dict[str, Any]:
        return dict(zip(self.fields, instance, strict=True))


class TierShown(_Listed):
    up_to = serializers.CharField(allow_null=True)
    rate = serializers.CharField()


class StepShown(_Listed):
    days = serializers.IntegerField()
    ask = serializers.CharField()


class ChargeRuleShown(_Listed):
    kind = Word(ChargeKind)
    borne_by = Word(BornBy)
    cap = serializers.CharField(allow_null=True)


class ShareShown(_Listed):
    name = serializers.CharField()
    percent = serializers.CharField()


class TermsShown(Shown):
    plan_kind = Word(PlanKind)
    commission_base = Word(CommissionBase)
    floor_kind = Word(FloorKind)
    title_protection = Word(TitleProtection)
    exclusivity = Word(Exclusivity)
    tiers = TierShown(many=True)
    step_downs = StepShown(many=True)
    charge_rules = ChargeRuleShown(many=True)
    payees = ShareShown(many=True)
    accepted = serializers.BooleanField(help_text="By both sides: signed on paper, or agreed to when asked.")
    in_effect = serializers.BooleanField(
        help_text="The latest that both sides accepted; until there is one, the latest as drawn up."
    )

    class Meta:
        model = Terms
        fields = [
            "number", "accepted", "in_effect", "plan_kind", "rate", "minimum", "maximum", "commission_base", "tiers",
            "flat", "guaranteed_net", "floor", "floor_kind", "starts_on", "ends_on", "signed_by", "signed_on",
            "title_protection", "title_protection_note", "exclusivity", "renewal_days", "protection_days",
            "step_downs", "consent_below", "convey_from", "charge_rules", "storage_per_day", "storage_free_days",
            "withdrawal_fee", "forfeit_percent", "insurance", "photos_allowed", "test_drives_allowed", "payees",
            "lien_holder", "lien_amount", "lien_quoted_on", "lien_good_until", "lien_per_day", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class TermsGiven(Given):
    """The next version of the terms. What the plan does not use stays out."""

    version = Version(required=False)
    plan_kind = Word(PlanKind)
    rate = Rate(required=False, allow_null=True)
    minimum = Money(required=False, allow_null=True, min_value=ZERO)
    maximum = Money(required=False, allow_null=True, min_value=ZERO)
    commission_base = Word(CommissionBase, required=False)
    tiers = serializers.ListField(child=Tier(), required=False, max_length=20)
    flat = Money(required=False, allow_null=True, min_value=ZERO)
    guaranteed_net = Money(required=False, allow_null=True, min_value=ZERO)
    floor = Money(required=False, allow_null=True)
    floor_kind = Word(FloorKind, required=False)
    starts_on = Day()
    ends_on = Day()
    signed_by = Text(120, required=False)
    signed_on = Day(required=False, allow_null=True)
    title_protection = Word(TitleProtection, required=False)
    title_protection_note = Text(120, required=False, help_text="Its number, account or place.")
    exclusivity = Word(Exclusivity, required=False)
    renewal_days = Days(730, min_value=1, required=False, allow_null=True)
    protection_days = Days(
        730, required=False,
        help_text="After the end: a sale to a buyer the lot introduced still owes commission.",
    )  # fmt: skip
    step_downs = serializers.ListField(child=Step(), required=False, max_length=12)
    consent_below = Money(required=False, allow_null=True, help_text="Asks below this need the consignor's consent.")
    convey_from = Money(required=False, allow_null=True, help_text="Offers below this need not be passed on.")
    charge_rules = serializers.ListField(child=ChargeRuleGiven(), required=False, max_length=20)
    storage_per_day = Money(required=False, allow_null=True, help_text="After the end.")
    storage_free_days = Days(365, required=False)
    withdrawal_fee = Money(required=False, allow_null=True)
    forfeit_percent = Rate(
        required=False, allow_null=True, help_text="The consignor's share of a deposit that is kept."
    )
    insurance = Text(400, required=False)
    photos_allowed = serializers.BooleanField(required=False)
    test_drives_allowed = serializers.BooleanField(required=False)
    payees = serializers.ListField(child=ShareGiven(), required=False, max_length=10)
    lien_holder = Text(120, required=False)
    lien_amount = Money(required=False, allow_null=True, min_value=ZERO)
    lien_quoted_on = Day(required=False, allow_null=True)
    lien_good_until = Day(required=False, allow_null=True)
    lien_per_day = Money(required=False, allow_null=True, min_value=ZERO)

    def validate_tiers(self, tiers: list[dict[str, Any]]) -> tuple[tuple[Decimal | None, Decimal], ...]:
        return tuple((tier["up_to"], tier["rate"]) for tier in tiers)

    def validate_step_downs(self, steps: list[dict[str, Any]]) -> tuple[tuple[int, Decimal], ...]:
        return tuple((step["days"], step["ask"]) for step in steps)

    def validate_charge_rules(self, rules: list[dict[str, Any]]) -> tuple[tuple[str, str, Decimal | None], ...]:
        return tuple((rule["kind"], rule["borne_by"], rule.get("cap")) for rule in rules)

    def validate_payees(self, payees: list[dict[str, Any]]) -> tuple[tuple[str, Decimal], ...]:
        return tuple((share["name"], share["percent"]) for share in payees)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["ends_on"] < attrs["starts_on"]:
            said = "The agreement may not end before it starts."
            raise serializers.ValidationError({"ends_on": said}, code="ends_before_start")
        return attrs


class LienQuoteShown(Shown):
    class Meta:
        model = LienQuote
        fields = ["id", "holder", "amount", "quoted_on", "good_until", "per_day", "reference", "by", "at"]
        read_only_fields = fields


class LienQuoteGiven(Given):
    holder = Text(120)
    amount = Money(min_value=ZERO, help_text="An amount of zero says that nothing is owed any more.")
    quoted_on = Day()
    good_until = Day(required=False, allow_null=True)
    per_day = Money(required=False, allow_null=True, min_value=ZERO, help_text="Each further day.")
    reference = Text(60, required=False)


class ChargeShown(Shown):
    kind = Word(ChargeKind)
    borne_by = Word(BornBy)
    sets_aside = serializers.IntegerField(source="sets_aside_id", allow_null=True)
    stands = serializers.BooleanField(help_text="Neither set aside nor setting one aside.")
    consent_request = serializers.IntegerField(
        source="consent_id", allow_null=True, help_text="The question by which the consignor agreed to it."
    )

    class Meta:
        model = Charge
        fields = [
            "id", "kind", "what", "amount", "borne_by", "agreed_by", "vendor", "consent_request", "on", "sets_aside",
            "stands", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class ChargeGiven(Given):
    kind = Word(ChargeKind)
    what = Text(200)
    amount = Money()
    agreed_by = Text(120)
    borne_by = Word(BornBy, required=False)
    vendor = Text(120, required=False, help_text="Who is to be paid for it, if not the lot.")
    on = Day(required=False)


class StorageGiven(Given):
    until = Day(required=False, help_text="Today, if no day is given.")


class SetAsideGiven(Given):
    reason = Text(200)


class ConsignorPaymentShown(Shown):
    method = Word(PaymentMethod)
    amount = Amount()

    class Meta:
        model = ConsignorPayment
        fields = ["id", "amount", "method", "reference", "on", "by", "at"]
        read_only_fields = fields


class ConsignorPaymentGiven(Given):
    amount = Money()
    method = Word(PaymentMethod)
    reference = Text(60, required=False)
    on = Day(required=False)
