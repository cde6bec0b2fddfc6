"""Prices of one-off vehicles from few past sales: a library of its own, no I/O, no clock, no global state."""

from valuation.errors import BadInput, BadOption, BadStore, NotConverged, NotFitted, ValuationError
from valuation.metrics import Coverage, RatioStudy, coverage, interval_score, ratio_study
from valuation.model import LEAST_SALES, PriceModel
from valuation.schema import vehicle_model
from valuation.store import from_dict, to_dict

__all__ = [
    "LEAST_SALES",
    "BadInput",
    "BadOption",
    "BadStore",
    "Coverage",
    "NotConverged",
    "NotFitted",
    "PriceModel",
    "RatioStudy",
    "ValuationError",
    "coverage",
    "from_dict",
    "interval_score",
    "ratio_study",
    "to_dict",
    "vehicle_model",
]
