"""What the sheet by place says."""

from datetime import datetime

from inventory.papers.place_sheet import PlaceSheetPaper
from inventory.queries import facts, paper_facts
from inventory.queries.care import last_care
from inventory.queries.places import at_place, standings, vehicles_here

NOT_RECORDED = "not recorded"


def place_sheet_paper(*, place: str, now: datetime) -> PlaceSheetPaper:
    """Every vehicle that is here, by place; those of one place where it is named."""
    care = last_care(vehicles_here())
    rows = [
        (
            row.where.place or NOT_RECORDED, row.stock_number, row.vehicle, row.key_tag or "–",
            row.where.keys or NOT_RECORDED, " ".join(str(part) for part in care.get(row.stay_id, ("none yet",))),
        )
        for row in at_place(standings(today=now.date()), place=place)
    ]  # fmt: skip
    name = f"Vehicles at {place}" if place else "Vehicles by place"
    made = f"{name} on {now:%Y-%m-%d}, {now:%H:%M}"
    return PlaceSheetPaper(
        **paper_facts.lot_head(facts.the_lot()), name=name, made=f"Made {now:%Y-%m-%d %H:%M}", rows=rows,
        otherwise=f"Nothing stands there: {made}.",
    )  # fmt: skip
