"""The current stock comes in once, through the usual actions, with every row told."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from inventory.actions.import_reports import Report
from inventory.actions.importing_stock import NEXT, import_stock
from inventory.errors import NotAllowed
from inventory.models import AskChange, Consignment, Consignor, IdentityNumber, LogEntry, OutMessage, SalesImport, Terms
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from tests import build

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)
DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "current_stock.csv"
UGLY = Path(__file__).resolve().parents[2] / "fixtures" / "ugly" / "current_stock_ugly.csv"
HEADER = "Stock #,VIN,Yr,Make,Model,Owner,Email,Phone,Commission,Floor,Contract start,Contract end,Ask,Key tag\n"

Send = Callable[..., Report]


@pytest.fixture
def send(tmp_path: Path, owner: Actor) -> Send:
    def sent(rows: str, *, header: str = HEADER, dry_run: bool = False, rejects_to: Path | None = None) -> Report:
        path = tmp_path / "stock.csv"
        path.write_text(header + rows, encoding="utf-8")
        return import_stock(
            path, name=path.name, options=Options(), by=owner, at=NOW, dry_run=dry_run, rejects_to=rejects_to
        )

    return sent


def read_all(path: Path, *, by: Actor) -> Report:
    report = import_stock(path, name=path.name, options=Options(), by=by, at=NOW)
    assert report.read == report.imported + report.already + report.rejected
    return report


def test_demo_sheet_comes_in_whole_and_a_second_time_not_at_all(owner: Actor) -> None:
    report = read_all(DEMO, by=owner)
    assert (report.read, report.imported, report.rejects) == (12, 12, [])
    assert report.warnings[0]["message"] == NEXT
    stay = Consignment.objects.get(stock_number="L-201")
    assert (stay.state, stay.arrived_on, stay.key_tag, stay.mileage) == (State.ON_LOT, date(2026, 6, 2), "K1", 61240)
    terms = Terms.objects.get(consignment=stay)
    assert (terms.plan_kind, terms.rate, terms.minimum) == ("percent_with_minimum", Decimal(9), Decimal("1500.00"))
    ask = AskChange.objects.get(consignment=stay)
    assert (ask.amount, ask.on) == (Decimal("48500.00"), date(2026, 6, 9))
    assert stay.movements.get().place == "Row 1, at the gate"
    assert not IdentityNumber.objects.exists()  # nobody has read a number off a vehicle yet
    assert not OutMessage.objects.exists()  # it was here before the books were: no news to its owner
    assert LogEntry.objects.filter(action="vehicle.logged").count() == 12
    assert read_all(DEMO, by=owner).already == 12
    assert Consignment.objects.count() == 12


def test_same_mail_or_phone_is_one_consignor_in_the_file_and_with_those_known(send: Send) -> None:
    build.consignment(at=NOW, consignor_name="Tomas W.", consignor_email="", consignor_phone="1-555-010-2214")
    report = send(
        "A1,,1968,Merrow,Alder,Ada,ada@example.org,,,,,,,\nA2,,1971,Tarn,Six,Ada F.,ADA@example.org,,,,,,,\n"
        "A3,,1972,Tarn,Six,Tomas Wren,tomas@example.org,(555) 010 2214,,,,,,\nA4,,1973,Tarn,Six,Ada,,,,,,,,\n"
    )
    found = {who.name: who.consignments.count() for who in Consignor.objects.exclude(name="Ada", email="")}
    assert (found, Consignor.objects.count()) == ({"Ada": 2, "Tomas W.": 2}, 3)  # without mail and phone: on their own
    told = [warning["message"] for warning in report.warnings if "was not taken over" in warning["message"]]
    assert told == [
        "Taken as the consignor Ada; the row's name was not taken over.",
        "Taken as the consignor Tomas W.; the row's name, email was not taken over.",
    ]


def test_row_without_all_of_its_terms_says_what_was_not_kept(send: Send) -> None:
    report = send("A1,,1968,Merrow,Alder,Ada,a@example.org,,9,30000,,,40000,\n")
    assert report.imported == 1
    assert not Terms.objects.exists()
    told = next(warning for warning in report.warnings if warning["column"] == "agreement_starts_on")
    assert "commission rate, floor was not kept" in told["message"]


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ("A1,,1968,Merrow,Alder,Ada,,,9,30000,2026-01-02,2026-09-02,29000,", "ask", "below the floor"),
        ("A/1,,1968,Merrow,Alder,Ada,,,,,,,,", "stock_number", "stands in addresses"),
        (f"{'A' * 21},,1968,Merrow,Alder,Ada,,,,,,,,", "stock_number", "21 characters"),
        ("A1,1G4AH59H15G118341,2005,Merrow,Alder,Ada,,,,,,,,", "vin", "check digit"),  # 49 CFR 565: right is 4
        ("A1,,1968,Merrow,Alder,Ada,ada at home,,,,,,,", "consignor_email", "not one e-mail address"),
        ("A1,,1968,Merrow,Alder,Ada,,,0.1,,2026-01-02,2026-09-02,,", "commission_rate", "not a rate in percent"),
        ("A1,,1968,Merrow,Alder,,,,,,,,,", "consignor_name", "is missing"),
        ("A1,,1968,Merrow,Alder,Ada,,,9,,2026-09-02,2026-01-02,,", "agreement_ends_on", "before the agreement starts"),
    ],
)  # fmt: skip
def test_bad_row_is_rejected_at_its_column(send: Send, row: str, column: str, said: str) -> None:
    report = send(f"{row}\n")
    assert (report.imported, report.rejects[0]["column"]) == (0, column)
    assert said in report.rejects[0]["reason"]
    assert not Consignment.objects.exists()


def test_what_an_action_refuses_leaves_no_trace_of_its_row(send: Send, tmp_path: Path) -> None:
    rows = "A1,,1968,Merrow,Alder,Ada,,,,,,,,K7\nA2,,1971,Tarn,Six,Bo,,,,,,,,K7\n"
    rejects = tmp_path / "rejects.csv"
    report = send(rows, rejects_to=rejects)
    assert (report.imported, report.rejected, report.rejects[0]["column"]) == (1, 1, "key_tag")
    assert "on the keys of another vehicle" in rejects.read_text(encoding="utf-8-sig")
    assert Consignor.objects.count() == 1
    again = send(rejects.read_text(encoding="utf-8-sig").replace("K7", "K8"), header="")
    assert (again.imported, again.rejected) == (1, 0)


def test_dry_run_refuses_the_same_and_writes_nothing(send: Send) -> None:
    rows = "A1,,1968,Merrow,Alder,Ada,,,,,,,,K7\nA2,,1971,Tarn,Six,Bo,,,,,,,,K7\n"
    report = send(rows, dry_run=True)
    assert (report.imported, report.rejected) == (1, 1)
    assert not Consignment.objects.exists()
    assert not SalesImport.objects.exists()
    assert not LogEntry.objects.filter(action="vehicle.logged").exists()


def test_vehicle_that_is_here_is_known_by_its_numbers(send: Send) -> None:
    stay = build.consignment(at=NOW, vin="8A17J104221", year=1968)
    rows = f"{stay.stock_number},8A17J104221,1968,Merrow,Alder,Ada,,,,,,,,\n"  # the same stay with other facts
    rows += f"{stay.stock_number.lower()}X,8A17J104221,1968,Merrow,Alder,Ada,,,,,,,,\n"  # under another number
    report = send(rows)
    assert (report.already, report.rejected, report.rejects[0]["column"]) == (1, 1, "vin")
    assert send(f"{stay.stock_number},9X1,1971,Tarn,Six,Bo,,,,,,,,\n").rejects[0]["column"] == "stock_number"


def test_house_gives_the_next_number_clear_of_those_brought_along(send: Send) -> None:
    send(",,1968,Merrow,Alder,Ada,,,,,,,,\n26-0007,,1971,Tarn,Six,Bo,,,,,,,,\n26-B,,1972,Tarn,Six,Cy,,,,,,,,\n")
    assert set(Consignment.objects.values_list("stock_number", flat=True)) == {"26-0007", "26-B", "26-0008"}
    assert build.consignment(at=NOW).stock_number == "26-0009"


def test_ugly_sheet_is_told_row_by_row(owner: Actor) -> None:
    report = read_all(UGLY, by=owner)
    assert (report.imported, report.already, report.rejected) == (3, 1, 9)


def test_only_the_owner_imports_stock(sales: Actor, tmp_path: Path) -> None:
    with pytest.raises(NotAllowed):
        import_stock(tmp_path / "x.csv", name="x.csv", options=Options(), by=sales, at=NOW)
