"""Track records of invented sales, as the back-test would have stored them, and the fits that carry them."""

from datetime import datetime, timedelta
from typing import Any

from inventory.models import ModelFit, SaleOutcome
from inventory.rules import track_record
from valuation import coverage, honest_share, prd_interval, ratio_study


def sold(count: int, *, at: datetime) -> list[SaleOutcome]:
    """Past sales a week apart up to now, of four makes, prices around 20,000 to 50,000."""
    rows = []
    for number in range(count):
        price = 20000 + 937 * (number * 7 % 31)
        rows.append(
            SaleOutcome(
                result="sold", price=price, effective_price=price, channel="lot", stock_number=f"P-{number:04}",
                ended_on=at.date() - timedelta(days=7 * (count - number)), year=1960 + number % 12,
                make=MAKES[number % 4], model="Alder", body="two-door hardtop",
                mileage=40000 + 1000 * (number * 5 % 37), by="tests", at=at,
            )
        )  # fmt: skip
    return SaleOutcome.objects.bulk_create(rows)


MAKES = ("Merrow", "Tarn", "Calder", "Orrin")


def record_of(sales: list[SaleOutcome], *, misses: int = 0, silent: int = 0, off: float = 1.02) -> dict[str, Any]:
    """The first `misses` of the sales outside their band, the first `silent` of the others without one."""
    tested = []
    for place, sale in enumerate(sales):
        price = float(sale.effective_price or 0)
        likely = price * (off if place % 2 else 1 / off) * (2.0 if place < misses else 1.0)
        banded = not misses <= place < misses + silent
        amounts = {"low": f"{likely * 0.8:.2f}", "likely": f"{likely:.2f}", "high": f"{likely * 1.25:.2f}"}
        tested.append(
            {
                "outcome": sale.pk, "ended_on": str(sale.ended_on), "fitted_on": 30 + place,
                **(amounts if banded else dict.fromkeys(amounts)), "actual": f"{sale.effective_price:.2f}",
                "inside": banded and likely * 0.8 <= price <= likely * 1.25,
            }
        )  # fmt: skip
    return {"drift": drift_of(sales), "figures": figures_of(tested), "sales": tested, "expected": expected_of(tested)}


def drift_of(sales: list[SaleOutcome]) -> list[dict[str, Any]]:
    days = track_record.drift_days([sale.ended_on for sale in sales])
    return [{"on": str(day), "percent": 0.4 * (place - len(days) + 1)} for place, day in enumerate(days)]


def expected_of(tested: list[dict[str, Any]]) -> list[tuple[float, float]]:
    banded = sum(row["low"] is not None for row in tested)
    return [honest_share(count, errors=60) for count in range(1, banded + 1)]


def figures_of(tested: list[dict[str, Any]]) -> dict[str, Any]:
    rows = [row for row in tested if row["low"] is not None]
    silent = {"count": len(tested), "hit_rate": len(rows) / len(tested), "stated": 0.8, "banded": len(rows)}
    if not rows:
        return {**dict.fromkeys(EMPTY), **silent, "inside": 0}
    low, likely, high, actual = ([float(row[name]) for row in rows] for name in ("low", "likely", "high", "actual"))
    held, study, prd = coverage(actual, low=low, high=high), ratio_study(likely, actual), prd_interval(likely, actual)
    names = ("median_ratio", "mean_ratio", "weighted_ratio", "cod", "prd", "prb", "within_10", "median_error")
    return {
        **silent, "inside": held.inside, "share": held.share, "share_low": held.low, "share_high": held.high,
        "expected_low": expected_of(tested)[-1][0], "expected_high": expected_of(tested)[-1][1],
        "interval_score": 0.6, **{name: getattr(study, name) for name in names}, "prd_low": prd[0], "prd_high": prd[1],
    }  # fmt: skip


EMPTY = (
    "share", "share_low", "share_high", "expected_low", "expected_high", "median_error", "interval_score",
    "median_ratio", "mean_ratio", "weighted_ratio", "cod", "prd", "prb", "within_10", "prd_low", "prd_high",
)  # fmt: skip


def fit_with(record: dict[str, Any], *, at: datetime, sales_used: int = 150) -> ModelFit:
    """A fit that carries this record and what its checks say of it; it has learned nothing."""
    figures = record.get("figures", {})
    flags = track_record.failings(figures) if figures else []
    held = {name: figures[name] for name in ("inside", "banded") if figures}
    newest = SaleOutcome.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    return ModelFit.objects.create(
        learned={}, summary={"coverage_percent": 80, "notes": [], "flags": flags, **held}, record=record,
        sales_used=sales_used, sales_hash="0" * 64, newest_outcome_id=newest, by="tests", at=at,
    )  # fmt: skip
