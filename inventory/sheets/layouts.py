"""The three kinds of sheet the lot sends: what their columns are called, and which are needed."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, eq=False)
class Layout:
    """The columns of one kind of sheet: usual names, names that could be two things, what is needed, what is a date."""

    holds: str
    names: Mapping[str, str]
    two_ways: Mapping[str, tuple[str, ...]]
    required: tuple[str, ...]
    dates: tuple[str, ...]
    needed_without: tuple[tuple[str, str], ...] = ()
    """A column, and the other one without which it is needed."""

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(self.names)


_PAST_SALES: dict[str, str] = {
    "stock_number": "stock number|stock no|stock num|stock nr|stock|stock id|stk|stk no|stk number"
    "|inventory number|inventory no|unit number|unit no|consignment number|consignment no",
    "vin": "vin|vin number|vin no|vin or serial|vin serial|vin serial number|serial number|serial no"
    "|serial|chassis number|chassis no|chassis|vehicle identification number|frame number|frame no",
    "year": "year|yr|model year|model yr|year model|my",
    "make": "make|marque|manufacturer|brand|maker",
    "model": "model|model name",
    "trim": "trim|trim level|trim package|submodel|sub model|variant|version",
    "body": "body|body style|body type|coachwork",
    "engine": "engine|motor|eng|engine size|engine type|engine description",
    "transmission": "transmission|trans|trans type|transmission type|gearbox|tranny",
    "build_class": "build class|build type|build|kind of build",
    "color": "color|colour|exterior color|exterior colour|ext color|ext colour|paint|paint color"
    "|paint colour|body color|body colour",
    "mileage": "mileage|milage|miles|mi|odometer|odo|odometer reading|odo reading|mileage reading"
    "|odometer mileage|km|kms|kilometers|kilometres|odometer miles|mileage at sale|odometer at sale",
    "odometer_status": "odometer status|mileage status|odo status|odometer disclosure|mileage type"
    "|odometer brand|odometer statement",
    "condition": "condition|cond|condition score|condition rating|overall condition",
    "originality": "originality|originality score|originality rating",
    "title_brand": "title brand|title status|title|title branding|brand of title|title brands",
    "modifications": "modifications|modification|mods|modified|upgrades|custom work|modification list",
    "arrived_on": "arrived on|arrived|arrival date|arrival|date arrived|date in|in date|intake date"
    "|intake|received|received on|date received|consigned|consigned on|consignment date|date consigned",
    "listed_on": "listed on|listed|list date|listing date|date listed|first listed|advertised on"
    "|date advertised|on sale date|on sale since",
    "first_ask": "first ask|first asking price|original ask|original asking price|initial ask"
    "|initial asking price|opening ask|opening asking price|starting ask|starting price|initial price"
    "|original list price|first price",
    "last_ask": "last ask|last asking price|final ask|final asking price|last list price|final list price",
    "result": "result|outcome|sale result|sale outcome|disposition|sold or withdrawn|sale status",
    "reason": "reason|withdrawn reason|withdrawal reason|reason withdrawn|reason for withdrawal|why withdrawn",
    "channel": "channel|sale channel|sales channel|sold through|sold via|venue",
    "ended_on": "ended on|ended|end date|date ended|sale date|date of sale|sold date|date sold|sold on"
    "|closed|closed on|close date|closing date|date out|out date|withdrawn on|sold or withdrawn on"
    "|date of outcome",
    "price": "price|sale price|sales price|sold price|selling price|sell price|sold for|price sold"
    "|final price|sale amount|sold amount|amount|price paid|price realized|price realised",
}

_PAST_SALES_TWO_WAYS: dict[str, tuple[str, ...]] = {
    "date|dates|on": ("arrived_on", "listed_on", "ended_on"),
    "start date|date started|from": ("arrived_on", "listed_on"),
    "ask|asking|asking price|ask price|list price|listed price|listing price|listed at|asked": (
        "first_ask",
        "last_ask",
    ),
    "sold": ("result", "ended_on", "price"),
    "sold at": ("channel", "price"),
    "sale": ("ended_on", "price", "result"),
    "status": ("odometer_status", "title_brand", "result"),
    "number|no|id": ("stock_number", "vin"),
    "type|class|vehicle type|vehicle class": ("body", "build_class"),
    "style": ("trim", "body"),
    "grade|score|rating": ("condition", "originality"),
    "value": ("last_ask", "price"),
    "series": ("model", "trim"),
}

PAST_SALE_LAYOUT = Layout(
    holds="past sales",
    names=_PAST_SALES,
    two_ways=_PAST_SALES_TWO_WAYS,
    required=("year", "make", "model", "ended_on"),
    dates=("arrived_on", "listed_on", "ended_on"),
    needed_without=(("price", "result"),),  # without a result every row is a sale and has a price
)

_VEHICLE = (
    "vin", "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "mileage",
    "odometer_status", "title_brand",
)  # fmt: skip
_NOTE = "note|notes|comment|comments|remark|remarks|internal note"

_ELSEWHERE: dict[str, str] = {
    "source": "source|venue told|where|told by|where told|where it was told|seen at|seen where|reported by|sold where"
    "|place of sale|sale venue|venue",
    "ended_on": f"{_PAST_SALES['ended_on']}|date|on|day|auction date|date of auction",
    "channel": "channel|sale channel|sales channel|sold through|sold via|kind of sale|way",
    "sold": "sold or not|result|outcome|sale result|sale outcome|disposition|sale status|status|sold yes no",
    "premium": "premium|buyers premium|buyer premium|premium included|fees|fees included|buyers fee|buyers fees"
    "|buyer fee",
    "price": f"{_PAST_SALES['price']}|high bid|highest bid|bid|hammer|hammer price",
    **{name: _PAST_SALES[name] for name in (*_VEHICLE, "condition", "originality", "modifications")},
    "note": _NOTE,
}

ELSEWHERE_LAYOUT = Layout(
    holds="sales elsewhere",
    names=_ELSEWHERE,
    two_ways={
        "sold": ("sold", "ended_on", "price"),
        "sold at": ("source", "price"),
        "sale": ("ended_on", "price", "sold"),
        "type|class|vehicle type|vehicle class": ("body", "build_class"),
        "style": ("trim", "body"),
        "grade|score|rating": ("condition", "originality"),
        "series": ("model", "trim"),
    },
    required=("year", "make", "model", "ended_on", "price"),
    dates=("ended_on",),
)

_STOCK: dict[str, str] = {
    "stock_number": _PAST_SALES["stock_number"],
    **{name: _PAST_SALES[name] for name in _VEHICLE},
    "vin_reason": "vin reason|serial reason|reason of number|why the number is right|number remark",
    "consignor_name": "consignor|consignor name|name of consignor|owner|owner name|owners name|seller|seller name"
    "|client|client name|customer|customer name|name",
    "consignor_email": "consignor email|consignor e mail|email|e mail|mail|email address|owner email|seller email"
    "|client email|customer email",
    "consignor_phone": "consignor phone|phone|telephone|tel|mobile|cell|phone number|phone no|owner phone|seller phone"
    "|client phone|customer phone|cell phone",
    "arrived_on": _PAST_SALES["arrived_on"],
    "place": "place|location|parked|bay|spot|slot|space|stands|where|row",
    "key_tag": "key tag|key|keys|key number|key no|tag|key hook|hook",
    "commission_rate": "commission rate|commission|rate|commission percent|commission pct|comm|comm rate|percent",
    "commission_minimum": "commission minimum|minimum commission|min commission|commission min|minimum fee|min fee",
    "commission_flat": "commission flat|flat|flat fee|flat commission|fixed fee|fixed commission",
    "floor": "floor|floor price|lowest|lowest price|minimum price|min price|reserve|reserve price|bottom|bottom price",
    "agreement_starts_on": "agreement starts on|agreement starts|agreement start|agreement from|contract starts"
    "|contract start|contract from|agreement date|contract date|starts on|starts|terms from",
    "agreement_ends_on": "agreement ends on|agreement ends|agreement end|agreement until|contract ends|contract end"
    "|contract until|ends on|ends|expires|expires on|expiry|expiration|expiration date|end|end date|terms until|until",
    "signed_by": "signed by|signer|agreement signed by|who signed",
    "signed_on": "signed on|date signed|signed date|agreement signed on|agreement signed",
    "ask": "ask|asking|asking price|ask price|current ask|list price|listed price|listing price|price|current price",
    "ask_since": "ask since|asked since|price since|ask date|price date|date of ask|asking since",
    "note": _NOTE,
}

STOCK_LAYOUT = Layout(
    holds="vehicles that are here now",
    names=_STOCK,
    two_ways={
        "date|on": ("arrived_on", "agreement_starts_on"),
        "start|start date|from": ("arrived_on", "agreement_starts_on"),
        "minimum|min": ("commission_minimum", "floor"),
        "fee": ("commission_flat", "commission_minimum"),
        "signed": ("signed_by", "signed_on"),
        "status": ("odometer_status", "title_brand"),
        "number|no|id": ("stock_number", "vin"),
        "type|class|vehicle type|vehicle class": ("body", "build_class"),
        "style": ("trim", "body"),
        "series": ("model", "trim"),
    },
    required=("year", "make", "model", "consignor_name"),
    dates=("arrived_on", "agreement_starts_on", "agreement_ends_on", "signed_on", "ask_since"),
)
