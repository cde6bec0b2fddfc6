"""The commands: their JSON, their exit codes, their one line when something is wrong."""

import json
from datetime import datetime
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from inventory.models import ArrivalReceipt, Consignment, Lot, ModelFit, SaleOutcome, User
from inventory.rules.states import State
from tests import build, records

pytestmark = pytest.mark.django_db
BOOK = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "past_sales.csv"


def run(*arguments: object) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    out, err = StringIO(), StringIO()
    try:
        call_command(*map(str, arguments), stdout=out, stderr=err)
    except SystemExit as left:
        return int(left.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


@pytest.fixture
def book() -> None:
    run("import_sales", BOOK)
    run("fit", "--no-record")


def test_import_answers_in_json() -> None:
    code, out, _ = run("import_sales", BOOK, "--json")
    body = json.loads(out)
    assert code == 0
    assert {name: body[name] for name in ("read", "imported", "already", "rejected", "rejects")} == {
        "read": 275, "imported": 275, "already": 0, "rejected": 0, "rejects": [],
    }  # fmt: skip


def test_import_of_what_is_no_sheet_exits_2_with_one_line(tmp_path: Path) -> None:
    path = tmp_path / "picture.csv"
    path.write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00")
    code, out, err = run("import_sales", path, "--json")
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 1


def test_import_asks_for_the_date_order_and_takes_it(tmp_path: Path) -> None:
    path = tmp_path / "sales.csv"
    path.write_text("year,make,model,sale date,price\n1968,Merrow,Alder,3/4/2021,42500\n")
    code, _, err = run("import_sales", path)
    assert code == 2
    assert "--date-order" in err
    assert run("import_sales", path, "--date-order", "mdy")[0] == 0
    assert str(SaleOutcome.objects.get().ended_on) == "2021-03-04"


def test_import_takes_named_columns_and_a_century(tmp_path: Path) -> None:
    path = tmp_path / "sales.csv"
    path.write_text("Jahr,make,model,sale date,Got\n'69,Merrow,Alder,2021-03-04,42500\n")
    arguments = ("--column", "year=Jahr", "--column", 'price="Got"', "--two-digit-years", "19xx")
    assert run("import_sales", path, *arguments)[0] == 0
    row = SaleOutcome.objects.get()
    assert (row.year, row.price) == (1969, Decimal("42500.00"))


def test_fit_without_sales_exits_3() -> None:
    code, out, err = run("fit", "--json")
    assert code == 3
    assert json.loads(out)["error"]["code"] == "too_little_evidence"
    assert "12" in err


def test_fit_answers_in_json(book: None) -> None:
    code, out, _ = run("fit", "--json", "--no-record")
    body = json.loads(out)
    assert code == 0
    assert (body["sales_used"], body["coverage"]) == (240, 0.8)
    assert (body["record"], body["flags"], body["priced"]) == (None, [], 0)


def test_price_of_stock_adds_up(book: None, at: object) -> None:
    stay = build.consignment(State.INSPECTED, at=at)  # type: ignore[arg-type]
    code, out, _ = run("price", stay.stock_number, "--json")
    body = json.loads(out)
    assert code == 0
    assert sum(Decimal(str(part["amount"])) for part in body["parts"]) == Decimal(str(body["likely"]))
    assert body["low"] < body["likely"] < body["high"]
    assert run("price", stay.stock_number)[1].count("likely") >= 2


def test_price_of_a_described_vehicle(book: None, tmp_path: Path) -> None:
    path = tmp_path / "vehicle.json"
    path.write_text(
        json.dumps({"year": 1968, "make": "Merrow", "model": "Alder", "condition": [60, 80], "mileage": None})
    )
    code, out, _ = run("price", "--vehicle", path, "--json")
    assert code == 0
    assert json.loads(out)["sales_used"] == 240


def test_vehicle_in_a_better_condition_is_never_cheaper(book: None, tmp_path: Path) -> None:
    bands = []
    for points in (40, 60, 80, 95):
        path = tmp_path / f"{points}.json"
        path.write_text(json.dumps({"year": 1968, "make": "Merrow", "model": "Alder", "condition": points}))
        body = json.loads(run("price", "--vehicle", path, "--json")[1])
        bands.append((body["low"], body["likely"], body["high"]))
    assert bands == sorted(bands)


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('{"year": 1968, "make": "Merrow", "model": "Alder", "colour": "red"}', "colour"),
        ('{"year": "1968", "make": "Merrow", "model": "Alder"}', "year"),
        ('{"make": "Merrow", "model": "Alder"}', "year"),
        ('{"year": 1968, "make": "Merrow", "model": "Alder", "condition": [80, 70]}', "condition_low"),
        ('{"year": 1968, "make": "Merrow", "model": "Alder", "build_class": "nice"}', "build_class"),
        ('{"year": 1968, "make": "Merrow", "model": "Alder", "modifications": "brakes"}', "modifications"),
        ('{"year": 1968, "make": "Merrow", "model": "Alder", "ended_on": "soon"}', "ended_on"),
        ("[1]", "vehicle"),
        ("{", ""),
    ],
)
def test_bad_description_exits_2_and_names_the_field(tmp_path: Path, text: str, field: str) -> None:
    path = tmp_path / "vehicle.json"
    path.write_text(text)
    code, out, _ = run("price", "--vehicle", path, "--json")
    assert code == 2
    assert json.loads(out)["error"]["field"] == field


def test_price_of_unknown_stock_exits_2() -> None:
    code, _, err = run("price", "99-9999")
    assert code == 2
    assert "99-9999" in err


def test_price_wants_one_vehicle() -> None:
    with pytest.raises(CommandError):
        call_command("price")


def test_all_stock_is_priced_in_one_batch(book: None, at: datetime) -> None:
    stays = [build.consignment(State.INSPECTED, at=at) for _ in range(3)]
    code, out, _ = run("price", "--all-stock", "--json")
    assert code == 0
    assert json.loads(out) == {"priced": 3, "thin": 0}
    assert "3 vehicles of the stock priced." in run("price", "--all-stock")[1]
    assert [stay.opinions.count() for stay in stays] == [2, 2, 2]


def test_all_stock_without_a_fit_exits_3() -> None:
    code, out, _ = run("price", "--all-stock", "--json")
    assert code == 3
    assert json.loads(out)["error"]["code"] == "too_little_evidence"


def test_price_takes_one_way_at_a_time() -> None:
    with pytest.raises(CommandError, match="one of the three"):
        call_command("price", "26-0001", "--all-stock")


def test_fit_of_few_sales_says_why_there_is_no_track_record(at: datetime) -> None:
    records.sold(20, at=at)
    code, out, _ = run("fit")
    assert code == 0
    assert "A track record needs 40 sales" in out
    assert "There are 20." in out
    assert json.loads(run("fit", "--json")[1])["record"] is None


def test_price_with_too_few_sales_exits_3(at: object) -> None:
    stay = build.consignment(State.INSPECTED, at=at)  # type: ignore[arg-type]
    code, _, err = run("price", stay.stock_number)
    assert code == 3
    assert "There are 0 sold outcomes; a band needs at least 12" in err


def test_demo_fills_every_state_and_harms_nothing_twice(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path  # its papers are kept as files
    code, out, _ = run("demo", "--no-serve")
    assert code == 0
    assert {state for (state,) in Consignment.objects.values_list("state")} == set(State.values)
    assert Consignment.objects.count() == 26  # the 25 of its file, and one of its own
    assert SaleOutcome.objects.filter(consignment__isnull=True, result="sold").count() == 240
    assert "password" in out
    assert "/status/open/" in out
    figures = ModelFit.objects.latest("pk").record["figures"]
    assert (figures["count"], figures["share_low"] <= 0.8 <= figures["share_high"]) == (120, True)
    assert ArrivalReceipt.objects.count() == len(list(tmp_path.rglob("*.pdf"))) == 18  # of 23 here, all but each fifth
    before = (SaleOutcome.objects.count(), User.objects.count())
    assert run("demo", "--no-serve")[0] == 0
    assert (SaleOutcome.objects.count(), User.objects.count(), Consignment.objects.count()) == (*before, 26)


def test_demo_refuses_a_database_that_is_not_its_own(owner: object) -> None:
    code, _, err = run("demo", "--no-serve")
    assert code == 2
    assert "not the demo's" in err
    assert not Lot.objects.filter(is_demo=True).exists()


def test_first_owner_can_sign_in(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OWNER_PASSWORD", build.PASSWORD)
    assert run("first_owner", "Odile")[0] == 0
    assert client.login(username="odile", password=build.PASSWORD)
    assert run("first_owner", "odile")[0] == 2


def test_first_owner_refuses_a_weak_pass_phrase(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("OWNER_PASSWORD", "short")
    code, _, err = run("first_owner", "odile")
    assert code == 2
    assert "short" in err
    assert not User.objects.exists()


def test_clear_uploads_says_how_many() -> None:
    assert run("clear_uploads") == (0, "0 uploads cleared.\n", "")


def test_clear_licences_says_how_many() -> None:
    assert run("clear_licences") == (0, "0 copies of driving licences deleted.\n", "")


def test_factor_is_reset_from_the_shell_and_an_unknown_name_is_told(owner: object) -> None:
    assert run("reset_factor", "The-Owner")[0] == 0
    code, _, err = run("reset_factor", "nobody")
    assert (code, "nobody" in err) == (2, True)
