"""A vehicle for sale as open data, in the words of the schema.org vocabulary (https://schema.org/Vehicle).

What is not known is left out. Where the vocabulary has no place for what a value rests on, the value says it itself.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.rules import money
from inventory.rules.listing_spec import NOT_KNOWN, Spec
from inventory.rules.receipts import odometer_told
from inventory.rules.words import SerialKind

CONTEXT = "https://schema.org"
_ESCAPES = {ord("<"): "\\u003C", ord(">"): "\\u003E", ord("&"): "\\u0026", 0x2028: "\\u2028", 0x2029: "\\u2029"}


@dataclass(frozen=True, kw_only=True)
class Offered:
    """What is offered, where, and by whom. Addresses are whole."""

    url: str
    name: str
    stock_number: str
    description: str
    specs: Sequence[Spec]
    serial_kind: str
    mileage: int | None
    odometer_status: str
    faults: Sequence[str]
    images: Sequence[str]
    ask: Decimal | None
    reserved: bool
    seller: str
    seller_address: str
    seller_phone: str


def open_data(offered: Offered) -> dict[str, Any]:
    """One vehicle as a node of linked data."""
    spec = {one.code: one for one in offered.specs if one.value != NOT_KNOWN}
    said: dict[str, Any] = {
        "@context": CONTEXT, "@type": "Car", "@id": offered.url, "url": offered.url, "name": offered.name,
        "sku": offered.stock_number, "description": offered.description,
        "itemCondition": f"{CONTEXT}/UsedCondition",
        "brand": {"@type": "Brand", "name": spec["make"].value}, "model": spec["model"].value,
        "vehicleModelDate": spec["year"].value, "offers": _offer(offered), "image": list(offered.images),
        "knownVehicleDamages": " ".join(offered.faults),
        **{name: spec[code].said for name, code in _PLAIN.items() if code in spec},
        **_engine(spec), **_number(spec, kind=offered.serial_kind), **_mileage(offered),
    }  # fmt: skip
    return {name: value for name, value in said.items() if value not in ("", [], None)}


_PLAIN = {"bodyType": "body", "vehicleTransmission": "transmission", "color": "color"}


def _offer(offered: Offered) -> dict[str, Any] | None:
    if offered.ask is None:
        return None
    state = "Reserved" if offered.reserved else "InStock"
    return {
        "@type": "Offer", "url": offered.url, "price": f"{money.round_money(offered.ask):f}", "priceCurrency": "USD",
        "availability": f"{CONTEXT}/{state}", "itemCondition": f"{CONTEXT}/UsedCondition", "seller": _seller(offered),
    }  # fmt: skip


def _seller(offered: Offered) -> dict[str, str]:
    given = {
        "@type": "AutoDealer", "name": offered.seller, "telephone": offered.seller_phone,
        "address": " ".join(offered.seller_address.split()),
    }  # fmt: skip
    return {name: value for name, value in given.items() if value}


def _engine(spec: Mapping[str, Spec]) -> dict[str, Any]:
    if "engine" not in spec:
        return {}
    return {"vehicleEngine": {"@type": "EngineSpecification", "engineType": spec["engine"].said}}


def _number(spec: Mapping[str, Spec], *, kind: str) -> dict[str, Any]:
    """Readers take a vehicle identification number for one of 17 signs; an earlier serial is an identifier."""
    if "serial" not in spec:
        return {}
    value = spec["serial"].value
    if kind == SerialKind.VIN:
        return {"vehicleIdentificationNumber": value}
    return {"identifier": {"@type": "PropertyValue", "name": "serial number", "value": value}}


def _mileage(offered: Offered) -> dict[str, Any]:
    if offered.mileage is None:
        return {}
    told = odometer_told(offered.mileage, reason="", status=offered.odometer_status)
    return {
        "mileageFromOdometer": {
            "@type": "QuantitativeValue", "value": offered.mileage, "unitCode": "SMI",
            "valueReference": told.split("; ", maxsplit=1)[-1],
        }
    }  # fmt: skip


def feed(offers: Sequence[Offered], *, url: str) -> dict[str, Any]:
    """All that is for sale as one list."""
    items = [
        {"@type": "ListItem", "position": place, "item": _bare(offered)}
        for place, offered in enumerate(offers, start=1)
    ]
    return {
        "@context": CONTEXT, "@type": "ItemList", "url": url, "numberOfItems": len(items), "itemListElement": items,
    }  # fmt: skip


def _bare(offered: Offered) -> dict[str, Any]:
    return {name: value for name, value in open_data(offered).items() if name != "@context"}


def as_script(data: Mapping[str, Any]) -> str:
    """The data as it may stand inside a script element: nothing in it can close the element."""
    return json.dumps(data, ensure_ascii=False).translate(_ESCAPES)
