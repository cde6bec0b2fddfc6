"""What the window sheet of one vehicle says, each fact worded by what it rests on."""

from datetime import date

from django.conf import settings

from inventory.errors import Refused
from inventory.models import Consignment
from inventory.papers.window_sheet import WindowSheetPaper
from inventory.queries import facts, paper_facts
from inventory.queries.flags import flags_of
from inventory.queries.ledger import Ledger, ledger_of
from inventory.rules import paper_words
from inventory.rules.money import show

SHOWN = ("body_shell", "frame", "engine", "transmission", "rear_axle", "paint", "interior_trim")
ENTERED = {"engine": "engine", "transmission": "transmission"}  # where the ledger says nothing, what the file says


def window_sheet_paper(stay: Consignment, *, today: date) -> WindowSheetPaper:
    """Refused without an ask: a sheet in the window says what the vehicle costs."""
    lot, ask = facts.the_lot(), facts.current_ask(stay)
    if ask is None:
        raise Refused(
            "no_ask", f"{stay.stock_number} has no ask yet, and the window sheet shows it.", field="ask",
            mend="Set the ask on the pricing desk.",
        )  # fmt: skip
    ledger = ledger_of(stay.vehicle_id)
    return WindowSheetPaper(
        **paper_facts.lot_head(lot), lot_contact=paper_facts.contact_of(lot), stock_number=stay.stock_number,
        vehicle=str(stay.vehicle), ask=show(ask.amount), made=f"Made {today}",
        page_address=page_address(stay), facts=_facts(stay, ledger=ledger),
        modifications=paper_facts.modifications_told(ledger), faults=_faults(stay, today=today),
        caution=paper_words.NOT_GUARANTEED,
    )  # fmt: skip


def page_address(stay: Consignment) -> str:
    """Where anybody can read about the vehicle, in full."""
    return f"{settings.PUBLIC_URL}/for-sale/{stay.code}/"


def _facts(stay: Consignment, *, ledger: Ledger) -> list[tuple[str, str]]:
    vehicle = stay.vehicle
    named = [("Body", vehicle.body), ("Colour", vehicle.color)]
    build = f"{vehicle.get_build_class_display()}, in the lot's judgement" if vehicle.build_class else ""
    return [
        ("Year", paper_facts.year_told(stay)),
        ("VIN or serial", paper_facts.serial_told(stay)),
        ("Odometer", paper_words.odometer_said(stay.mileage, status=stay.odometer_status)),
        ("Title brand", paper_facts.title_told(stay)),
        ("Build class", build or paper_words.NOT_ESTABLISHED),
        *((name, paper_words.as_entered(value)) for name, value in named if value),
        *_components(stay, ledger=ledger),
    ]


def _components(stay: Consignment, *, ledger: Ledger) -> list[tuple[str, str]]:
    """The main parts; the others stand in the condition report."""
    told = []
    for code in SHOWN:
        record = ledger.records.get(code)
        entered = getattr(stay.vehicle, ENTERED[code]) if code in ENTERED else ""
        if record is not None:
            told.append((paper_facts.component_title(code), paper_facts.component_said(record)))
        elif entered:
            told.append((paper_facts.component_title(code), paper_words.as_entered(entered)))
    return told


def _faults(stay: Consignment, *, today: date) -> list[str]:
    """Open flags first, then what the inspection found, then how much of it nobody saw."""
    stations = paper_facts.stations_of(stay)
    flags = [
        f"Safety flag: {paper_words.flag_said(line.where, message=line.message, section=line.section)}"
        for line in flags_of(stay, today=today)
        if line.is_open
    ]
    unseen = paper_facts.not_seen_told(stations) if stations else "No inspection is finished: faults are not known."
    found = [*flags, *paper_facts.faults_told(stations, with_notes=False)]
    return [*found, unseen] if unseen else found
