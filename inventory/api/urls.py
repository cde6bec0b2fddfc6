"""The addresses of the API, below `api/`."""

from django.urls import URLPattern, URLResolver, include, path, re_path, register_converter

from inventory.api.views import (
    agreeing,
    asking,
    base,
    catalogue,
    consenting,
    documents,
    figures,
    filming,
    inquiring,
    inspecting,
    intake,
    ledger,
    linking,
    logbook,
    offering,
    paying,
    pricing,
    receiving,
    recording,
    selling,
    settling,
    staffing,
    trusting,
)


class StockNumber:
    regex = "[0-9A-Za-z-]{1,20}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(StockNumber, "stock_number")

Addresses = list[URLPattern | URLResolver]

of_consignment: Addresses = [
    path("asks/", asking.Asks.as_view(), name="asks"),
    path("ask-curve/", asking.AskCurve.as_view(), name="ask_curve"),
    path("listing/", asking.Listing.as_view(), name="listing"),
    path("inquiries/", inquiring.Inquiries.as_view(), name="inquiries"),
    path("showings/", inquiring.Showings.as_view(), name="showings"),
    path("offers/", offering.Offers.as_view(), name="offers"),
    path("offers/<int:offer_id>/answers/", offering.Answers.as_view(), name="answers"),
    path("terms/", agreeing.TermsVersions.as_view(), name="terms"),
    path("lien-quotes/", agreeing.LienQuotes.as_view(), name="lien_quotes"),
    path("charges/", agreeing.Charges.as_view(), name="charges"),
    path("charges/<int:charge_id>/set-aside/", agreeing.ChargeSetAside.as_view(), name="charge_set_aside"),
    path("charges/storage/", agreeing.Storage.as_view(), name="storage"),
    path("consent-requests/", consenting.ConsentRequests.as_view(), name="consent_requests"),
    path(
        "consent-requests/<int:request_id>/answer/", consenting.ConsentAnswers.as_view(), name="consent_request_answer"
    ),
    path(
        "consent-requests/<int:request_id>/take-back/",
        consenting.ConsentTakenBack.as_view(),
        name="consent_request_take_back",
    ),
    path("consignor-questions/", consenting.ConsignorQuestions.as_view(), name="consignor_questions"),
    path(
        "consignor-questions/<int:question_id>/answer/",
        consenting.QuestionAnswers.as_view(),
        name="consignor_question_answer",
    ),
    path("deals/", selling.Deals.as_view(), name="deals"),
    path("deposit/", selling.Deposit.as_view(), name="deposit"),
    path("deal-end/", selling.DealEnd.as_view(), name="deal_end"),
    path("sale/", selling.Sale.as_view(), name="sale"),
    path("extras/", selling.Extras.as_view(), name="extras"),
    path("extras/<int:extra_id>/set-aside/", selling.ExtraSetAside.as_view(), name="extra_set_aside"),
    path("concessions/", selling.Concessions.as_view(), name="concessions"),
    path("trade-in/", selling.TradeIn.as_view(), name="trade_in"),
    path("unwinding/", selling.Unwinding.as_view(), name="unwinding"),
    path("withdrawal/", selling.Withdrawal.as_view(), name="withdrawal"),
    path("release/", selling.Release.as_view(), name="release"),
    path("title-sent/", selling.TitleSent.as_view(), name="title_sent"),
    path("payments/", paying.Payments.as_view(), name="payments"),
    path("payments/<int:payment_id>/fate/", paying.PaymentFate.as_view(), name="payment_fate"),
    path("consignor-payments/", agreeing.ConsignorPayments.as_view(), name="consignor_payments"),
    path("settlement/", settling.Settlement.as_view(), name="settlement"),
    path("settlement/reverse/", settling.SettlementReverse.as_view(), name="settlement_reverse"),
    path("settlement/statements/", settling.Statements.as_view(), name="settlement_statements"),
    path("disbursements/", settling.Disbursements.as_view(), name="disbursements"),
    path("ledger/", trusting.MoneyLedger.as_view(), name="ledger"),
    path("trust-movements/", trusting.Movements.as_view(), name="trust_movements"),
    path("inspections/", inspecting.Inspections.as_view(), name="inspections"),
    path("checks/", inspecting.Checks.as_view(), name="checks"),
    path("checks/station/", inspecting.StationChecks.as_view(), name="station_checks"),
    path("features/", inspecting.Features.as_view(), name="features"),
    path("visits/", inspecting.Visits.as_view(), name="visits"),
    path("flags/", inspecting.Flags.as_view(), name="flags"),
    path("flags/<slug:key>/clearance/", inspecting.FlagClearances.as_view(), name="flag_clearance"),
    path("late-taps/", inspecting.LateTaps.as_view(), name="late_taps"),
    path("questions/", catalogue.Questions.as_view(), name="questions"),
    path("components/", ledger.Components.as_view(), name="components"),
    path("build-dates/", ledger.BuildDates.as_view(), name="build_dates"),
    path("inspection-finish/", inspecting.InspectionFinish.as_view(), name="inspection_finish"),
    path("modifications/", ledger.Modifications.as_view(), name="modifications"),
    path("figures/", figures.Figures.as_view(), name="figures"),
    path("figures/tyres/", figures.Tyres.as_view(), name="figures_tyres"),
    path("figures/engine/", figures.Engine.as_view(), name="figures_engine"),
    path("figures/driveline/", figures.Driveline.as_view(), name="figures_driveline"),
    path("figures/electrics/", figures.Electrics.as_view(), name="figures_electrics"),
    path("identity-numbers/", recording.IdentityNumbers.as_view(), name="identity_numbers"),
    path("identity-resolution/", recording.IdentityResolutions.as_view(), name="identity_resolution"),
    path("title-papers/", recording.TitlePapers.as_view(), name="title_papers"),
    path("places/", recording.Places.as_view(), name="places"),
    path("photos/", recording.Photos.as_view(), name="photos"),
    path("clips/", filming.Clips.as_view(), name="clips"),
    path("receipts/", receiving.Receipts.as_view(), name="receipts"),
    path("receipts/<uuid:code>/file/", receiving.ReceiptFile.as_view(), name="receipt_file"),
    path("price/", pricing.Price.as_view(), name="price"),
    path("comparison/", pricing.Comparison.as_view(), name="comparison"),
    path("link/", linking.Link.as_view(), name="link"),
    path("log/", logbook.Log.as_view(), name="log"),
]
first_version: Addresses = [
    path("me/", staffing.Me.as_view(), name="me"),
    path("consignments/", intake.Consignments.as_view(), name="consignments"),
    path("consignments/<stock_number:stock_number>/", intake.ConsignmentDetail.as_view(), name="consignment"),
    path("consignments/<stock_number:stock_number>/", include(of_consignment)),
    path("vehicles/", intake.Vehicles.as_view(), name="vehicles"),
    path("vehicles/<uuid:code>/", intake.VehicleDetail.as_view(), name="vehicle"),
    path("consignors/", intake.Consignors.as_view(), name="consignors"),
    path("consignors/<uuid:code>/", intake.ConsignorDetail.as_view(), name="consignor"),
    path("outcomes/", selling.Outcomes.as_view(), name="outcomes"),
    path("trust/", trusting.Trust.as_view(), name="trust"),
    path("trust/balances/", trusting.Balances.as_view(), name="trust_balances"),
    path("decoder/", ledger.DecoderEntries.as_view(), name="decoder"),
    path("policy/", catalogue.Policy.as_view(), name="policy"),
    path("fits/", pricing.Fits.as_view(), name="fits"),
]
urlpatterns: Addresses = [
    path("v1/", include((first_version, "v1"))),
    path("schema/", documents.Schema.as_view(), name="api_schema"),
    path("docs/", documents.Documentation.as_view(), name="api_docs"),
    re_path(r"^.*$", base.NoSuchAddress.as_view()),
]
