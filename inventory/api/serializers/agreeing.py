"""Terms, charges and what the consignor paid towards them."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Shown, Text, Version, Word
from inventory.models import Charge, ConsignorPayment, Terms
from inventory.rules.words import BornBy, ChargeKind, FloorKind, PaymentMethod, PlanKind, TitleProtection

ZERO = Decimal(0)


class Rate(serializers.DecimalField):
    """A percentage: 9 is 9 %."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=6, decimal_places=3, min_value=ZERO, max_value=Decimal(100), **kwargs)


class Tier(Given):
    up_to = Money(allow_null=True, help_text="Upper end of the tier; null in the last.")
    rate = Rate()


class TierShown(serializers.Serializer[Any]):
    up_to = serializers.CharField(allow_null=True)
    rate = serializers.CharField()


class TermsShown(Shown):
    plan_kind = Word(PlanKind)
    floor_kind = Word(FloorKind)
    title_protection = Word(TitleProtection)
    tiers = serializers.SerializerMethodField()

    class Meta:
        model = Terms
        fields = [
            "number", "plan_kind", "rate", "minimum", "tiers", "flat", "guaranteed_net", "floor", "floor_kind",
            "starts_on", "ends_on", "signed_by", "signed_on", "title_protection", "lien_holder", "lien_amount",
            "lien_quoted_on", "lien_good_until", "lien_per_day", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields

    def get_tiers(self, row: Terms) -> list[dict[str, str | None]]:
        return [{"up_to": up_to, "rate": rate} for up_to, rate in row.tiers]


class TermsGiven(Given):
    """The next version of the terms. What the plan does not use stays out."""

    version = Version(required=False)
    plan_kind = Word(PlanKind)
    rate = Rate(required=False, allow_null=True)
    minimum = Money(required=False, allow_null=True, min_value=ZERO)
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
    lien_holder = Text(120, required=False)
    lien_amount = Money(required=False, allow_null=True, min_value=ZERO)
    lien_quoted_on = Day(required=False, allow_null=True)
    lien_good_until = Day(required=False, allow_null=True)
    lien_per_day = Money(required=False, allow_null=True, min_value=ZERO)

    def validate_tiers(self, tiers: list[dict[str, Any]]) -> tuple[tuple[Decimal | None, Decimal], ...]:
        return tuple((tier["up_to"], tier["rate"]) for tier in tiers)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["ends_on"] < attrs["starts_on"]:
            said = "The agreement may not end before it starts."
            raise serializers.ValidationError({"ends_on": said}, code="ends_before_start")
        return attrs


class ChargeShown(Shown):
    kind = Word(ChargeKind)
    borne_by = Word(BornBy)
    sets_aside = serializers.IntegerField(source="sets_aside_id", allow_null=True)
    stands = serializers.BooleanField(help_text="Neither set aside nor setting one aside.")

    class Meta:
        model = Charge
        fields = ["id", "kind", "what", "amount", "borne_by", "agreed_by", "on", "sets_aside", "stands", "by", "at"]
        read_only_fields = fields


class ChargeGiven(Given):
    kind = Word(ChargeKind)
    what = Text(200)
    amount = Money()
    agreed_by = Text(120)
    borne_by = Word(BornBy, required=False)
    on = Day(required=False)


class SetAsideGiven(Given):
    reason = Text(200)


class ConsignorPaymentShown(Shown):
    method = Word(PaymentMethod)
    amount = Amount()

    class Meta:
        model = ConsignorPayment
        fields = ["id", "amount", "method", "on", "by", "at"]
        read_only_fields = fields


class ConsignorPaymentGiven(Given):
    amount = Money()
    method = Word(PaymentMethod)
    on = Day(required=False)
