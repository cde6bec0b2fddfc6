"""Which column of a file is which: by name, whatever its case, spacing and usual wording."""

import re
import unicodedata
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from inventory.errors import Refused
from inventory.sheets.layouts import PAST_SALE_LAYOUT, Layout

CANONICAL = PAST_SALE_LAYOUT.columns
REJECT_REASON = "reject_reason"
"""The column that a rejects file adds; it is passed over when the file is sent again."""

_UNITS = frozenset({"usd", "us", "dollars", "eur", "gbp", "mi", "miles", "km", "kms", "kilometers", "kilometres"})
_IN_BRACKETS = re.compile(r"\([^)]*\)|\[[^\]]*\]")
_KILOMETRES = re.compile(r"\b(?:kms?|kilomet(?:er|re)s?)\b")


def _joined(words: str) -> str:
    return words.replace(" ", "")


@cache
def _by_name(layout: Layout) -> dict[str, tuple[str, ...]]:
    single = {_joined(name): (column,) for column, names in layout.names.items() for name in names.split("|")}
    return single | {_joined(name): columns for names, columns in layout.two_ways.items() for name in names.split("|")}


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
    layout: Layout = PAST_SALE_LAYOUT

    def header_of(self, column: str) -> str:
        return self.headers[self.columns[column]] if column in self.columns else column

    def mileage_in_km(self) -> bool:
        """Whether the header itself says that the mileage is in kilometres."""
        return _KILOMETRES.search(self.header_of("mileage").casefold()) is not None


def match_columns(
    headers: Sequence[str],
    *,
    chosen: Mapping[str, str],
    ignore: Collection[str] = (),
    layout: Layout = PAST_SALE_LAYOUT,
) -> Matching:
    """Match headers to canonical columns. What was chosen stands; what could be two things is left open.

    Raises Refused only where a choice names a column or a header that is not there.
    """
    labels = label_headers(headers)
    columns = _chosen_columns(labels, headers=headers, chosen=chosen, layout=layout)
    passed_over = {_find_header(label, labels=labels, headers=headers, field="ignore") for label in ignore}
    taken = set(columns.values()) | passed_over
    meanings = {
        place: columns_named(header, layout=layout)
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
    return Matching(labels, columns, ignored, unclear, _missing(columns, unclear=unclear, layout=layout), layout)


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


def columns_named(header: str, *, layout: Layout = PAST_SALE_LAYOUT) -> tuple[str, ...]:
    """The canonical columns that a header may mean; none if it is not a usual wording."""
    known = _by_name(layout)
    for name in _wordings(header):
        if name in known:
            return known[name]
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


def _chosen_columns(
    labels: Sequence[str], *, headers: Sequence[str], chosen: Mapping[str, str], layout: Layout
) -> dict[str, int]:
    columns: dict[str, int] = {}
    for column, header in chosen.items():
        if column not in layout.names:
            near = get_close_matches(column, layout.columns, n=1)
            raise Refused(
                "sheet.no_such_column",
                f"There is no column called “{column}”.",
                field="columns",
                got=column,
                mend=f"Did you mean {near[0]}?" if near else f"The columns are {', '.join(layout.columns)}.",
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


def _missing(columns: Mapping[str, int], *, unclear: Sequence[Unclear], layout: Layout) -> tuple[str, ...]:
    """Required columns that no header may mean, and those that are required for want of another."""
    wanted = (*layout.required, *(column for column, other in layout.needed_without if other not in columns))
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
