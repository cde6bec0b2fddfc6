"""What finding something out is worth: the width of the band now, less the width to be expected once it is known."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from valuation.errors import BadInput
from valuation.model import PriceModel
from valuation.reading import Array

Answer = tuple[float, Mapping[str, Any]]
COLUMNS = ("width", "worth", "without_band", "answers")
CLOSE = 1e-9


def expected_widths(
    model: PriceModel, frame: pd.DataFrame, *, questions: Mapping[str, Sequence[Answer]]
) -> pd.DataFrame:
    """Width of one vehicle's band to be expected once each question is answered, each question taken alone.

    Parameters
    ----------
    model : fitted
    frame : one row, the vehicle as it is known now, with the columns of every role
    questions : by name, all answers that are thought possible: (probability, columns that the answer changes and
        their new values). The probabilities of one question are 0 or more and add up to 1.

    Returns
    -------
    One row per question, in their order. `width`: expected width (high less low) in currency units over the answers
    that leave a band; NaN where none does. `worth`: width now less `width`, below 0 where the answers on the whole
    widen the band; NaN without a band now. `without_band`: probability of the answers that leave none, 0 to 1.
    `answers`: how many there are.

    Raises
    ------
    NotFitted
        The model is not fitted.
    BadInput
        The frame has not one row, lacks a column or holds what cannot be read; a question has no answer,
        probabilities that do not add up to 1, or an answer that changes a column which the frame lacks.

    Notes
    -----
    E[width] = sum of p (high - low) / sum of p, over the answers with a band. The vehicle is priced anew for every
    answer with the same fit: nothing is learned from the answer but what it says of this vehicle. An answer without
    a band has no width, so it is left out of the mean and told as a share.

    `band_widths` asks something else: how wide the band would be if an input turned out to be what is expected, the
    likely price staying as it is. Here an answer moves the likely price too, the width moves with it (a band is as
    wide as its price is high), and an answer may be one that the history seldom saw. So a worth may be negative.

    The answers of all questions are priced in one batch, equal ones once.

    Source: own derivation; it is the expected reduction of width, as in the expected value of information of
    Raiffa & Schlaifer 1961, with the width of the band for the loss.

    Examples
    --------
    >>> sales = pd.DataFrame({"make": ["Merrow", "Tarn"] * 10, "grade": [5.0 * g for g in range(20)]})
    >>> price = [20_000 * (1 + (i % 2)) * 1.03 ** i * (1 + 0.01 * (i % 3)) for i in range(20)]
    >>> model = PriceModel(nested=("make",), rising=("grade",), date=None).fit(sales, price)
    >>> subject = pd.DataFrame({"make": ["Tarn"], "grade_low": [20.0], "grade_high": [80.0]})
    >>> seen = [(0.5, {"grade_low": 50.0}), (0.5, {"grade_high": 50.0})]
    >>> told = expected_widths(model, subject, questions={"underside": seen, "nothing": [(1.0, {})]})
    >>> bool(told.loc["underside", "worth"] > 0), float(told.loc["nothing", "worth"])
    (True, 0.0)
    """
    _refuse(frame, questions=questions)
    batch = _batch(frame, questions=questions)
    widths = _widths(model, batch.rows)
    now = float(widths[0])
    told = [_told(answers, widths=widths[batch.places[name]], now=now) for name, answers in questions.items()]
    return pd.DataFrame(told, columns=list(COLUMNS), index=list(questions))


def _widths(model: PriceModel, rows: pd.DataFrame) -> Array:
    """High less low of each row, free of the dust that subtracting decimals leaves."""
    band = model.band(rows)
    out: Array = np.round((band["high"] - band["low"]).to_numpy(), model.decimals)
    return out


def _told(answers: Sequence[Answer], *, widths: Array, now: float) -> tuple[float, float, float, int]:
    chances = np.array([chance for chance, _ in answers])
    banded = ~np.isnan(widths)
    if not chances[banded].sum():
        return math.nan, math.nan, 1.0, len(answers)
    shares = chances[banded] / chances[banded].sum()
    worth = float(shares @ (now - widths[banded]))  # of the differences: what changes nothing is worth exactly 0
    return float(shares @ widths[banded]), worth, float(chances[~banded].sum()), len(answers)


@dataclass(frozen=True)
class _Batch:
    """The vehicle as it is, then every different answer; and where each question's answers stand among them."""

    rows: pd.DataFrame
    places: dict[str, list[int]]


def _batch(frame: pd.DataFrame, *, questions: Mapping[str, Sequence[Answer]]) -> _Batch:
    known: dict[tuple[Any, ...], int] = {(): 0}
    places = {
        name: [known.setdefault(_key(changes), len(known)) for _, changes in answers]
        for name, answers in questions.items()
    }
    names = list(frame.columns)
    as_it_is = dict(zip(names, frame.itertuples(index=False, name=None).__next__(), strict=True))
    rows = pd.DataFrame([{**as_it_is, **dict(key)} for key in known], columns=names)
    return _Batch(_as_before(rows, frame=frame), places)


def _key(changes: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(sorted(changes.items()))


def _as_before(rows: pd.DataFrame, *, frame: pd.DataFrame) -> pd.DataFrame:
    """A number that is missing in all rows stays a number."""
    numbers = [name for name in frame.columns if pd.api.types.is_numeric_dtype(frame[name])]
    return rows.assign(**{name: pd.to_numeric(rows[name]) for name in numbers})


def _refuse(frame: pd.DataFrame, *, questions: Mapping[str, Sequence[Answer]]) -> None:
    if len(frame) != 1:
        raise BadInput(f"frame must have one row, got {len(frame)}")
    for name, answers in questions.items():
        chances = [chance for chance, _ in answers]
        if not answers or min(chances) < 0 or abs(math.fsum(chances) - 1) > CLOSE:
            text = f"the probabilities of {name!r} must be 0 or more and add up to 1, got {chances}"
            raise BadInput(text)
        for column in sorted({column for _, changes in answers for column in changes}):
            if column not in frame.columns:
                raise BadInput(f"{name!r} changes the column {column!r}, which frame lacks", column=column)
