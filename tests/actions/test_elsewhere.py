"""Sales elsewhere: recorded once, corrected by a row that follows, taken out with a reason; imported once."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from uuid import uuid4

import pytest

from inventory.actions import elsewhere
from inventory.actions.import_reports import Report
from inventory.actions.importing_elsewhere import import_elsewhere
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import LogEntry, MarketSale
from inventory.queries.elsewhere import standing
from inventory.rules.roles import Actor
from inventory.sheets import Elsewhere, Options

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "sales_elsewhere.csv"
TOLD = Elsewhere(
    source="the county meet", ended_on=date(2026, 9, 12), price=Decimal("21500.00"), year=1968, make="Merrow",
    model="Alder",
)  # fmt: skip
HEADER = "Date,Year,Make,Model,Result,High bid,Buyer's premium,Venue,VIN,Condition\n"

Send = Callable[..., Report]


@pytest.fixture
def send(tmp_path: Path, sales: Actor) -> Send:
    def sent(rows: str, *, header: str = HEADER, **given: object) -> Report:
        path = tmp_path / "told.csv"
        path.write_text(header + rows, encoding="utf-8")
        options = Options(source=str(given.pop("source", "")))
        report = import_elsewhere(path, name=path.name, options=options, by=sales, at=NOW, **given)  # type: ignore[arg-type]
        assert report.read == report.imported + report.already + report.rejected
        return report

    return sent


def test_sale_is_corrected_and_taken_out_by_rows_that_follow(sales: Actor) -> None:
    first = elsewhere.add_sale(TOLD, by=sales, at=NOW)
    right = replace(TOLD, price=Decimal("22500.00"))
    second = elsewhere.correct_sale(first.pk, said=right, reason="misheard", by=sales, at=NOW)
    assert list(MarketSale.objects.live()) == [second]
    with pytest.raises(TooLate, match="corrected or took out"):
        elsewhere.correct_sale(first.pk, said=TOLD, reason="again", by=sales, at=NOW)
    elsewhere.drop_sale(second.pk, reason="the same sale twice", by=sales, at=NOW)
    assert not MarketSale.objects.live().exists()
    assert MarketSale.objects.count() == 3
    said = set(LogEntry.objects.filter(action__startswith="elsewhere.").values_list("action", flat=True))
    assert said == {"elsewhere.recorded", "elsewhere.corrected", "elsewhere.dropped"}


def test_sale_sent_twice_is_one_and_told_twice_is_questioned(sales: Actor) -> None:
    key = uuid4()
    assert elsewhere.add_sale(TOLD, client_key=key, by=sales, at=NOW) == elsewhere.add_sale(
        TOLD, client_key=key, by=sales, at=NOW
    )
    other = replace(TOLD, source="a neighbour", model="ALDER")
    with pytest.raises(Refused, match="told by the county meet") as problem:
        elsewhere.add_sale(other, by=sales, at=NOW)
    assert problem.value.field == "sure"
    elsewhere.add_sale(other, sure=True, by=sales, at=NOW)
    assert MarketSale.objects.live().count() == 2


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"ended_on": date(2026, 11, 26)}, "ended_on"),
        ({"price": Decimal(0)}, "price"),
        ({"year": 2030}, "year"),
        ({"source": ""}, "source"),
        ({"condition_low": Decimal(60), "condition_high": Decimal(40)}, ""),
    ],
)
def test_sale_that_cannot_be_is_refused_at_its_field(sales: Actor, change: dict[str, object], field: str) -> None:
    with pytest.raises(Refused) as problem:
        elsewhere.add_sale(replace(TOLD, **change), by=sales, at=NOW)  # type: ignore[arg-type]
    assert problem.value.field == field


def test_a_correction_needs_its_reason(sales: Actor) -> None:
    row = elsewhere.add_sale(TOLD, by=sales, at=NOW)
    with pytest.raises(Refused, match="not said why"):
        elsewhere.drop_sale(row.pk, reason=" ", by=sales, at=NOW)


def test_intake_records_no_sales_elsewhere(intake: Actor) -> None:
    with pytest.raises(NotAllowed):
        elsewhere.add_sale(TOLD, by=intake, at=NOW)


def test_own_column_names_are_read(send: Send) -> None:
    send("2026-09-12,1968,Merrow,Alder,reserve not met,$21500,hammer,county meet,,60-70\n")
    row = MarketSale.objects.get()
    assert (row.sold, row.premium, row.source, row.price) == (False, "added", "county meet", Decimal("21500.00"))
    assert (row.condition_low, row.condition_high) == (Decimal(60), Decimal(70))


def test_import_is_known_again_even_after_a_correction(send: Send, sales: Actor) -> None:
    rows = "2026-09-12,1968,Merrow,Alder,sold,21500,included,county meet,,\n"
    assert send(rows).imported == 1
    elsewhere.drop_sale(MarketSale.objects.get().pk, reason="not a sale", by=sales, at=NOW)
    assert (send(rows).imported, send(rows).already) == (0, 1)


def test_same_sale_by_another_teller_is_kept_and_questioned(send: Send) -> None:
    report = send(
        "2026-09-12,1968,Merrow,Alder,sold,21500,,county meet,8A1,\n"
        "2026-09-12,1968,Merrow,Alder,sold,21500,,a neighbour,,\n"
        "2026-09-12,1968,Merrow,Alder,sold,21500,,county meet,8A2,\n"  # another number: another vehicle, told of row 2
    )
    assert report.imported == 3
    assert [(told["row"], told["column"]) for told in report.warnings] == [(3, "price"), (4, "price")]


def test_file_without_source_needs_one_for_all_of_it(send: Send) -> None:
    header, rows = "Date,Year,Make,Model,Price\n", "2026-09-12,1968,Merrow,Alder,21500\n"
    with pytest.raises(Refused, match="does not say where"):
        send(rows, header=header)
    assert send(rows, header=header, source="the county meet", dry_run=True).imported == 1
    assert not MarketSale.objects.exists()
    send(rows, header=header, source="the county meet")
    assert MarketSale.objects.get().source == "the county meet"


def test_ugly_rows_are_each_told(send: Send) -> None:
    report = send(
        "2026-09-12,68,Merrow,Alder,sold,21500,,x,,\n"
        "2027-09-12,1968,Merrow,Alder,sold,21500,,x,,\n"
        "2026-09-12,1968,Merrow,Alder,perhaps,21500,,x,,\n"
        "2026-09-12,1968,Merrow,Alder,sold,0,,x,,\n"
        "2026-09-12,1968,Merrow,Alder,sold,21500,,,,\n"
        "2026-09-12,1968,,Alder,sold,21500,,x,,\n"
        "2026-09-12,1968,Merrow,Alder,sold,215,,x,,\n"
    )
    assert [reject["column"] for reject in report.rejects] == ["year", "ended_on", "sold", "price", "source", "make"]
    assert "odd price" in report.warnings[0]["message"]


def test_demo_sheet_comes_in_whole(sales: Actor) -> None:
    report = import_elsewhere(DEMO, name=DEMO.name, options=Options(), by=sales, at=NOW)
    assert (report.read, report.imported, report.rejects) == (60, 60, [])
    told = standing(None)
    assert (told.sales + told.bids, told.newer) == (60, True)
