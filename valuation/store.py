"""A fitted model as plain numbers and text, and back: nothing that runs, nothing that only one library can read."""

import base64
import math
from dataclasses import fields
from typing import Any

import numpy as np

from valuation.bands import Tails
from valuation.basis import Line, Rising, Smooth
from valuation.calibration import Calibration
from valuation.design import Block, Design, GapTerm, LevelTerm, NumberTerm, TogetherTerm
from valuation.errors import BadStore, NotFitted
from valuation.fitting import Additive
from valuation.market import Kind, Market
from valuation.missing import Joint
from valuation.model import PriceModel
from valuation.reading import Roles
from valuation.seen import Seen
from valuation.shrinkage import Strengths
from valuation.spread import Spread
from valuation.together import Together

VERSION = 4
MOST_PLAIN = 1_000  # numbers of an array that are written one by one; a longer one is read back 50 times as fast packed
KINDS = {
    kind.__name__: kind
    for kind in (
        Additive,
        Block,
        Calibration,
        Design,
        GapTerm,
        Joint,
        Kind,
        LevelTerm,
        Line,
        Market,
        NumberTerm,
        Rising,
        Seen,
        Roles,
        Smooth,
        Spread,
        Strengths,
        Tails,
        Together,
        TogetherTerm,
    )
}
FITTED = (
    "sales_used_",
    "sales_hash_",
    "notes_",
    "seen_",
    "elsewhere_",
    "calibration_",
    "typical_",
    "design_",
    "additive_",
)


def to_dict(model: PriceModel) -> dict[str, Any]:
    """A fitted model as a dict that `json.dumps` takes as it is (also with `allow_nan=False`).

    Returns
    -------
    `version`, `sales_used`, `sales_hash`, `params` and `fitted`. Numbers are floats in full, so that reading
    them back gives the same prices to the last digit. An array is {"array": its numbers, "shape": [...]}, a long one
    {"packed": the same as IEEE 754 doubles, least byte first, in base64, "shape": [...]}.

    Raises
    ------
    NotFitted
        There is nothing to store yet.
    """
    if not hasattr(model, "additive_"):
        raise NotFitted("PriceModel must be fitted before it is stored: call fit")
    return {
        "version": VERSION,
        "sales_used": model.sales_used_,
        "sales_hash": model.sales_hash_,
        "params": {name: _plain(value) for name, value in model.get_params().items()},
        "fitted": {name: _plain(getattr(model, name)) for name in FITTED},
    }


def from_dict(stored: dict[str, Any]) -> PriceModel:
    """The model that `to_dict` stored.

    Raises
    ------
    BadStore
        Another version, or a dict that is not such a store.
    """
    version = stored.get("version")
    if version != VERSION:
        raise BadStore(f"version must be {VERSION}, got {version!r}: fit again")
    try:
        model = PriceModel(**{name: _back(value) for name, value in stored["params"].items()})
        for name in FITTED:
            setattr(model, name, _back(stored["fitted"][name]))
    except (KeyError, TypeError, ValueError) as error:
        raise BadStore(f"the stored fit must be one that to_dict made, got otherwise: {error!r}") from error
    roles = model.design_.roles
    model.feature_names_in_ = np.array([*roles.words, *roles.numbers], dtype=object)
    return model


def _plain(value: Any) -> Any:
    if type(value).__name__ in KINDS:
        return {
            "type": type(value).__name__,
            **{f.name: _plain(getattr(value, f.name)) for f in fields(value)},
        }
    if isinstance(value, np.ndarray):
        shape = list(value.shape)
        if value.size > MOST_PLAIN:
            return {"packed": base64.b64encode(value.astype("<f8").tobytes()).decode("ascii"), "shape": shape}
        return {"array": [_plain(item) for item in value.ravel().tolist()], "shape": shape}
    if isinstance(value, dict):
        return {"dict": {name: _plain(item) for name, item in value.items()}}
    if isinstance(value, tuple):
        return {"tuple": [_plain(item) for item in value]}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return {"float": repr(value)}
    return value


def _back(value: Any) -> Any:
    if isinstance(value, list):
        return [_back(item) for item in value]
    if not isinstance(value, dict):
        return value
    if "type" in value:
        return KINDS[value["type"]](**{name: _back(item) for name, item in value.items() if name != "type"})
    if "packed" in value:
        packed = base64.b64decode(value["packed"], validate=True)
        return np.frombuffer(packed, dtype="<f8").astype(np.float64).reshape(value["shape"])
    if "array" in value:
        items = value["array"]
        if any(isinstance(item, dict) for item in items):  # one that JSON has no number for
            items = [_back(item) for item in items]
        return np.array(items, dtype=np.float64).reshape(value["shape"])
    if "dict" in value:
        return {name: _back(item) for name, item in value["dict"].items()}
    if "tuple" in value:
        return tuple(_back(item) for item in value["tuple"])
    return float(value["float"])
