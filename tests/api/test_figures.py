"""Figures through the API: written by part, read with all they mean."""

from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from inventory.models import Consignment, EngineFigures, TyreRecord
from tests.api.conftest import said, url

pytestmark = pytest.mark.django_db


def test_figures_are_read_with_meanings_and_questions(
    as_intake: APIClient, as_sales: APIClient, stay: Callable[..., Consignment]
) -> None:
    built = stay()
    for position, size in (("left_front", "P205/75R15"), ("right_front", "P215/75R15")):
        body = {"position": position, "size": size, "basis": "seen"}
        assert as_intake.post(url(built, "figures/tyres/"), body).status_code == 201
    read = as_sales.get(url(built, "figures/")).json()
    first = read["tyres"][0]["stated"][0]
    assert (first["name"], first["shown"], first["basis"]) == ("size", "P205/75R15", "seen")
    assert "27.11 in across" in first["meanings"][1]["text"]  # 15 + 2 × 205 × 75 ÷ 2540
    (question,) = read["questions"]
    assert (question["where"], question["section"], question["stops_drives"]) == ("Front axle", "49 CFR 570.9(b)", True)


def test_text_that_cannot_be_read_is_kept_and_told(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    made = as_intake.post(
        url(built, "figures/tyres/"), {"position": "spare", "tin": "worn off", "basis": "seen"}
    ).json()
    assert (made["tin"], made["size"], made["taken_back"]) == ("worn off", "", [])
    (meaning,) = as_intake.get(url(built, "figures/")).json()["tyres"][4]["stated"][0]["meanings"]
    assert meaning["unread"] is True


def test_all_four_writes_four_rows(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    body = {"position": "left_front", "size": "G78-15", "tin": "439", "basis": "seen", "all_four": True}
    as_intake.post(url(stay(), "figures/tyres/"), body)
    assert sorted(TyreRecord.objects.values_list("size", "tin")) == [("G78-15", "")] * 3 + [("G78-15", "439")]


def test_null_takes_back_and_what_is_left_out_stays(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built = stay()
    first = {"bore_in": "4.03", "cylinders": 8, "compression_psi": ["150", "148.5"], "basis": "measured"}
    assert as_intake.post(url(built, "figures/engine/"), first).json()["compression_psi"] == ["150", "148.5"]
    made = as_intake.post(url(built, "figures/engine/"), {"bore_in": None, "compression_psi": [], "basis": "seen"})
    assert made.json()["taken_back"] == ["bore_in", "compression_psi"]
    stated = as_intake.get(url(built, "figures/")).json()["engine"]["stated"]
    assert [(one["name"], one["shown"]) for one in stated] == [("cylinders", "8")]


@pytest.mark.parametrize(
    ("part", "body", "field"),
    [
        ("engine", {"bore_in": "40"}, "bore_in"), ("engine", {"bore_in": "big"}, "bore_in"),
        ("engine", {"stated_displacement": "350"}, "displacement_unit"), ("engine", {"colour": "red"}, "colour"),
        ("engine", {"compression_psi": ["401"]}, "compression_psi"), ("engine", {}, "bore_in"),
        ("driveline", {"driven_axle": "middle"}, "driven_axle"), ("electrics", {"rest_hours": "3"}, "rest_hours"),
        ("tyres", {"size": "G78-15"}, "position"), ("tyres", {"position": "spare", "size": "x" * 81}, "size"),
    ],
)  # fmt: skip
def test_figure_that_cannot_be_is_refused_on_its_field(
    as_intake: APIClient, stay: Callable[..., Consignment], part: str, body: dict[str, object], field: str
) -> None:
    answer = as_intake.post(url(stay(), f"figures/{part}/"), {"basis": "measured", **body})
    assert (answer.status_code, said(answer)["field"]) == (400, field)
    assert not EngineFigures.objects.exists()
    assert not TyreRecord.objects.exists()


def test_key_sent_twice_is_one_row(as_intake: APIClient, stay: Callable[..., Consignment]) -> None:
    built, key = stay(), "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"
    for _ in range(2):
        as_intake.post(url(built, "figures/engine/"), {"cylinders": 8, "basis": "seen", "client_key": key})
    assert EngineFigures.objects.count() == 1
