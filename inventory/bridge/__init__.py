"""The only importer of `valuation`: rows become a frame, floats become money, a fit becomes JSON."""

from inventory.bridge.bands import Band, Learned, Part, Thin, band_of, bands_of, drift_of, learn
from inventory.bridge.comparison import Comparable, Comparison, compare, percent
from inventory.bridge.knowing import Knowing, Worth, worth_of_knowing
from inventory.bridge.track_record import Tested, back_test
from valuation import LEAST_SALES

__all__ = [
    "LEAST_SALES", "Band", "Comparable", "Comparison", "Knowing", "Learned", "Part", "Tested", "Thin", "Worth", "back_test",
    "band_of", "bands_of", "compare", "drift_of", "learn", "percent", "worth_of_knowing",
]  # fmt: skip
