"""The places of the lot, and where each vehicle and its keys are."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Max, QuerySet

from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Movement, Place
from inventory.rules import places as rules
from inventory.rules.states import State


def open_places() -> QuerySet[Place]:
    return Place.objects.filter(retired_at__isnull=True)


def places_in_order() -> list[Place]:
    """Those in use, as they come on the sheet."""
    return sorted(open_places(), key=lambda row: rules.sheet_order(row.name, kind=row.kind, order=row.order))


def retired_places() -> QuerySet[Place]:
    return Place.objects.filter(retired_at__isnull=False).order_by("name")


def place_by_id(place_id: int) -> Place:
    row = Place.objects.filter(pk=place_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such place.", field="place_id", got=place_id)
    return row


def place_meant(name: str, *, place_id: int | None) -> Place | None:
    """The place that was set up, by its id or by its name; None where it is only written in words."""
    if place_id is None:
        return open_places().filter(name__iexact=name).first()
    row = place_by_id(place_id)
    if row.retired_at is not None:
        raise Refused(
            "place_retired", f"{row.name} is no longer in use.", field="place_id", got=place_id,
            mend="Choose another place.",
        )  # fmt: skip
    if name and name.casefold() != row.name.casefold():
        raise Refused(
            "two_places", f"{row.name} was chosen and {name} was written.", field="place", got=name,
            mend="Keep one of the two.",
        )  # fmt: skip
    return row


@dataclass(frozen=True, kw_only=True)
class Whereabouts:
    """Where one vehicle stands and who has its keys: since when, and who said so."""

    place: str = ""
    place_id: int | None = None
    kind: str = ""
    kind_label: str = ""
    order: int = 0
    since: datetime | None = None
    by: str = ""
    keys: str = ""
    keys_since: datetime | None = None
    keys_by: str = ""
    not_for_sale: bool = False
    expected_back_on: date | None = None
    note: str = ""

    @property
    def rank(self) -> rules.Order:
        return rules.sheet_order(self.place, kind=self.kind, order=self.order)

    @property
    def is_away(self) -> bool:
        return rules.is_away(self.kind)

    def is_overdue(self, today: date) -> bool:
        return rules.is_overdue(self.expected_back_on, today=today)


NOWHERE = Whereabouts()


def vehicles_here() -> QuerySet[Consignment]:
    """Stays whose vehicle came and has not left."""
    return Consignment.objects.still_here().exclude(state=State.BOOKED)


def whereabouts_of(stays: QuerySet[Consignment]) -> dict[int, Whereabouts]:
    """Of each stay that was moved at all, from all its movements, in one query however many there are."""
    found: dict[int, Whereabouts] = {}
    rows = Movement.objects.filter(consignment__in=stays.order_by().values("pk")).select_related("at_place")
    for row in rows.order_by("pk"):
        found[row.consignment_id] = _after(row, before=found.get(row.consignment_id, NOWHERE))
    return found


def last_moves_of(stays: QuerySet[Consignment]) -> dict[int, Whereabouts]:
    """The same from the last movement of each alone: since when is that movement's day. One query, a row for each."""
    moves = Movement.objects.filter(consignment__in=stays.order_by().values("pk")).order_by()
    last = moves.values("consignment").annotate(last=Max("pk")).values("last")
    rows = Movement.objects.filter(pk__in=last).select_related("at_place")
    return {row.consignment_id: _after(row, before=NOWHERE) for row in rows}


def overdue_back(*, today: date) -> list[tuple[Consignment, Whereabouts]]:
    """Vehicles that should be back by now, and where they are. Two queries."""
    late = {pk: at for pk, at in last_moves_of(vehicles_here()).items() if at.is_overdue(today)}
    rows = Consignment.objects.filter(pk__in=list(late)).select_related("vehicle").order_by("pk")
    return [(row, late[row.pk]) for row in rows]


def _after(row: Movement, *, before: Whereabouts) -> Whereabouts:
    """What stays as it was keeps its day: a vehicle whose keys went elsewhere did not move."""
    place = row.at_place
    now = replace(
        before, place=place.name if place else row.place, place_id=row.at_place_id, kind=place.kind if place else "",
        kind_label=place.get_kind_display() if place else "", order=place.order if place else 0, keys=row.keys,
        not_for_sale=row.not_for_sale, expected_back_on=row.expected_back_on, note=row.note,
    )  # fmt: skip
    if before.since is None or now.place.casefold() != before.place.casefold():
        now = replace(now, since=row.at, by=row.by)
    if before.keys_since is None or now.keys != before.keys:
        now = replace(now, keys_since=row.at, keys_by=row.by)
    return now


@dataclass(frozen=True, kw_only=True)
class Standing:
    """One vehicle that is here, as the floor shows it."""

    stay_id: int
    stock_number: str
    vehicle: str
    state_label: str
    key_tag: str
    where: Whereabouts
    today: date

    @property
    def is_overdue(self) -> bool:
        return self.where.is_overdue(self.today)


def standings(*, today: date) -> list[Standing]:
    """Every vehicle that is here, by place. Two queries."""
    stays = vehicles_here()
    where = whereabouts_of(stays)
    rows = [
        Standing(
            stay_id=stay.pk, stock_number=stay.stock_number, vehicle=str(stay.vehicle),
            state_label=stay.get_state_display(), key_tag=stay.key_tag, where=where.get(stay.pk, NOWHERE), today=today,
        )
        for stay in stays.select_related("vehicle").order_by("pk")
    ]  # fmt: skip
    return sorted(rows, key=lambda row: row.where.rank)


def at_place(rows: list[Standing], *, place: str) -> list[Standing]:
    """Those that stand at one place; all of them where none is named."""
    return [row for row in rows if row.where.place.casefold() == place.casefold()] if place else rows


def place_names(rows: list[Standing]) -> list[str]:
    """The places where something stands, in their order."""
    return list(dict.fromkeys(row.where.place for row in rows if row.where.place))


@dataclass(frozen=True)
class PlaceFree:
    """A place to move to, and what stands there now."""

    row: Place
    taken_by: list[str]


def places_to_move_to() -> list[PlaceFree]:
    """All in use, with the stock numbers of those that stand there."""
    taken: dict[int | None, list[str]] = {}
    stays = vehicles_here()
    numbers = dict(stays.values_list("pk", "stock_number"))
    for stay_id, where in last_moves_of(stays).items():
        taken.setdefault(where.place_id, []).append(numbers[stay_id])
    return [PlaceFree(row, taken.get(row.pk, [])) for row in places_in_order()]


def standing_at(place: Place) -> list[str]:
    """Stock numbers of what stands there."""
    stays = vehicles_here()
    numbers = dict(stays.values_list("pk", "stock_number"))
    return [numbers[pk] for pk, where in last_moves_of(stays).items() if where.place_id == place.pk]


def whereabouts_of_stay(stay: Consignment) -> Whereabouts:
    return whereabouts_of(Consignment.objects.filter(pk=stay.pk)).get(stay.pk, NOWHERE)
