"""What is known already when the current stock comes by spreadsheet: stays by number, people by e-mail and phone."""

from dataclasses import dataclass, field

from inventory.models import Consignment, Consignor, SaleOutcome
from inventory.rules.people import digits, same_phone


@dataclass(frozen=True)
class StayKnown:
    stock_number: str
    serial: str
    year: int
    make: str
    model: str
    is_open: bool
    content_hash: str
    key_tag: str

    def is_vehicle(self, *, vin: str | None, year: int, make: str, model: str) -> bool:
        """Whether a row speaks of the vehicle of this stay: by the number where both have one, else by its name."""
        if self.serial and vin:
            return self.serial == vin
        return (self.year, self.make.casefold(), self.model.casefold()) == (year, make.casefold(), model.casefold())


def stays_known() -> list[StayKnown]:
    rows = Consignment.objects.select_related("vehicle").only(
        "stock_number", "released_on", "content_hash", "key_tag", "vehicle__serial", "vehicle__year", "vehicle__make",
        "vehicle__model",
    )  # fmt: skip
    return [_known(row) for row in rows.iterator()]


def _known(row: Consignment) -> StayKnown:
    vehicle = row.vehicle
    return StayKnown(
        row.stock_number,
        vehicle.serial,
        vehicle.year,
        vehicle.make,
        vehicle.model,
        row.is_open,
        row.content_hash,
        row.key_tag,
    )


def past_stock_numbers() -> frozenset[str]:
    """Stock numbers of imported past sales: a number is never given twice."""
    rows = SaleOutcome.objects.filter(consignment__isnull=True).exclude(stock_number="")
    return frozenset(number.casefold() for number in rows.values_list("stock_number", flat=True).iterator())


@dataclass(frozen=True)
class Person:
    pk: int
    name: str
    email: str
    phone: str


@dataclass
class People:
    """The consignors so far, to know the same one again."""

    rows: list[Person] = field(default_factory=list)

    def find(self, *, email: str, phone: str) -> Person | None:
        """By e-mail first, then by the digits of the phone."""
        if email:
            found = next((one for one in self.rows if one.email.casefold() == email.casefold()), None)
            if found is not None:
                return found
        if not digits(phone):
            return None
        return next((one for one in self.rows if same_phone(one.phone, phone)), None)


def consignors_known() -> People:
    """Doubles that were merged are known as the one that goes on; who was erased is known no more."""
    columns = ("pk", "name", "email", "phone", "merged_into_id")
    rows = list(Consignor.objects.filter(erased_at__isnull=True, is_lot=False).order_by("pk").values(*columns))
    into = {row["pk"]: row.pop("merged_into_id") for row in rows}
    return People([Person(**{**row, "pk": _end(row["pk"], into=into)}) for row in rows])


def _end(pk: int, *, into: dict[int, int | None]) -> int:
    while (after := into.get(pk)) is not None:
        pk = after
    return pk
