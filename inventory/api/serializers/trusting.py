"""The trust account: what it holds for whom, and what moves."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Shown, Text, Word
from inventory.models import BankBalance, TrustMovement
from inventory.queries.trust import COLUMNS
from inventory.rules.trust import Account
from inventory.rules.words import PaymentMethod, TrustKind


class TrustAsked(Given):
    on = Day(required=False, help_text="The end of this day; today, if no day is given.")


class ColumnsShown(serializers.Serializer[Any]):
    """Amounts of the account: in the bank, held for whom, to come, to be paid in, and not cleared."""

    def get_fields(self) -> dict[str, Any]:
        return {**super().get_fields(), **{name: Amount() for name in COLUMNS}}


class HeldShown(ColumnsShown):
    """What the account holds for one consignment."""

    stock_number = serializers.CharField(source="stay.stock_number")
    vehicle = serializers.CharField(source="stay.vehicle")
    consignor = serializers.CharField(source="stay.consignor.name")


class BalanceShown(Shown):
    class Meta:
        model = BankBalance
        fields = ["id", "amount", "on", "note", "by", "at"]
        read_only_fields = fields


class BalanceGiven(Given):
    amount = Money(min_value=None, help_text="What the bank says; below zero where it is overdrawn.")
    on = Day(required=False)
    note = Text(200, required=False)


class ItemShown(serializers.Serializer[Any]):
    stock_number = serializers.CharField()
    what = serializers.CharField()
    amount = Amount()


class TrustShown(serializers.Serializer[Any]):
    """The whole account at the end of a day. How other people's money must be kept differs: check local law."""

    on = serializers.DateField()
    bank = Amount(help_text="What should stand in the account by the books.")
    rows = HeldShown(many=True)
    totals = ColumnsShown(source="sums", help_text="Each is the sum of its column.")
    balance = BalanceShown(allow_null=True, help_text="The latest that the bank was read at.")
    difference = Amount(allow_null=True, help_text="What the bank has beyond the books; negative: what it lacks.")
    explained_by = ItemShown(many=True, help_text="Movements on the way that account for the difference: a hint.")


class PostingLineShown(serializers.Serializer[Any]):
    account = serializers.ChoiceField(choices=[account.value for account in Account])
    amount = Amount(help_text="Held or owed by it is positive; owed to it is negative.")

    def to_representation(self, instance: Any) -> Any:
        account, amount = instance
        return super().to_representation({"account": account, "amount": amount})


class PostingShown(serializers.Serializer[Any]):
    """One thing that happened, as amounts on accounts that add up to zero."""

    on = serializers.DateField()
    what = serializers.CharField()
    lines = PostingLineShown(many=True)


class StandingShown(serializers.Serializer[Any]):
    """What stands on each account. Together they add up to zero."""

    def get_fields(self) -> dict[str, Any]:
        return {account.value: Amount() for account in Account}


class MoneyLedgerShown(serializers.Serializer[Any]):
    postings = PostingShown(many=True)
    standing = StandingShown()
    is_closed = serializers.BooleanField(help_text="Everybody has what is theirs.")


class MovementShown(Shown):
    kind = Word(TrustKind)
    method = Word(PaymentMethod)

    class Meta:
        model = TrustMovement
        fields = ["id", "kind", "amount", "method", "reference", "note", "on", "by", "at"]
        read_only_fields = fields


class MovementGiven(Given):
    kind = Word(TrustKind)
    amount = Money()
    method = Word(PaymentMethod)
    reference = Text(60, required=False)
    note = Text(200, required=False)
    on = Day(required=False)
