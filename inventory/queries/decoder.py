"""The lot's own decoder table: what is in it, and what it says of one code."""

from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Q, QuerySet

from inventory.errors import NotFound
from inventory.models import DecoderEntry
from inventory.rules.components import CODED_TITLES
from inventory.rules.date_codes import spoken
from inventory.rules.decoding import ambiguity, beginnings, key_of
from inventory.rules.words import CodeMatch

PER_PAGE = 30


def live() -> QuerySet[DecoderEntry]:
    """Entries that count: neither corrected nor retired."""
    return DecoderEntry.objects.filter(corrected_by__isnull=True, retired=False)


@dataclass(frozen=True)
class EntryShown:
    row: DecoderEntry

    @property
    def title(self) -> str:
        return CODED_TITLES.get(self.row.component, self.row.component)

    @property
    def years(self) -> str:
        first, last = self.row.from_year, self.row.to_year
        return str(first) if first == last else f"{first} to {last}"

    @property
    def dated(self) -> str:
        first, last = self.row.earliest_on, self.row.latest_on
        return "" if first is None or last is None else spoken(first, latest=last)


@dataclass(frozen=True)
class Meanings:
    """All that one code can mean, none of them chosen, and a warning where there are several."""

    code: str
    entries: list[EntryShown]

    @property
    def warning(self) -> str:
        spans = [
            (shown.row.earliest_on, shown.row.latest_on)
            if shown.row.earliest_on is not None and shown.row.latest_on is not None
            else None
            for shown in self.entries
        ]
        return ambiguity(spans, meanings=len(self.entries))


def matching(rows: QuerySet[DecoderEntry], *, code: str) -> QuerySet[DecoderEntry]:
    """Entries for this very code, or for a beginning of it."""
    exact = Q(match=CodeMatch.EXACT, written_key=key_of(code))
    return rows.filter(exact | Q(match=CodeMatch.PREFIX, written_key__in=beginnings(code)))


def meanings(code: str, *, component: str, make: str, year: int) -> Meanings:
    rows = live().filter(component=component, make__iexact=make, from_year__lte=year, to_year__gte=year)
    found = matching(rows, code=code).order_by("earliest_on", "pk")
    return Meanings(code, [EntryShown(row) for row in found])


def decoder_page(text: str, *, number: str) -> tuple[Page[DecoderEntry], list[EntryShown]]:
    """One page of the live table by make and component, narrowed by words of make, code or meaning."""
    rows = live()
    for word in text.split():
        found = Q(make__icontains=word) | Q(meaning__icontains=word) | Q(written__icontains=word)
        rows = rows.filter(found | Q(component__icontains=word))
    ordered = rows.order_by("make", "component", "written_key", "from_year", "pk")
    page = Paginator(ordered, PER_PAGE).get_page(number)
    return page, [EntryShown(row) for row in page.object_list]


def entry(entry_id: int) -> DecoderEntry:
    row = live().filter(pk=entry_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such entry, or it was corrected or retired.", got=entry_id)
    return row
