"""The comparison grid of one price opinion: the nearest sales that its own fit learned from, adjusted in money."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from inventory import bridge
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, MarketSale, ModelFit, PriceOpinion, SaleOutcome
from inventory.queries.history import ELSEWHERE_COLUMNS, FIT_COLUMNS, SCORE_COLUMNS, VEHICLE_COLUMNS, with_kind
from inventory.rules import elsewhere_words as words
from inventory.rules.comparison import (
    DERIVED,
    LIKENESS,
    MODIFICATIONS,
    NOT_KNOWN,
    UNKNOWN_KINDS,
    UNKNOWN_KINDS_NAME,
    differ,
    kinds_told,
    told,
)
from inventory.rules.money import plain, total
from inventory.rules.roles import Act, Actor, require
from inventory.rules.wording import part_name
from inventory.rules.words import Result, SaleChannel


@dataclass(frozen=True)
class SaleSeen:
    """One sale of the grid, the head and foot of its column: one of the lot's own, or one elsewhere."""

    outcome: int | None
    elsewhere: int | None
    stock_number: str
    own_stay: bool  # it has a vehicle file here; the others have their snapshot alone
    vehicle: str
    ended_on: date
    days_listed: int | None
    channel: str
    likeness: Decimal
    sale_price: Decimal
    adjusted_price: Decimal
    net: Decimal
    gross: Decimal
    marks: tuple[str, ...]

    @property
    def net_said(self) -> str:
        return f"{plain(self.net)} %"

    @property
    def gross_said(self) -> str:
        return f"{plain(self.gross)} %"


@dataclass(frozen=True)
class Cell:
    """What one sale says of an input, and the money that brings it to the subject."""

    told: str
    amount: Decimal


@dataclass(frozen=True)
class Line:
    """One input: what the subject is, and each sale beside it."""

    name: str
    label: str
    subject: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Grid:
    """`problem` says why there are no sales in it; `inside` is None where nothing could be reconciled."""

    opinion: PriceOpinion
    likeness: str
    sales: tuple[SaleSeen, ...] = ()
    lines: tuple[Line, ...] = ()
    reconciled: Decimal | None = None
    apart: Decimal | None = None  # percent of likely
    inside: bool | None = None
    problem: str = ""

    @property
    def verdict(self) -> str:
        """How the sales and the band agree, as a sentence."""
        if self.apart is None:
            return ""
        way = "below" if self.apart < 0 else "above"
        far = f"{abs(self.apart)} % {way} the likely price" if self.apart else "equal to the likely price"
        return f"The adjusted prices come to a middle {far}, {'inside' if self.inside else 'outside'} the band."


def newest_grid(stay: Consignment, *, by: Actor) -> Grid:
    """The grid of the opinion that counts. Not found where none has been given."""
    require(by, Act.SEE_PRICE)
    row = _opinions().filter(consignment=stay).order_by("-pk").first()
    if row is None:
        raise NotFound(
            "not_found", f"No band has been given for {stay.stock_number} yet.", field="opinion", mend="Price it first."
        )
    return grid_of(row)


def opinion_of(stay: Consignment, *, opinion_id: int, by: Actor) -> PriceOpinion:
    """One opinion of this very stay."""
    require(by, Act.SEE_PRICE)
    row = _opinions().filter(consignment=stay, pk=opinion_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such opinion of this vehicle.", field="opinion", got=opinion_id)
    return row


def past_sale(outcome_id: int) -> dict[str, Any]:
    """One outcome with its snapshot, as its page shows it."""
    row = SaleOutcome.objects.select_related("followed_by").filter(pk=outcome_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such past sale.", field="outcome", got=outcome_id)
    values = {name: getattr(row, name) for name in SNAPSHOT}
    facts = [("Model" if name == "model" else part_name(name), told(name, row=values)) for name in SHOWN_INPUTS]
    later = getattr(row, "followed_by", None)
    return {"sale": row, "facts": facts, "set_aside": later is not None, "modifications": row.modifications}


SHOWN_INPUTS = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color", "mileage",
    "odometer_status", "condition", "originality", "title_brand",
)  # fmt: skip
SNAPSHOT = (*VEHICLE_COLUMNS, *SCORE_COLUMNS, "mileage", "odometer_status")


def _opinions() -> QuerySet[PriceOpinion]:
    """Opinions with their fit, without the large parts of it."""
    return PriceOpinion.objects.select_related("fit", "consignment").defer(
        "fit__learned", "fit__record", "fit__selling"
    )


def grid_of(opinion: PriceOpinion, *, state: dict[str, Any] | None = None) -> Grid:
    """The sales nearest to what was priced, under the fit that priced it; `state` is what that fit learned, if known.

    Six queries at most: the fit's numbers, which of its sales may be near, these sales and those elsewhere.
    """
    sales, elsewhere = _sales_of(opinion), _elsewhere_of(opinion)
    learned = _learned(opinion) if state is None else state
    try:
        found = bridge.compare(opinion.inputs, sales=sales, state=learned, elsewhere=elsewhere)
    except Refused as problem:  # of a fit that can no longer be read; the band itself is kept and shown
        return Grid(opinion, LIKENESS, problem=str(problem))
    if not found.comparables or found.reconciled is None:
        return Grid(opinion, LIKENESS, problem="The fit learned from no other sale.")
    own, others = ({row["id"]: row for row in rows} for rows in (sales, elsewhere))
    rows = [others[sale.elsewhere] if sale.elsewhere is not None else own[sale.outcome] for sale in found.comparables]
    lines = _lines(found.comparables, rows=rows, subject=opinion.inputs)
    both = zip(found.comparables, rows, strict=True)
    return Grid(
        opinion=opinion,
        likeness=LIKENESS,
        sales=tuple(
            _sale(sale, row=row, subject=opinion.inputs, moved=[line.cells[at].amount for line in lines])
            for at, (sale, row) in enumerate(both)
        ),
        lines=lines,
        reconciled=found.reconciled,
        apart=bridge.percent(found.reconciled - opinion.likely, of=opinion.likely) if opinion.likely else None,
        inside=opinion.low <= found.reconciled <= opinion.high,
    )


def _learned(opinion: PriceOpinion) -> dict[str, Any]:
    learned: dict[str, Any] = ModelFit.objects.values_list("learned", flat=True).get(pk=opinion.fit_id)
    return learned


COLUMNS = (*FIT_COLUMNS, "vin", "stock_number", "listed_on", "consignment_id", "followed_by__result")


def _sales_of(opinion: PriceOpinion) -> list[dict[str, Any]]:
    """The sales that the fit learned from, as they stood then, without any outcome of this very stay.

    A sale that was set aside since stays: the band rests on it, and the grid says what became of it.
    """
    newest = opinion.fit.newest_outcome_id
    rows = SaleOutcome.objects.filter(pk__lte=newest, result=Result.SOLD, arms_length=True)
    rows = rows.filter(~Exists(SaleOutcome.objects.filter(follows=OuterRef("pk"), pk__lte=newest)))
    if opinion.consignment_id is not None:
        rows = rows.exclude(consignment=opinion.consignment_id)
    near = rows.filter(pk__in=_likely_near(rows, subject=opinion.inputs))
    return list(near.order_by("ended_on", "pk").values(*COLUMNS))


MOST_OF_MODEL, MOST_OF_MAKE, MOST_OF_ALL = 500, 100, 800


def _likely_near(rows: QuerySet[Any], *, subject: Mapping[str, Any]) -> set[int]:
    """Of a long history the latest sales of the model, of the make and of all: the nearest are looked for among these.

    A lot with no more sales than the bound of all has every one looked at.
    """
    make, model = str(subject.get("make") or ""), str(subject.get("model") or "")
    latest = rows.order_by("-ended_on", "-pk").values_list("pk", flat=True)
    of_make = latest.filter(make__iexact=make)
    of_model = of_make.filter(model__iexact=model)
    return {*of_model[:MOST_OF_MODEL], *of_make[:MOST_OF_MAKE], *latest[:MOST_OF_ALL]}


OTHER_COLUMNS = (*ELSEWHERE_COLUMNS, "vin", "followed_by__dropped")
NEVER_KNOWN = {"stock_number": "", "listed_on": None, "consignment_id": None}


def _elsewhere_of(opinion: PriceOpinion) -> list[dict[str, Any]]:
    """The sales elsewhere that the fit rests on, as they stood then: none, and no query, where it rests on none."""
    summary = opinion.fit.summary
    if not summary.get("elsewhere", {}).get("used"):
        return []
    newest = summary["elsewhere_newest"]
    rows = MarketSale.objects.filter(pk__lte=newest, dropped=False)
    rows = rows.filter(Q(followed_by__isnull=True) | Q(followed_by__pk__gt=newest)).order_by("ended_on", "pk")
    return [
        {**row, **NEVER_KNOWN, "where": words.where_said(row["kind"], source=row["source"])}
        for row in with_kind(rows.values(*OTHER_COLUMNS))
    ]


def _sale(
    sale: bridge.Comparable, *, row: Mapping[str, Any], subject: Mapping[str, Any], moved: Sequence[Decimal]
) -> SaleSeen:
    """Gross is of the lines as they are shown, so that it can be worked out again from the page."""
    listed, ended = row["listed_on"], row["ended_on"]
    return SaleSeen(
        outcome=sale.outcome,
        elsewhere=sale.elsewhere,
        stock_number=row["stock_number"],
        own_stay=row["consignment_id"] is not None,
        vehicle=" ".join(str(row[name]) for name in ("year", "make", "model", "trim") if row[name]),
        ended_on=ended,
        days_listed=(ended - listed).days if listed is not None and listed <= ended else None,
        channel=SaleChannel(row["channel"]).label if row["channel"] else "not known",
        likeness=sale.likeness,
        sale_price=sale.sale_price,
        adjusted_price=sale.adjusted_price,
        net=sale.net,
        gross=bridge.percent(total(abs(amount) for amount in moved), of=sale.sale_price),
        marks=_marks(row, subject=subject),
    )


def _marks(row: Mapping[str, Any], *, subject: Mapping[str, Any]) -> tuple[str, ...]:
    marks = [words.mark(row["kind"], source=row["source"])] if "kind" in row else []
    if row["vin"] and row["vin"] == subject.get("vin"):
        bid = row.get("kind") == words.BID
        marks.append("This very vehicle, bid on before." if bid else "This very vehicle, sold before.")
    if row.get("followed_by__dropped") is not None:
        marks.append("Taken out since the fit." if row["followed_by__dropped"] else "Corrected since the fit.")
    if row.get("followed_by__result") is not None:
        aside = row["followed_by__result"] == Result.VOID
        marks.append("Set aside since the fit." if aside else "Corrected since the fit.")
    return tuple(marks)


def _lines(
    found: Sequence[bridge.Comparable], *, rows: Sequence[Mapping[str, Any]], subject: Mapping[str, Any]
) -> tuple[Line, ...]:
    """One line for each input that is known to differ, or that moves money, for at least one of the sales.

    Kinds of modification that move money only because a sale does not say what was modified share one line.
    """
    lines, unsaid = [], []
    for place, part in enumerate(found[0].lines):
        ours = told(part.name, row=subject)
        cells = tuple(
            Cell(told(part.name, row=row), sale.lines[place].amount) for sale, row in zip(found, rows, strict=True)
        )
        differs = part.name not in DERIVED and any(differ(ours, cell.told) for cell in cells)
        line = Line(part.name, part_name(part.name), ours, cells)
        if part.name.startswith(MODIFICATIONS) and not differs:
            unsaid.append(line)
        elif differs or any(cell.amount for cell in cells):
            lines.append(line)
    return (*lines, *_together(unsaid, rows=rows, subject=subject))


def _together(
    unsaid: Sequence[Line], *, rows: Sequence[Mapping[str, Any]], subject: Mapping[str, Any]
) -> tuple[Line, ...]:
    """The kinds of modification that no sale is known to differ in, added up; nothing where they move no money."""
    amounts = [total(line.cells[at].amount for line in unsaid) for at in range(len(rows))]
    moved = any(cell.amount for line in unsaid for cell in line.cells)
    said = [NOT_KNOWN if row["modifications"] is None else "as this vehicle" for row in rows]
    cells = tuple(Cell(words, amount) for words, amount in zip(said, amounts, strict=True))
    ours = kinds_told(subject.get("modifications"))
    return (Line(UNKNOWN_KINDS, UNKNOWN_KINDS_NAME, ours, cells),) if moved else ()
