"""How the price band has done: one fit's back-test on the lot's own history, drawn, and the fits before it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import accumulate
from typing import Any

from inventory.errors import NotFound
from inventory.models import ModelFit, SaleOutcome
from inventory.queries.pricing_desk import Standing, fits_in_short, standing_of
from inventory.queries.track_drawings import Bands, Curve, Sale, draw_bands, draw_coverage, draw_drift
from inventory.rules import money, track_record
from inventory.rules.elsewhere_words import learned_said
from inventory.rules.track_record import Meaning

PAST_FITS = 20
MOST_ROWS = 40  # of a table beside a curve


@dataclass(frozen=True)
class SaleRow:
    on: str
    stock_number: str
    vehicle: str
    low: str
    likely: str
    high: str
    actual: str
    verdict: str


@dataclass(frozen=True)
class FitRow:
    """One fit of the list: `held` says how many of the sales held against it fell inside."""

    fit: ModelFit
    held: str
    shown: bool


@dataclass(frozen=True)
class Found:
    """The back-test of one fit as its page shows it."""

    sentence: str
    chance: str
    median_error: str
    first_known: int
    meanings: tuple[Meaning, ...]
    bands: Bands
    coverage: Curve
    stated: str
    sales: tuple[SaleRow, ...]
    so_far: tuple[tuple[int, int, str], ...]


@dataclass(frozen=True)
class TrackRecord:
    fit: ModelFit | None
    standing: Standing | None
    found: Found | None
    needed: str
    drift: Curve
    drift_rows: tuple[tuple[str, str], ...]
    drift_sentence: str
    elsewhere: tuple[str, ...]  # what the fit learned of sales elsewhere, sentence by sentence
    fits: tuple[FitRow, ...]


def track_record_of(fit_id: int | None) -> TrackRecord:
    """The record of one fit, or of the last one."""
    recent = list(fits_in_short()[:PAST_FITS])
    rows = ModelFit.objects.defer("learned", "selling")
    fit = rows.order_by("-pk").first() if fit_id is None else rows.filter(pk=fit_id).first()
    if fit is None and fit_id is not None:
        raise NotFound("not_found", "There is no such fit.", got=fit_id)
    record = fit.record if fit else {}
    drift = [(date.fromisoformat(row["on"]), _number(row["percent"])) for row in record.get("drift", ())]
    return TrackRecord(
        fit=fit,
        standing=standing_of(fit, newest=recent[0]) if fit else None,
        found=_found(record) if "figures" in record else None,
        needed=record.get("needed", ""),
        drift=draw_drift(drift),
        drift_rows=tuple((str(day), track_record.signed(percent, places=1)) for day, percent in _thinned(drift)),
        drift_sentence=_drift_sentence(drift),
        elsewhere=tuple(learned_said(fit.summary.get("elsewhere", {}))) if fit else (),
        fits=tuple(FitRow(row, _held(row), fit is not None and row.pk == fit.pk) for row in recent),
    )


def _found(record: dict[str, Any]) -> Found:
    figures, tested = record["figures"], record["sales"]
    outcomes = SaleOutcome.objects.only("stock_number", "year", "make", "model").in_bulk(
        [row["outcome"] for row in tested]
    )
    rows = [_row(row, outcome=outcomes.get(row["outcome"])) for row in tested]
    sales = [_sale(row, shown=shown) for row, shown in zip(tested, rows, strict=True) if row["low"] is not None]
    inside = list(accumulate(int(sale.inside) for sale in sales))
    shares = [Decimal(held) / count for count, held in enumerate(inside, start=1)]
    stated = _number(figures["stated"])
    return Found(
        sentence=track_record.in_plain_words(figures),
        chance=track_record.what_chance_does(figures) if figures["banded"] else "",
        median_error="" if figures["median_error"] is None else track_record.percent(figures["median_error"], places=1),
        first_known=tested[0]["fitted_on"],
        meanings=track_record.meanings(figures),
        bands=draw_bands(sales),
        coverage=draw_coverage(shares, expected=record["expected"], stated=stated, sales=sales),
        stated=f"{stated * 100:.0f} %",
        sales=tuple(reversed(rows)),
        so_far=tuple(
            (count, held, f"{share * 100:.0f} %")
            for count, held, share in _thinned(list(zip(range(1, len(inside) + 1), inside, shares, strict=True)))
        ),
    )


def _row(row: dict[str, Any], *, outcome: SaleOutcome | None) -> SaleRow:
    banded = row["low"] is not None
    verdict = "no band" if not banded else "inside" if row["inside"] else "outside"
    amounts = {name: _shown(row[name]) for name in ("low", "likely", "high", "actual")}
    return SaleRow(
        on=row["ended_on"],
        stock_number=outcome.stock_number if outcome else "",
        vehicle=f"{outcome.year} {outcome.make} {outcome.model}" if outcome else "",
        verdict=verdict,
        **amounts,
    )


def _sale(row: dict[str, Any], *, shown: SaleRow) -> Sale:
    said = f"{shown.on} {shown.vehicle}: sold at {shown.actual}, band {shown.low} to {shown.high}"
    amounts = {name: Decimal(row[name]) for name in ("low", "likely", "high", "actual")}
    return Sale(on=date.fromisoformat(row["ended_on"]), name=said, inside=row["inside"], **amounts)


def _shown(amount: str | None) -> str:
    return "–" if amount is None else money.show_whole(Decimal(amount))


def _held(fit: ModelFit) -> str:
    if "banded" not in fit.summary:
        return "–"
    return f"{fit.summary['inside']} of {fit.summary['banded']}"


def _drift_sentence(drift: Sequence[tuple[date, Decimal]]) -> str:
    """What the market did over the last year that the fit knows."""
    if len(drift) < 2:
        return ""
    last = drift[-1][0]
    back, percent = min(drift, key=lambda place: abs((last - place[0]).days - 365))
    if percent == 0:
        return f"The fit saw no drift between {back} and {last}."
    way = "below" if percent < 0 else "above"
    return f"A vehicle otherwise the same: on {back} its price was {abs(percent):.1f} % {way} that on {last}."


def _number(value: float) -> Decimal:
    """A share or a percentage of the record (never money) without the noise of binary fractions."""
    return Decimal(str(value))


def _thinned(rows: Sequence[Any]) -> list[Any]:
    """At most `MOST_ROWS` rows evenly apart, the last one among them."""
    every = -(-len(rows) // MOST_ROWS) or 1
    return list(reversed(rows[::-1][::every]))
