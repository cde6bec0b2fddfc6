"""What the paper of one price opinion says: all of it from the opinion, its own fit and the sales behind that."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils import timezone

from inventory.models import PriceOpinion
from inventory.papers.price_opinion import PriceOpinionPaper, SalePrinted
from inventory.queries.comparison import Cell, Grid, SaleSeen, grid_of
from inventory.queries.facts import the_lot
from inventory.queries.pricing_desk import unknown_inputs, weakness
from inventory.rules import track_record
from inventory.rules.comparison import NOT_KNOWN, kinds_told, told
from inventory.rules.money import show
from inventory.rules.wording import part_name

INPUTS = (
    "body", "engine", "transmission", "build_class", "color", "mileage", "odometer_status", "condition",
    "originality", "title_brand", "channel",
)  # fmt: skip
CAUTION = (
    "An estimate for setting an asking price, learned from the lot's own sales. It is not an appraisal under any law."
)
CAUTION_ELSEWHERE = (
    "An estimate for setting an asking price, learned from the lot's own sales and from sales elsewhere, weighed "
    "apart. It is not an appraisal under any law."
)
CAUTIONS = (
    "It holds for the effective date alone: markets move, and so does what is known of the vehicle.",
    "The parts and the adjustments are associations in past sales, not promises: what a change would fetch may differ.",
    "The stated share is met on average over many sales; it is no promise for this vehicle.",
    "Condition and originality are as the lot recorded them; what nobody verified widens the band.",
)
LONGEST_HEAD = 120  # of a column that comes again on each page: a longer one could fill a page by itself
DEMO = "Demo: every vehicle, person and sale named here is invented."


def opinion_paper(opinion: PriceOpinion) -> PriceOpinionPaper:
    """The paper of an opinion whose fit is loaded. The same opinion says the same, unless its sales were corrected."""
    lot, stay, grid = the_lot(), opinion.consignment, grid_of(opinion)
    if stay is None:
        raise ValueError("a paper is of a vehicle of the lot, got an opinion without a consignment")
    return PriceOpinionPaper(
        lot_name=lot.name,
        lot_address=lot.address,
        demo=DEMO if lot.is_demo else "",
        stock_number=stay.stock_number,
        number=opinion.pk,
        given=f"Effective date {_priced_for(opinion)}. Given {_moment(opinion)}, by {opinion.by}.",
        caution=CAUTION_ELSEWHERE if opinion.evidence.get("sales_elsewhere") else CAUTION,
        subject=_subject(opinion.inputs, stock_number=stay.stock_number),
        band=[("Low", show(opinion.low)), ("Likely", show(opinion.likely)), ("High", show(opinion.high))],
        band_said=_band_said(opinion),
        parts=_parts(opinion),
        questions=_questions(opinion.inputs),
        grid_said=[grid.likeness, GRID_SAID, *_reconciled(grid)] if grid.sales else [grid.problem],
        grid_lines=[(line.label, line.subject) for line in grid.lines],
        sales=[_sale(sale, cells=[line.cells[at] for line in grid.lines]) for at, sale in enumerate(grid.sales)],
        record=_record(opinion),
        cautions=[*CAUTIONS, *opinion.notes],
    )


GRID_SAID = (
    "Each is brought to this vehicle line by line, by what the fit learned. Prices are less concessions and trade "
    "over-allowance. The fit learned from these sales too: they show what the band stands on."
)


def _moment(opinion: PriceOpinion) -> str:
    return timezone.localtime(opinion.at).strftime("%Y-%m-%d %H:%M %Z")


def _priced_for(opinion: PriceOpinion) -> str:
    return str(opinion.inputs.get("ended_on") or timezone.localdate(opinion.at))


def _subject(inputs: Mapping[str, Any], *, stock_number: str) -> list[tuple[str, str]]:
    name = " ".join(str(inputs[part]) for part in ("year", "make", "model", "trim") if inputs.get(part))
    modified = kinds_told(inputs.get("modifications"))
    return [
        ("Vehicle", name), ("Stock number", stock_number), ("VIN or serial", inputs.get("vin") or NOT_KNOWN),
        *((part_name(part), told(part, row=inputs)) for part in INPUTS), ("Modifications", modified),
    ]  # fmt: skip


def _band_said(opinion: PriceOpinion) -> list[str]:
    fit, evidence = opinion.fit, opinion.evidence
    near = f"{evidence.get('sales_of_make') or 0} of this make, {evidence.get('sales_of_model') or 0} of this model"
    weak = weakness(evidence)
    return [
        f"Meant to hold {opinion.coverage_percent} of 100 sales like it, on average.",
        f"Learned from {fit.sales_used} past sales, fitted on {timezone.localdate(fit.at)}: {near}.",
        *_elsewhere_said(evidence),
        *([weak] if weak else []),
    ]


def _elsewhere_said(evidence: Mapping[str, Any]) -> list[str]:
    if not evidence.get("sales_elsewhere"):
        return []
    make, model = (evidence.get(f"elsewhere_of_{name}") or 0 for name in ("make", "model"))
    return [f"And from {evidence['sales_elsewhere']} sales elsewhere: {make} of this make, {model} of this model."]


def _questions(inputs: Mapping[str, Any]) -> list[str]:
    unknown = unknown_inputs(dict(inputs))
    spans = [name for name in ("condition", "originality") if inputs.get(f"{name}_low") != inputs.get(f"{name}_high")]
    said = [f"Not known: {', '.join(unknown)}."] if unknown else []
    said += [f"Known only as an interval: {', '.join(spans)}."] if spans else []
    return said or ["Nothing that the band asks for is open."]


def _parts(opinion: PriceOpinion) -> list[tuple[str, str]]:
    amounts = [(part["name"], Decimal(part["amount"])) for part in opinion.parts]
    shown = [(part_name(name), show(amount)) for name, amount in amounts if amount]
    return [*shown, ("Likely price", show(opinion.likely))]


def _reconciled(grid: Grid) -> list[str]:
    if grid.reconciled is None:
        return []
    return [f"Middle of the adjusted prices, weighted by likeness: {show(grid.reconciled)}. {grid.verdict}"]


def _sale(sale: SaleSeen, *, cells: list[Cell]) -> SalePrinted:
    listed = NOT_KNOWN if sale.days_listed is None else str(sale.days_listed)
    vehicle = sale.vehicle if len(sale.vehicle) <= LONGEST_HEAD else f"{sale.vehicle[:LONGEST_HEAD]}…"
    head = " ".join([vehicle, *([f"({sale.stock_number})"] if sale.stock_number else []), *sale.marks])
    return SalePrinted(
        head=head,
        facts=[
            ("Likeness", str(sale.likeness)), ("Date", str(sale.ended_on)), ("Channel", sale.channel),
            ("Days listed", listed), ("Price", show(sale.sale_price)),
        ],
        lines=[(cell.told, show(cell.amount)) for cell in cells],
        foot=[
            ("Adjusted price", show(sale.adjusted_price)), ("Net adjustment", sale.net_said),
            ("Gross adjustment", sale.gross_said),
        ],
    )  # fmt: skip


def _record(opinion: PriceOpinion) -> list[str]:
    """How the opinion's own fit did on the sales held against it, and what its checks say."""
    summary = opinion.fit.summary
    flags = [f"The fit fails its own checks: {flag}" for flag in opinion.fit.flags]
    if not summary.get("banded"):
        return [*flags, "The fit was not held against past sales."]
    return [track_record.in_plain_words({"count": summary["banded"], **summary}), *flags]
