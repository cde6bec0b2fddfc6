"""The only importer of `valuation`: rows become a frame, floats become money, a fit becomes JSON."""

from inventory.bridge.bands import Band, Learned, Part, Thin, band_of, bands_of, drift_of, learn
from inventory.bridge.comparison import Comparable, Comparison, compare, percent
from inventory.bridge.knowing import Knowing, Worth, worth_of_knowing
from inventory.bridge.proving import why_unusable
from inventory.bridge.selling import (
    Asking,
    Chance,
    Glance,
    Moved,
    Prospect,
    Selling,
    Standing,
    glances_of,
    learn_selling,
    moved_of,
    prospects_of,
    selling_of,
)
from inventory.bridge.track_record import Tested, back_test
from valuation import LEAST_SALES

__all__ = [
    "LEAST_SALES",
    "Asking",
    "Band",
    "Chance",
    "Comparable",
    "Comparison",
    "Glance",
    "Knowing",
    "Learned",
    "Moved",
    "Part",
    "Prospect",
    "Selling",
    "Standing",
    "Tested",
    "Thin",
    "Worth",
    "back_test",
    "band_of",
    "bands_of",
    "compare",
    "drift_of",
    "glances_of",
    "learn",
    "learn_selling",
    "moved_of",
    "percent",
    "prospects_of",
    "selling_of",
    "why_unusable",
    "worth_of_knowing",
]  # fmt: skip
