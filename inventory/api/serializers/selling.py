"""Deals, sales, and how stays end."""

from decimal import Decimal
from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Money, RowId, Shown, Text, Versioned, Word
from inventory.models import Concession, Deal, DealExtra, SaleOutcome
from inventory.queries.money_records import effective_price
from inventory.rules.words import (
    BornBy,
    BuildClass,
    DealEnd,
    DepositFate,
    ExtraKind,
    OdometerStatus,
    PaymentMethod,
    Result,
    SaleChannel,
    TitleBrand,
    WithdrawalReason,
)

ZERO = Decimal(0)


class DealShown(Shown):
    end = Word(DealEnd, allow_blank=True)
    deposit_fate = Word(DepositFate, allow_blank=True)
    offer = serializers.IntegerField(source="offer_id", allow_null=True)
    effective_price = serializers.SerializerMethodField(
        help_text="The price less concessions, trade over-allowance and money off after the sale."
    )
    trade_stock_number = serializers.CharField(
        source="trade_stay.stock_number", default=None, allow_null=True, help_text="Of the vehicle taken in trade."
    )

    class Meta:
        model = Deal
        fields = [
            "id", "offer", "buyer", "address", "contact", "price", "concessions", "trade_allowance", "trade_value",
            "trade_note", "trade_stock_number", "effective_price", "refundable", "hold_until", "began_on", "ended_on",
            "end", "end_reason", "deposit_fate", "forfeited", "forfeited_to_consignor", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields

    def get_effective_price(self, row: Deal) -> str:
        return str(effective_price(row))


class ExtraShown(Shown):
    kind = Word(ExtraKind)
    deal = serializers.IntegerField(source="deal_id")
    sets_aside = serializers.IntegerField(source="sets_aside_id", allow_null=True)
    stands = serializers.BooleanField(help_text="Neither set aside nor setting one aside.")

    class Meta:
        model = DealExtra
        fields = ["id", "deal", "kind", "label", "amount", "on", "sets_aside", "stands", "by", "at"]
        read_only_fields = fields


class ExtraGiven(Given):
    kind = Word(ExtraKind)
    amount = Money(help_text="It is entered, not reckoned: places differ.")
    label = Text(120, required=False)  # type: ignore[assignment]
    on = Day(required=False)


class ConcessionShown(Shown):
    borne_by = Word(BornBy)
    deal = serializers.IntegerField(source="deal_id")
    consent_request = serializers.IntegerField(
        source="consent_id", allow_null=True, help_text="The question by which the consignor agreed to bear it."
    )

    class Meta:
        model = Concession
        fields = ["id", "deal", "amount", "borne_by", "reason", "consent_request", "on", "by", "at"]
        read_only_fields = fields


class ConcessionGiven(Given):
    """Borne by the lot. What the consignor is to bear is asked as a consent request."""

    amount = Money()
    reason = Text(200)
    on = Day(required=False)


class OutcomeShown(Shown):
    result = Word(Result)
    reason = Word(WithdrawalReason, allow_blank=True)
    channel = Word(SaleChannel, allow_blank=True)
    build_class = Word(BuildClass, allow_blank=True)
    title_brand = Word(TitleBrand, allow_blank=True)
    odometer_status = Word(OdometerStatus, allow_blank=True)
    modifications = serializers.ListField(child=serializers.CharField(), allow_null=True)

    class Meta:
        model = SaleOutcome
        fields = [
            "id", "result", "reason", "detail", "channel", "arms_length", "ended_on", "price", "concessions",
            "over_allowance", "effective_price", "stock_number", "vin", "year", "make", "model", "trim", "body",
            "engine", "transmission", "build_class", "color", "mileage", "odometer_status", "condition_low",
            "condition_high", "originality_low", "originality_high", "title_brand", "modifications", "arrived_on",
            "listed_on", "first_ask", "last_ask", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class ConsentGiven(Given):
    """The consignor's consent to a price below the floor, in the words agreed to."""

    given_by = Text(120)
    how = Text(120)
    text = Text(5000)


class _Bargain(Versioned):
    address = Text(300, required=False, help_text="The buyer's, as the papers need it.")
    contact = Text(120, required=False)
    offer = RowId(required=False, help_text="The offer that was accepted.")
    concessions = Money(required=False, min_value=ZERO)
    trade_allowance = Money(required=False, min_value=ZERO)
    trade_value = Money(required=False, min_value=ZERO)
    trade_note = Text(200, required=False)
    consent = ConsentGiven(required=False)


class DepositGiven(_Bargain):
    price = Money()
    buyer = Text(120)
    deposit = Money(help_text="The amount of the deposit.")
    method = Word(PaymentMethod, required=False)
    reference = Text(60, required=False, help_text="Of the deposit's payment.")
    refundable = serializers.BooleanField(
        required=False, help_text="It goes back if the deal falls through: so it is unless this says otherwise."
    )
    received_on = Day(required=False)
    hold_until = Day()


class SaleGiven(_Bargain):
    """A sale: to the buyer whose deposit holds the vehicle (without price and buyer), or on a new bargain."""

    price = Money(required=False)
    buyer = Text(120, required=False, allow_blank=False)
    sold_on = Day(required=False)
    channel = Word(SaleChannel, required=False)
    arms_length = serializers.BooleanField(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if BARGAIN & attrs.keys():
            for name in ("price", "buyer"):
                if name not in attrs:
                    said = "A bargain has a price and a buyer: give both, or neither to keep the one of the deposit."
                    raise serializers.ValidationError({name: said}, code="required")
        return attrs


BARGAIN = {
    "price", "buyer", "address", "contact", "offer", "concessions", "trade_allowance", "trade_value", "trade_note",
}  # fmt: skip


class DealEndGiven(Versioned):
    reason = Text(200)
    deposit_fate = Word(DepositFate, required=False)


class UnwindingGiven(Versioned):
    reason = Text(200)


class WithdrawalGiven(Versioned):
    reason = Word(WithdrawalReason)
    detail = Text(200, required=False)
    on = Day(required=False)


class ReleaseGiven(Versioned):
    signed_for_by = Text(120)
    on = Day(required=False)


class TitleSentGiven(Given):
    on = Day(required=False)
    to_whom = Text(120, required=False, help_text="The buyer, if nobody else is named.")
    way = Text(120, required=False, help_text="How it was sent; the tracking number.")
