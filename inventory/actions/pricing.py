"""The price band is fitted to the lot's own past sales, and opinions are given from it."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory import bridge
from inventory.actions import logbook
from inventory.actions.writing import add, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, ModelFit, PriceOpinion
from inventory.queries import facts
from inventory.queries.history import newest_outcome_id, sales_for_fit, subject
from inventory.queries.pricing_desk import latest_fit
from inventory.rules.roles import Act, Actor, require


def fit_prices(*, by: Actor, at: datetime) -> ModelFit:
    """Fit the band to all sold outcomes and keep the fit. The work is done before the transaction begins."""
    require(by, Act.FIT_PRICES)
    newest = newest_outcome_id()
    rows = sales_for_fit()
    if not rows:
        raise too_little(0)
    coverage = facts.the_lot().coverage_percent
    learned = bridge.learn(rows, prices=[row["effective_price"] for row in rows], coverage_percent=coverage)
    with transaction.atomic():
        fit = add(
            ModelFit(
                learned=learned.state, sales_used=learned.sales_used, sales_hash=learned.sales_hash,
                summary={"coverage_percent": coverage, "notes": learned.notes}, newest_outcome_id=newest,
                by=by.name, at=at,
            )
        )  # fmt: skip
        logbook.record("fit.made", fit, by=by, at=at, sales=fit.sales_used)
    return fit


def give_opinion(consignment_id: int, *, by: Actor, at: datetime) -> PriceOpinion:
    """Price one vehicle of the lot with the last fit and keep the opinion. Refused where evidence is too thin."""
    require(by, Act.SEE_PRICE)
    stay = Consignment.objects.select_related("vehicle").filter(pk=consignment_id).first()
    if stay is None:
        raise NotFound("not_found", "There is no such consignment.", got=consignment_id)
    fit = needed_fit()
    inputs = subject(stay, on=trade_day(at))
    band = price_row(inputs, fit=fit)
    with transaction.atomic():
        row = add(
            PriceOpinion(
                consignment=stay, fit=fit, inputs=_as_json(inputs), low=band.low, likely=band.likely,
                high=band.high, coverage_percent=fit.summary["coverage_percent"],
                parts=[{"name": part.name, "amount": str(part.amount)} for part in band.parts],
                evidence=band.evidence, notes=list(band.notes), by=by.name, at=at,
            )
        )  # fmt: skip
        logbook.record(
            "opinion.given", row, by=by, at=at, consignment=stay, low=row.low, likely=row.likely, high=row.high
        )
    return row


def needed_fit() -> ModelFit:
    """The last fit, or the refusal that says what is missing before there can be one."""
    fit = latest_fit()
    if fit is None:
        sales = len(sales_for_fit())
        if sales < bridge.LEAST_SALES:
            raise too_little(sales)
        raise Refused(
            "no_fit", f"The price band has not been fitted to the {sales} past sales yet.", field="fit",
            mend="Fit it: the button on the pricing desk, or manage.py fit.",
        )  # fmt: skip
    return fit


def price_row(row: Mapping[str, Any], *, fit: ModelFit) -> bridge.Band:
    """The band of one vehicle given as a row of the history. Refused where the evidence is not enough."""
    band = bridge.band_of(row, state=fit.learned)
    if isinstance(band, bridge.Thin):
        raise Refused(
            "too_little_evidence", band.reason, field="sales", got=fit.sales_used,
            mend="More past sales of the same kind would help: import them or wait for the next sale.",
        )  # fmt: skip
    return band


def too_little(sales: int) -> Refused:
    return Refused(
        "too_little_evidence",
        f"There are {sales} sold outcomes; a band needs at least {bridge.LEAST_SALES}.",
        field="sales", got=sales, mend="Import past sales: manage.py import_sales FILE, or the import page.",
    )  # fmt: skip


def _as_json(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: str(value) if isinstance(value, Decimal) or hasattr(value, "isoformat") else value
        for name, value in row.items()
    }
