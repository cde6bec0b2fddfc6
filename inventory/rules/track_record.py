"""The track record of the price band: when there can be one, which fit fails its checks, what the figures mean."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

LEAST_KNOWN = 30  # sales before the first one that is held against the band
LEAST_TESTED = 10
LEAST_SALES = LEAST_KNOWN + LEAST_TESTED
MOST_TESTED = 120
MOST_REFITS = 10  # a back-test takes about as long as that many fits
MOST_READ = 20_000  # sales that a back-test learns from: each of its fits reads them all again
PRD_LOW, PRD_HIGH = 0.98, 1.03  # IAAO, Standard on Ratio Studies, 2013: written for land and houses, context only


@dataclass(frozen=True)
class Plan:
    """Which of the sales, in the order of time, are held against the band: all from `start` on, in blocks of `step`."""

    start: int
    step: int


def plan(days: Sequence[date], *, refits: int = MOST_REFITS) -> Plan | None:
    """How the last sales are held against what was known before them; nothing where there are too few.

    The band is fitted again at most `refits` times.
    """
    in_time = sorted(days)
    start = max(LEAST_KNOWN, len(in_time) - MOST_TESTED)
    # A sale of the same day is not known yet: many sales of one day push the beginning back.
    while start < len(in_time) and bisect_left(in_time, in_time[start]) < LEAST_KNOWN:
        start += 1
    tested = len(in_time) - start
    return Plan(start, -(-tested // refits)) if tested >= LEAST_TESTED else None


def drift_days(days: Sequence[date]) -> list[date]:
    """The first day, the first of each month after it, and the last day: where the drift of the market is read."""
    if not days:
        return []
    first, last = min(days), max(days)
    months = range(first.year * 12 + first.month, last.year * 12 + last.month)  # counted from 1: the next one each
    firsts = [date(month // 12, month % 12 + 1, 1) for month in months]
    return list(dict.fromkeys([first, *firsts, last]))


def bounded_note(sales: int) -> str:
    """What a back-test of a long history left unread, as a sentence; empty where it read all."""
    if sales <= MOST_READ:
        return ""
    return (
        f"The track record is of bands learned from the last {MOST_READ:,} sales, not from all {sales:,} as this fit."
    )


def what_is_needed(sales: int) -> str:
    """Why there is no track record, as a sentence."""
    needs = (
        f"A track record needs {LEAST_SALES} sales: {LEAST_KNOWN} to learn from and {LEAST_TESTED} later ones to hold "
        "against the band."
    )
    if sales >= LEAST_SALES:
        return f"{needs} There are {sales:,}, but too many of them on one day."
    return f"{needs} There {'is' if sales == 1 else 'are'} {sales}."


def failings(figures: Mapping[str, Any]) -> list[str]:
    """What is wrong with a fit by its own back-test, as sentences; empty where nothing is."""
    return [sentence for sentence in (_coverage_failing(figures), _prd_failing(figures)) if sentence]


def _coverage_failing(figures: Mapping[str, Any]) -> str:
    """Flagged only where chance does not explain it: the stated share lies outside the interval of the observed one."""
    if not figures["banded"] or figures["share_low"] <= figures["stated"] <= figures["share_high"]:
        return ""
    narrow = figures["share_high"] < figures["stated"]
    return (
        f"Of the last {figures['banded']} sales {figures['inside']} ended inside the band, where "
        f"{percent(figures['stated'])} are meant to: the band is too {'narrow' if narrow else 'wide'}, and more than "
        "chance explains."
    )


def _prd_failing(figures: Mapping[str, Any]) -> str:
    if figures["prd"] is None or not (figures["prd_low"] > PRD_HIGH or figures["prd_high"] < PRD_LOW):
        return ""
    low = figures["prd_low"] > PRD_HIGH
    return (
        f"Dear vehicles are estimated too {'low' if low else 'high'} beside cheap ones: the price-related differential "
        f"is {figures['prd']:.3f} (by chance between {figures['prd_low']:.3f} and {figures['prd_high']:.3f}), outside "
        f"{PRD_LOW} to {PRD_HIGH}."
    )


def in_plain_words(figures: Mapping[str, Any]) -> str:
    """The one sentence that a track record comes down to."""
    if not figures["banded"]:
        return f"None of the last {figures['count']} sales had a band: there was too little like them."
    silent = figures["count"] - figures["banded"]
    rest = f" For {silent} more there was no band." if silent else ""
    return f"Of the last {figures['banded']} sales, {figures['inside']} ended inside the band.{rest}"


def in_a_few_lines(record: Mapping[str, Any]) -> list[str]:
    """A track record for the command line: how it did, or why there is none; nothing of a fit made without."""
    if "figures" in record:
        return [in_plain_words(record["figures"])]
    return [record["needed"]] if "needed" in record else []


def what_chance_does(figures: Mapping[str, Any]) -> str:
    """The spread that is to be expected of an honest band, so that a few misses are no alarm."""
    low, high = figures["expected_low"], figures["expected_high"]
    count = figures["banded"]
    return (
        f"With {count} sales, an honest band of {percent(figures['stated'])} holds between {percent(low)} and "
        f"{percent(high)} of them nine times out of ten ({_whole(low, of=count)} to {_whole(high, of=count)} sales). "
        "A share in between is no alarm, and no proof either."
    )


def percent(share: float, *, places: int = 0) -> str:
    """A share for people to read: 0.8 is 80 %."""
    return f"{share * 100:.{places}f} %"


def signed(percent: Decimal, *, places: int = 0) -> str:
    """A change for people to read, with a true minus: +5 %, −12 %, 0 %."""
    text = f"{abs(percent):.{places}f} %"
    if not any(digit in text for digit in "123456789"):
        return text
    return f"{'−' if percent < 0 else '+'}{text}"


def _whole(share: float, *, of: int) -> int:
    return int(share * of + 0.5)


@dataclass(frozen=True)
class Meaning:
    """One figure of the ratio study: its name, itself, what it says in a few words, the range usual elsewhere."""

    name: str
    value: str
    means: str
    usual: str


def meanings(figures: Mapping[str, Any]) -> tuple[Meaning, ...]:
    """The ratio study with a word on each figure. The ranges are for land and houses."""
    if figures["median_ratio"] is None:
        return ()
    return (
        Meaning("Median ratio", f"{figures['median_ratio']:.3f}", _of_level(figures["median_ratio"]), "0.90 to 1.10"),
        Meaning(
            "Coefficient of dispersion (COD)", f"{figures['cod']:.1f} %",
            "how far an estimate typically lies from the median ratio", "5 to 20 %",
        ),
        Meaning("Price-related differential (PRD)", _prd_shown(figures), _of_prd(figures["prd"]), "0.98 to 1.03"),
        *_prb_meaning(figures),
        Meaning(
            "Within 10 %", percent(figures["within_10"]), "share of the estimates within a tenth of the price", "none"
        ),
    )  # fmt: skip


def _of_level(ratio: float) -> str:
    if abs(ratio - 1) < 0.02:
        return "estimates are on the level of the prices"
    return f"estimates lie {percent(abs(ratio - 1), places=1)} {'above' if ratio > 1 else 'below'} the prices"


def _prd_shown(figures: Mapping[str, Any]) -> str:
    return f"{figures['prd']:.3f} ({figures['prd_low']:.3f} to {figures['prd_high']:.3f})"


def _of_prd(prd: float) -> str:
    if PRD_LOW <= prd <= PRD_HIGH:
        return "dear and cheap vehicles are estimated alike"
    return f"dear vehicles are estimated {'low' if prd > PRD_HIGH else 'high'} beside cheap ones"


def _prb_meaning(figures: Mapping[str, Any]) -> tuple[Meaning, ...]:
    prb = figures["prb"]
    if prb is None:
        return ()
    way = "rises" if prb > 0 else "falls"
    means = f"the ratio {way} by {percent(abs(prb), places=1)} when the value doubles"
    return (Meaning("Price-related bias (PRB)", f"{prb:.3f}".replace("-", "−"), means, "−0.05 to 0.05"),)
