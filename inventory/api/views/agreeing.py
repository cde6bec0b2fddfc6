"""Terms, what a lender says is owed, charges, and what the consignor paid towards them."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import agreeing, charging
from inventory.actions.agreeing import NewTerms
from inventory.api.schema import writes
from inventory.api.serializers.agreeing import (
    ChargeGiven,
    ChargeShown,
    ConsignorPaymentGiven,
    ConsignorPaymentShown,
    LienQuoteGiven,
    LienQuoteShown,
    SetAsideGiven,
    StorageGiven,
    TermsGiven,
    TermsShown,
)
from inventory.api.views.base import Answering, Rows
from inventory.queries import money_records, records
from inventory.rules.roles import Act


class TermsVersions(Rows):
    """Versions of the terms; the greatest number counts."""

    acts = {"get": Act.SEE_MONEY, "post": Act.AGREE_TERMS}
    serializer_class = TermsShown

    def rows(self) -> QuerySet[Any]:
        return money_records.terms(self.stay, by=self.by)

    @writes(TermsGiven, TermsShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record the next version of the terms: in effect at once where it is signed, else a proposal."""
        given = self.given(TermsGiven)
        version = given.pop("version", None)
        return self.done(TermsShown, lambda: self.agreed(NewTerms(**given), version=version))

    def agreed(self, terms: NewTerms, *, version: int | None) -> Any:
        row = agreeing.agree_terms(self.stay.pk, terms=terms, version=version, by=self.by, at=self.at)
        return self.rows().get(pk=row.pk)


class LienQuotes(Rows):
    """What the lender says is owed, newest first; the newest counts."""

    acts = {"get": Act.SEE_MONEY, "post": Act.ADD_CHARGE}
    serializer_class = LienQuoteShown

    def rows(self) -> QuerySet[Any]:
        return money_records.lien_quotes(self.stay, by=self.by)

    @writes(LienQuoteGiven, LienQuoteShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(LienQuoteGiven)
        return self.done(
            LienQuoteShown, lambda: agreeing.record_lien_quote(self.stay.pk, **given, by=self.by, at=self.at)
        )


class Charges(Rows):
    """Agreed costs, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.ADD_CHARGE}
    serializer_class = ChargeShown

    def rows(self) -> QuerySet[Any]:
        return records.charges(self.stay, by=self.by)

    @writes(ChargeGiven, ChargeShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(ChargeGiven)
        return self.done(ChargeShown, lambda: self.charged(**given))

    def charged(self, **given: Any) -> Any:
        row = charging.add_charge(self.stay.pk, **given, by=self.by, at=self.at)
        return records.charge(self.stay, charge_id=row.pk, by=self.by)


class Storage(Answering):
    acts = {"post": Act.ADD_CHARGE}

    @writes(StorageGiven, ChargeShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Charge storage after the agreement's end, by the terms, less what was charged for it before."""
        given = self.given(StorageGiven)
        return self.done(ChargeShown, lambda: self.charged(**given))

    def charged(self, **given: Any) -> Any:
        row = charging.charge_storage(self.stay.pk, **given, by=self.by, at=self.at)
        return records.charge(self.stay, charge_id=row.pk, by=self.by)


class ChargeSetAside(Answering):
    acts = {"post": Act.ADD_CHARGE}

    @writes(SetAsideGiven, ChargeShown)
    def post(self, request: Request, stock_number: str, charge_id: int) -> Response:
        """Take a charge back by a row that names it; both stay in the books."""
        given = self.given(SetAsideGiven)
        wrong = records.charge(self.stay, charge_id=charge_id, by=self.by)
        return self.done(ChargeShown, lambda: self.set_aside(wrong.pk, **given))

    def set_aside(self, charge_id: int, **given: Any) -> Any:
        row = charging.set_charge_aside(charge_id, **given, by=self.by, at=self.at)
        return records.charge(self.stay, charge_id=row.pk, by=self.by)


class ConsignorPayments(Rows):
    """Money from the consignor: for the charges on a withdrawn vehicle, or what a settlement says they owe."""

    acts = {"get": Act.SEE_MONEY, "post": Act.RECORD_PAYMENT}
    serializer_class = ConsignorPaymentShown

    def rows(self) -> QuerySet[Any]:
        return records.consignor_payments(self.stay, by=self.by)

    @writes(ConsignorPaymentGiven, ConsignorPaymentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(ConsignorPaymentGiven)
        return self.done(
            ConsignorPaymentShown,
            lambda: charging.record_consignor_payment(self.stay.pk, **given, by=self.by, at=self.at),
        )
