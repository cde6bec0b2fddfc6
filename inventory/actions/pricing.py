"""The price band is fitted to the lot's own past sales, and opinions are given from it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from inventory import bridge
from inventory.actions import logbook
from inventory.actions.writing import add, add_all, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, ModelFit, PriceOpinion, Prospect
from inventory.queries import facts
from inventory.queries.history import (
    count_for_fit,
    elsewhere_for_fit,
    newest_elsewhere_id,
    newest_outcome_id,
    sales_for_fit,
    stock_subjects,
    subject,
)
from inventory.queries.pricing_desk import fit_of_the_desk
from inventory.queries.stays import stays_for_fit
from inventory.queries.vehicles_to_come import told_subject
from inventory.rules import track_record
from inventory.rules.prospecting import require_open
from inventory.rules.roles import Act, Actor, require

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class StockPriced:
    """What came of pricing all stock: how many have a new opinion, and for how many the evidence was too thin."""

    priced: int
    thin: int

    def __str__(self) -> str:
        thin = f"; for {self.thin:,} the evidence is too thin" if self.thin else ""
        return f"{self.priced:,} vehicle{'' if self.priced == 1 else 's'} of the stock priced{thin}."


def fit_prices(
    *, by: Actor, at: datetime, refits: int = track_record.MOST_REFITS, progress: Progress | None = None
) -> ModelFit:
    """Fit the band to all sold outcomes and to sales elsewhere, hold it against the last of them, and keep the fit.

    The back-test fits the band again `refits` times at most; with none the past is not gone through again: there is
    no track record, and nothing is learned of time to sale, which needs the likely prices of then. The work is done
    before the transaction begins: until the fit is written, the one before it is used. A fit that cannot be read back,
    or that gives no sound prices, is refused; one whose track record fails the checks is kept and flagged.
    """
    require(by, Act.FIT_PRICES)
    newest, newest_elsewhere = newest_outcome_id(), newest_elsewhere_id()
    rows, elsewhere = sales_for_fit(), elsewhere_for_fit()
    if not rows:
        raise too_little(0)
    coverage = facts.the_lot().coverage_percent
    prices = [row["effective_price"] for row in rows]
    learned = bridge.learn(rows, prices=prices, coverage_percent=coverage, elsewhere=elsewhere)
    past = _Past(rows, elsewhere, coverage)
    record = _track_record(past, learned=learned, refits=refits, progress=progress)
    stays, left_out = stays_for_fit(on=trade_day(at))
    selling = _selling(past, stays=stays, learned=learned) if refits else {}
    _refuse_unusable(learned, rows=[*_some(rows), *_stock(at)], beside=(record, selling))
    figures = record.get("figures", {})
    flags = track_record.failings(figures) if figures else []
    notes = _notes(learned, rows=rows, record=record)
    held = {name: figures[name] for name in ("inside", "banded") if figures}
    with transaction.atomic():
        fit = add(
            ModelFit(
                learned=learned.state, sales_used=learned.sales_used, sales_hash=learned.sales_hash,
                summary={
                    "coverage_percent": coverage, "notes": notes, "flags": flags, "stays_left_out": left_out,
                    "elsewhere": learned.elsewhere, "elsewhere_newest": newest_elsewhere, **held,
                },
                record=record, selling=selling,
                newest_outcome_id=newest, by=by.name, at=at,
            )
        )  # fmt: skip
        flagged = ", which fails its own checks" if flags else ""
        logbook.record("fit.made", fit, by=by, at=at, sales=fit.sales_used, flagged=flagged)
    return fit


@dataclass(frozen=True)
class _Past:
    """The lot's own sales and those elsewhere as rows, and the coverage in percent."""

    rows: list[dict[str, Any]]
    elsewhere: list[dict[str, Any]]
    coverage: int


TRIED_ON = 100  # past sales, spread evenly, and as many vehicles of the stock, that a fit is tried on before it counts


def _some(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return rows[:: -(-len(rows) // TRIED_ON)]


def _stock(at: datetime) -> list[dict[str, Any]]:
    return [row for _, row in stock_subjects(on=trade_day(at))[:TRIED_ON]]


def _refuse_unusable(learned: bridge.Learned, *, rows: list[dict[str, Any]], beside: tuple[Any, ...]) -> None:
    problem = bridge.why_unusable(learned.state, rows=rows, beside=beside)
    if problem:
        raise Refused(
            "fit_unusable", f"The new fit cannot be used. {problem}", field="fit", got=learned.sales_used,
            mend="The fit before it stays in use. Look for past sales with a price or a date that cannot be.",
        )  # fmt: skip


def _notes(learned: bridge.Learned, *, rows: list[dict[str, Any]], record: Mapping[str, Any]) -> list[str]:
    unread = track_record.bounded_note(len(rows)) if "figures" in record else ""
    return [*learned.notes, unread] if unread else list(learned.notes)


def _selling(past: _Past, *, stays: list[dict[str, Any]], learned: bridge.Learned) -> dict[str, Any]:
    used = past.elsewhere if learned.elsewhere.get("used") else []
    return bridge.learn_selling(stays, sales=past.rows, coverage_percent=past.coverage, elsewhere=used)


def _track_record(past: _Past, *, learned: bridge.Learned, refits: int, progress: Progress | None) -> dict[str, Any]:
    """The back-test and the drift as JSON, or the sentence that says why there is none."""
    if refits == 0:
        return {}
    rows = past.rows
    days = [row["ended_on"] for row in rows]
    read_on = track_record.drift_days(days)
    drift = zip(read_on, bridge.drift_of(learned.state, days=read_on), strict=True)
    record: dict[str, Any] = {"drift": [{"on": str(day), "percent": percent} for day, percent in drift]}
    rows, elsewhere = rows[-track_record.MOST_READ :], past.elsewhere[-track_record.MOST_READ :]
    plan = track_record.plan([row["ended_on"] for row in rows], refits=refits)
    if plan is None:
        return {**record, "needed": track_record.what_is_needed(len(rows))}
    prices = [row["effective_price"] for row in rows]
    tested = bridge.back_test(
        rows, prices=prices, plan=plan, coverage_percent=past.coverage, elsewhere=elsewhere, progress=progress
    )
    return {**record, "figures": tested.figures, "sales": tested.sales, "expected": tested.expected}


def price_stock(*, by: Actor, at: datetime) -> StockPriced:
    """Price all stock with the last fit in one go; the opinions given before are kept.

    A vehicle without enough evidence gets no new opinion and is counted.
    """
    require(by, Act.FIT_PRICES)
    fit = needed_fit()
    stock = stock_subjects(on=trade_day(at))
    bands = bridge.bands_of([row for _, row in stock], state=fit.learned) if stock else []
    opinions = [
        _opinion(stay, fit=fit, inputs=inputs, band=band, by=by, at=at)
        for (stay, inputs), band in zip(stock, bands, strict=True)
        if isinstance(band, bridge.Band)
    ]
    done = StockPriced(len(opinions), len(stock) - len(opinions))
    with transaction.atomic():
        given = [(row, row.consignment, _said(row)) for row in add_all(opinions)]
        logbook.record_all("opinion.given", given, by=by, at=at)
        logbook.record("stock.priced", fit, by=by, at=at, priced=done.priced, thin=done.thin)
    return done


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
        row = add(_opinion(stay, fit=fit, inputs=inputs, band=band, by=by, at=at))
        logbook.record("opinion.given", row, by=by, at=at, consignment=stay, **_said(row))
    return row


def give_prospect_opinion(prospect_id: int, *, by: Actor, at: datetime) -> PriceOpinion:
    """Price a vehicle that nobody has seen by what is told, taken widely. Refused where evidence is too thin."""
    require(by, Act.SEE_PRICE)
    row = Prospect.objects.filter(pk=prospect_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such prospect.", got=prospect_id)
    require_open(row.stage, what=str(row))
    fit = needed_fit()
    inputs = told_subject(row, on=trade_day(at))
    band = price_row(inputs, fit=fit)
    with transaction.atomic():
        opinion = add(_opinion(None, prospect=row, fit=fit, inputs=inputs, band=band, by=by, at=at))
        logbook.record("prospect.priced", row, by=by, at=at, consignment=None, **_said(opinion))
    return opinion


def _opinion(
    stay: Consignment | None, *, prospect: Prospect | None = None, fit: ModelFit, inputs: Mapping[str, Any],
    band: bridge.Band, by: Actor, at: datetime,
) -> PriceOpinion:  # fmt: skip
    return PriceOpinion(
        consignment=stay, prospect=prospect, fit=fit, inputs=_as_json(inputs),
        low=band.low, likely=band.likely, high=band.high,
        coverage_percent=fit.summary["coverage_percent"],
        parts=[{"name": part.name, "amount": str(part.amount)} for part in band.parts],
        evidence=band.evidence, notes=list(band.notes), by=by.name, at=at,
    )  # fmt: skip


def _said(row: PriceOpinion) -> dict[str, Decimal]:
    return {"low": row.low, "likely": row.likely, "high": row.high}


def needed_fit() -> ModelFit:
    """The last fit, or the refusal that says what is missing before there can be one."""
    fit = fit_of_the_desk()
    if fit is None:
        sales = count_for_fit()
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
