"""How often each make and model was sold, here and elsewhere, and which errors a vehicle's band may rest on."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valuation.bands import Tails
from valuation.calibration import ROWS, only_elsewhere
from valuation.reading import Array, Table, Words

LEAST_GROUPS = 5  # makes (or models) sold twice or more before anything is said about one never seen
Counts = NDArray[np.int64]


def counts_of(words: Words) -> dict[str, int]:
    """Sales by name, without those whose name is not known.

    Examples
    --------
    >>> counts_of(np.array(["tarn", "", "tarn"], dtype=object))
    {'tarn': 2}
    """
    found, counts = np.unique(words[words != ""].astype(str), return_counts=True)
    return {str(word): int(count) for word, count in zip(found, counts, strict=True)}


def times_seen(words: Words, *, counts: dict[str, int]) -> Counts:
    """How often the group of each row was sold, shape (rows,)."""
    return np.array([counts.get(word, 0) for word in words], dtype=np.int64)


@dataclass(frozen=True)
class Seen:
    """Sales by level (make, model) and name: the lot's own, and those elsewhere that the fit uses."""

    here: dict[str, dict[str, int]]
    elsewhere: dict[str, dict[str, int]]

    @property
    def levels(self) -> tuple[str, ...]:
        return tuple(self.here)

    def never(self, table: Table) -> Counts:
        """1 + n for the widest level of which the vehicle's group was sold nowhere, 0 where there is none."""
        return self._widest(table, abroad=False)

    def abroad(self, table: Table) -> Counts:
        """1 + n for the widest level of which the vehicle's group was sold elsewhere alone, 0 where there is none."""
        return self._widest(table, abroad=True)

    def _widest(self, table: Table, *, abroad: bool) -> Counts:
        found = np.zeros(table.size, dtype=np.int64)
        for number in range(len(self.levels) - 1, -1, -1):
            name = self.levels[number]
            here = times_seen(table.words[name], counts=self.here[name])
            there = times_seen(table.words[name], counts=self.elsewhere.get(name, {}))
            found[(here == 0) & ((there > 0) == abroad)] = number + 1
        return found

    def reach(self, table: Table, *, found: dict[str, Tails]) -> tuple[Array, Array]:
        """How far each band reaches below and above the median, in standard deviations; NaN where nothing tells.

        Notes
        -----
        Of a group sold nowhere the errors with whole groups held out count, of one sold elsewhere alone those with
        the lot's own sales of a group held out; where both hold of a vehicle, of its make and model say, the wider.
        """
        never = [_reach_of(found.get(name)) for name in (ROWS, *self.levels)]
        abroad = [_reach_of(found.get(only_elsewhere(name), found.get(name))) for name in self.levels]
        scheme, away = self.never(table), self.abroad(table)
        reach = np.array(never)[scheme]
        other = np.array([never[0], *abroad])[away]
        reach = np.where((away > 0)[:, None], np.where((scheme > 0)[:, None], np.maximum(reach, other), other), reach)
        return reach[:, 0], reach[:, 1]

    def missing(self, table: Table, *, reach: Array) -> NDArray[np.object_]:
        """A sentence for each vehicle of a group never sold here of which too little tells, "" for the others."""
        reason = np.full(table.size, "", dtype=object)
        for scheme in (self.abroad(table), self.never(table)):
            for number, name in enumerate(self.levels, start=1):
                several = self._sold_twice(name)
                if several < LEAST_GROUPS:
                    text = f"no sale of this {name}, and {several} sold twice or more where {LEAST_GROUPS} are needed"
                    reason[scheme == number] = text
                elif (lost := (scheme == number) & np.isnan(reach) & (reason == "")).any():
                    groups = len(self.here[name])
                    reason[lost] = f"no sale of this {name}: {groups} others, too few to tell how far it may lie apart"
        return reason

    def _sold_twice(self, name: str) -> int:
        both = dict(self.elsewhere.get(name, {}))
        for word, count in self.here[name].items():
            both[word] = both.get(word, 0) + count
        return sum(count > 1 for count in both.values())


def _reach_of(tail: Tails | None) -> tuple[float, float]:
    return (np.nan, np.nan) if tail is None else (tail.below, tail.above)
