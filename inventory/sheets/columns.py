"""Which column of a file is which: by name, whatever its case, spacing and usual wording."""

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from inventory.errors import Refused

REJECT_REASON = "reject_reason"
"""The column that a rejects file adds; it is passed over when the file is sent again."""

REQUIRED = ("year", "make", "model", "ended_on")

_DEFINITE: dict[str, str] = {
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
CANONICAL = tuple(_DEFINITE)

_TWO_WAYS: dict[str, tuple[str, ...]] = {
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

_UNITS = frozenset({"usd", "us", "dollars", "eur", "gbp", "mi", "miles", "km", "kms", "kilometers", "kilometres"})
_IN_BRACKETS = re.compile(r"\([^)]*\)|\[[^\]]*\]")
_KILOMETRES = re.compile(r"\b(?:kms?|kilomet(?:er|re)s?)\b")


def _joined(words: str) -> str:
    return words.replace(" ", "")


_BY_NAME: dict[str, tuple[str, ...]] = {
    **{_joined(name): (column,) for column, names in _DEFINITE.items() for name in names.split("|")},
    **{_joined(name): columns for names, columns in _TWO_WAYS.items() for name in names.split("|")},
}


@dataclass(frozen=True, slots=True)
class Unclear:
    """Headers and columns that could belong together in more than one way."""

    headers: tuple[str, ...]
    columns: tuple[str, ...]

    def __str__(self) -> str:
        return f"{_listed(self.headers)} could be {_listed(self.columns, quoted=False)}"


@dataclass(frozen=True, slots=True)
class Matching:
    """Where each canonical column stands in the file, and what is left open.

    `headers` are labels: as written where they are single, with their place where they are not.
    """

    headers: tuple[str, ...]
    columns: Mapping[str, int]
    ignored: tuple[str, ...]
    unclear: tuple[Unclear, ...]
    missing: tuple[str, ...]

    def header_of(self, column: str) -> str:
        return self.headers[self.columns[column]] if column in self.columns else column

    def mileage_in_km(self) -> bool:
        """Whether the header itself says that the mileage is in kilometres."""
        return _KILOMETRES.search(self.header_of("mileage").casefold()) is not None


def match_columns(headers: Sequence[str], *, chosen: Mapping[str, str], ignore: Collection[str] = ()) -> Matching:
    """Match headers to canonical columns. What was chosen stands; what could be two things is left open.

    Raises Refused only where a choice names a column or a header that is not there.
    """
    labels = label_headers(headers)
    columns = _chosen_columns(labels, headers=headers, chosen=chosen)
    passed_over = {_find_header(label, labels=labels, headers=headers, field="ignore") for label in ignore}
    taken = set(columns.values()) | passed_over
    meanings = {
        place: columns_named(header)
        for place, header in enumerate(headers)
        if place not in taken and _plain(header) != _joined(REJECT_REASON.replace("_", " "))
    }
    unclear = _settle(meanings, columns=columns, labels=labels)
    open_places = {labels.index(label) for item in unclear for label in item.headers}
    known = set(columns.values()) | open_places
    ignored = tuple(
        labels[place]
        for place in range(len(headers))
        if place in passed_over or (place in meanings and place not in known)
    )
    return Matching(labels, columns, ignored, unclear, _missing(columns, unclear=unclear))


def require_clear(matching: Matching) -> None:
    """Raise Refused for what is ambiguous, else for required columns that are not there."""
    if matching.unclear:
        first = matching.unclear[0]
        raise Refused(
            "sheet.columns_unclear",
            f"{'; '.join(map(str, matching.unclear))}.",
            field=first.columns[0],
            got=list(first.headers),
            mend=f'Say which, such as --column {first.columns[0]}="{first.headers[0]}", '
            f'or leave a column out with --ignore-column "{first.headers[0]}".',
        )
    if matching.missing:
        raise Refused(
            "sheet.columns_missing",
            f"No column for {_listed(matching.missing, quoted=False)} among {_headers_shown(matching)}.",
            field=matching.missing[0],
            got=list(matching.headers),
            mend=f'Name it, such as --column {matching.missing[0]}="{_nearest(matching)}".',
        )


def columns_named(header: str) -> tuple[str, ...]:
    """The canonical columns that a header may mean; none if it is not a usual wording."""
    for name in _wordings(header):
        if name in _BY_NAME:
            return _BY_NAME[name]
    return ()


def label_headers(headers: Sequence[str]) -> tuple[str, ...]:
    """One distinct label for each header: blank and repeated ones carry their place."""
    tidy = [" ".join(header.split()) for header in headers]
    count = Counter(tidy)
    return tuple(
        (f"{name} (column {place})" if name else f"column {place}") if not name or count[name] > 1 else name
        for place, name in enumerate(tidy, start=1)
    )


def _plain(header: str) -> str:
    return "".join(_words(header))


def _words(header: str) -> list[str]:
    """Words in small letters without accents or punctuation; # is read as "number"."""
    letters = unicodedata.normalize("NFKD", header.replace("#", " number ")).casefold()
    bare = "".join(letter for letter in letters if not unicodedata.combining(letter))
    return re.sub(r"[^0-9a-z]+", " ", bare.replace("'", "")).split()


def _wordings(header: str) -> list[str]:
    """The header as it stands, then without brackets, then without a unit at its end."""
    full = _words(header)
    bare = _words(_IN_BRACKETS.sub(" ", header))
    found = ["".join(full), "".join(bare)]
    while len(bare) > 1 and bare[-1] in _UNITS:
        bare = bare[:-1]
        found.append("".join(bare))
    return [name for name in found if name]


def _chosen_columns(labels: Sequence[str], *, headers: Sequence[str], chosen: Mapping[str, str]) -> dict[str, int]:
    columns: dict[str, int] = {}
    for column, header in chosen.items():
        if column not in _DEFINITE:
            near = get_close_matches(column, CANONICAL, n=1)
            raise Refused(
                "sheet.no_such_column",
                f"There is no column called “{column}”.",
                field="columns",
                got=column,
                mend=f"Did you mean {near[0]}?" if near else f"The columns are {', '.join(CANONICAL)}.",
            )
        place = _find_header(header, labels=labels, headers=headers, field=column)
        if place in columns.values():
            raise Refused(
                "sheet.header_twice",
                f"“{labels[place]}” was chosen for two columns.",
                field=column,
                got=header,
                mend="Choose another header for one of them.",
            )
        columns[column] = place
    return columns


def _find_header(header: str, *, labels: Sequence[str], headers: Sequence[str], field: str) -> int:
    wanted = " ".join(header.split())
    if wanted in labels:
        return labels.index(wanted)
    alike = [place for place, name in enumerate(headers) if _plain(name) and _plain(name) == _plain(wanted)]
    if len(alike) == 1:
        return alike[0]
    among = [labels[place] for place in alike] or list(labels)
    raise Refused(
        "sheet.no_such_header",
        f"“{header}” is {'the header of several columns' if alike else 'no header of this file'}.",
        field=field,
        got=header,
        mend=f"Choose one of {_listed(among)}.",
    )


def _settle(
    meanings: Mapping[int, tuple[str, ...]], *, columns: dict[str, int], labels: Sequence[str]
) -> tuple[Unclear, ...]:
    """Fill `columns` where one header has one meaning; give back what could go several ways."""
    wanting: dict[str, list[int]] = {}
    for place, named in meanings.items():
        if len(named) == 1 and named[0] not in columns:
            wanting.setdefault(named[0], []).append(place)
    columns.update({column: places[0] for column, places in wanting.items() if len(places) == 1})
    unclear = [
        Unclear(tuple(labels[place] for place in places), (column,))
        for column, places in wanting.items()
        if len(places) > 1
    ]
    for place, named in meanings.items():
        # A header of two meanings stays open even when one is taken: the other would be a guess.
        still_open = tuple(column for column in named if column not in columns)
        if len(named) > 1 and still_open:
            unclear.append(Unclear((labels[place],), still_open))
    return tuple(unclear)


def _missing(columns: Mapping[str, int], *, unclear: Sequence[Unclear]) -> tuple[str, ...]:
    """Required columns that no header may mean. Without a result every row is a sale and has a price."""
    wanted = REQUIRED if "result" in columns else (*REQUIRED, "price")
    maybe = {column for item in unclear for column in item.columns}
    return tuple(column for column in wanted if column not in columns and column not in maybe)


def _nearest(matching: Matching) -> str:
    near = get_close_matches(matching.missing[0], matching.ignored, n=1, cutoff=0.4)
    return near[0] if near else (matching.ignored or ("its header",))[0]


def _headers_shown(matching: Matching) -> str:
    most = 12
    more = len(matching.headers) - most
    return _listed(matching.headers[:most]) + (f" and {more} more" if more > 0 else "")


def _listed(names: Sequence[str], *, quoted: bool = True) -> str:
    shown = [f"“{name[:60]}”" if quoted else name for name in names]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} or {shown[-1]}"
