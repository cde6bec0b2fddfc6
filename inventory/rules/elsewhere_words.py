"""Sales elsewhere in words: which kind one is, how a grid marks it, and what a fit learned of each kind."""

from collections.abc import Mapping
from typing import Any

BID = "bid"
# By kind, as the fit knows it: a high bid is one kind whatever was said of a buyer's premium.
KINDS = {
    "sold_included": "sold, a buyer's premium inside the price",
    "sold_added": "sold, a buyer's premium on top of the price",
    "sold_none": "sold, without a buyer's premium",
    "sold_not_said": "sold, a buyer's premium not said",
    BID: "high bid, not accepted",
}
HERE = "by the lot"


def kind_of(*, sold: bool, premium: str) -> str:
    """The kind by which the fit tells sales elsewhere apart: each has its own offset and weight."""
    return f"sold_{premium}" if sold else BID


def where_said(kind: str, *, source: str) -> str:
    """Where a sale was, beside HERE in a line of the grid."""
    return f"{source}: {KINDS.get(kind, kind)}"


def mark(kind: str, *, source: str) -> str:
    """How a sale elsewhere is marked wherever it stands among the lot's own."""
    return f"Bid not accepted, elsewhere: {source}." if kind == BID else f"Sold elsewhere: {source}."


def learned_said(learned: Mapping[str, Any]) -> list[str]:
    """What a fit says of sales elsewhere, sentence by sentence; none where there were none."""
    if not learned:
        return []
    count = learned["count"]
    one = count == 1
    if not learned["used"]:
        were = "was" if one else "were"
        return [f"{_sales(count)} elsewhere did not clearly help to tell the lot's own prices, and {were} left out."]
    first = f"{_sales(count)} elsewhere {'counts' if one else 'count'} in it."
    return [first, *(_kind_said(kind) for kind in learned["kinds"])]


def _kind_said(kind: Mapping[str, Any]) -> str:
    words = KINDS.get(kind["kind"], kind["kind"])
    low, high = kind["low_percent"], kind["high_percent"]
    return (
        f"{words.capitalize()} ({kind['count']:,}): one counts as {kind['weight']:.2f} of the lot's own, and stands "
        f"{_apart(kind['offset_percent'])} (likely from {low:+.0f} to {high:+.0f} %)."
    )


def _sales(count: int) -> str:
    return f"{count:,} sale{'' if count == 1 else 's'}"


def _apart(percent: float) -> str:
    if abs(percent) < 0.5:
        return "level with them"
    return f"{abs(percent):.0f} % {'above' if percent > 0 else 'below'} them"
