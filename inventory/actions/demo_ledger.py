"""The ledgers, build dates and decoder table of the invented demo lot. Makes, codes and books are invented too."""

from datetime import date, datetime

from inventory.actions import decoding, ledger
from inventory.actions.decoding import Meaning
from inventory.actions.ledger import Built, Line
from inventory.models import Consignment
from inventory.rules.components import COMPONENTS
from inventory.rules.date_codes import window
from inventory.rules.roles import Actor
from inventory.rules.words import Basis, CodeMatch, Standing

_STANDINGS = (
    Standing.ORIGINAL, Standing.ORIGINAL, Standing.SERVICE_REPLACEMENT, Standing.ORIGINAL, Standing.PERIOD_CORRECT,
    Standing.NOT_ESTABLISHED, Standing.REPRODUCTION,
)  # fmt: skip
_NEVER_HAD = {"transfer_case", "top"}
_BOOK = "Merrow works pocket book, page 14 (invented)"
_MEANINGS = (
    Meaning(
        component="engine", make="Merrow", from_year=1960, to_year=1979, written="C148", match=CodeMatch.PREFIX,
        meaning="14 March of a year that ends in 8", earliest_on=date(1968, 3, 14), latest_on=date(1968, 3, 14),
        source=_BOOK,
    ),
    Meaning(
        component="engine", make="Merrow", from_year=1960, to_year=1979, written="C148", match=CodeMatch.PREFIX,
        meaning="14 March of a year that ends in 8", earliest_on=date(1978, 3, 14), latest_on=date(1978, 3, 14),
        source=_BOOK,
    ),
    Meaning(
        component="rear_axle", make="Merrow", from_year=1964, to_year=1971, written="R-355",
        meaning="ratio 3.55, limited slip", source=_BOOK,
    ),
    Meaning(
        component="data_plate", make="Tarn", from_year=1962, to_year=1975, written="05B",
        meaning="scheduled for the second week of May", source="Tarn owners' newsletter 31 (invented)",
    ),
)  # fmt: skip


def load_decoder(*, by: Actor, at: datetime) -> None:
    for said in _MEANINGS:
        decoding.add_meaning(said, by=by, at=at)


def load_ledger(stay: Consignment, *, place: int, by: Actor, at: datetime) -> None:
    """Standings in turn, and for one make dates and numbers that agree with the build, are old, or cannot be."""
    dated = _dated(stay) if stay.vehicle.make == "Merrow" else {}
    for number, component in enumerate(COMPONENTS):
        standing = _STANDINGS[(number + place) % len(_STANDINGS)]
        line = Line(component=component.code, standing=standing, basis=Basis.SEEN)
        if component.code in _NEVER_HAD:
            line = Line(component=component.code, basis=Basis.SEEN, not_fitted=True)
        ledger.record_component(stay.pk, line=dated.get(component.code, line), by=by, at=at)
    if dated:
        first, last = window(f"{stay.vehicle.year}-05")
        built = Built(earliest_on=first, latest_on=last, basis=Basis.SEEN, source="stamp on the cowl")
        ledger.record_build_date(stay.pk, built=built, by=by, at=at)


def _dated(stay: Consignment) -> dict[str, Line]:
    """An engine cast in the spring, an axle of two years before, and a radiator of two months after the build."""
    year = stay.vehicle.year

    def line(component: str, made: str, *, number: str, as_found: str, date_code: str = "") -> Line:
        first, last = window(made)
        return Line(
            component=component, standing=Standing.ORIGINAL, basis=Basis.SEEN, earliest_on=first, latest_on=last,
            date_basis=Basis.MEASURED, number=number, number_basis=Basis.MEASURED, date_code=date_code,
            as_found=as_found,
        )  # fmt: skip

    return {
        "engine": line(
            "engine", f"{year}-03-14", number="3A-77120", date_code=f"C14{year % 10}", as_found="straight six"
        ),
        "rear_axle": line("rear_axle", f"{year - 2}-02", number="R-355", as_found="3.55 ratio"),
        "cooling": line("cooling", f"{year}-07", number="M 4410", as_found="radiator with brass tag"),
    }
