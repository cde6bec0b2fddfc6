"""Prices of one-off vehicles from few past sales: a library of its own, no I/O, no clock, no global state."""

from valuation.backtest import Backtest, BacktestSummary, backtest
from valuation.comparables import Comparables, nearest_sales
from valuation.elsewhere import Elsewhere
from valuation.errors import BadInput, BadOption, BadStore, NotConverged, NotFitted, ValuationError
from valuation.metrics import (
    Coverage,
    RatioStudy,
    coverage,
    honest_share,
    interval_score,
    prd_interval,
    ratio_study,
)
from valuation.model import LEAST_SALES, PriceModel
from valuation.open_questions import band_widths
from valuation.schema import vehicle_model
from valuation.scoring import band_score
from valuation.store import from_dict, to_dict

__all__ = [
    "LEAST_SALES",
    "Backtest",
    "BacktestSummary",
    "BadInput",
    "BadOption",
    "BadStore",
    "Comparables",
    "Coverage",
    "Elsewhere",
    "NotConverged",
    "NotFitted",
    "PriceModel",
    "RatioStudy",
    "ValuationError",
    "backtest",
    "band_score",
    "band_widths",
    "coverage",
    "from_dict",
    "honest_share",
    "interval_score",
    "nearest_sales",
    "prd_interval",
    "ratio_study",
    "to_dict",
    "vehicle_model",
]
