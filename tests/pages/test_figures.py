"""The figures page: what is typed is kept and answered at once, and nothing typed is lost."""

from datetime import datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from django.test import Client
from django.utils.html import escape
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.forms.figures import SECTIONS, TyreForm
from inventory.models import (
    Consignment,
    DrivelineFigures,
    ElectricFigures,
    EngineFigures,
    TyreRecord,
)
from inventory.queries.figures import figures_of
from inventory.rules.roles import Actor
from inventory.rules.tyre_sizes import parse_size
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db
MODELS = {"engine": EngineFigures, "driveline": DrivelineFigures, "electrics": ElectricFigures}


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


@pytest.fixture
def staff(client: Client, intake: Actor) -> Client:
    return sign_in(client, intake)


def send(client: Client, stay: Consignment, section: str, **typed: str) -> Any:
    """One section, as the browser sends it: names carry the section or the tyre."""
    start = "" if section == "tyres" else f"{section}-"
    return client.post(
        url(stay, "record_figures", section=section), {f"{start}{name}": value for name, value in typed.items()}
    )


def tyre(client: Client, stay: Consignment, place: str = "left_front", **typed: str) -> Any:
    said = {f"{place}-{name}": value for name, value in {"basis": "seen", **typed}.items()}
    return send(client, stay, "tyres", **said)


def page(client: Client, stay: Consignment) -> str:
    return text_of(client.get(url(stay, "figures")))


# Read off sidewalls of the forms that `tyre_sizes` knows, and slips of them.
GOOD = [
    "P235/75R15", "P235/75R15 105S", "p205/75 r15", "205/75R15 97S", "P215/70R14", "LT235/85R16", "LT255/85R16",
    "33x12.50R15LT", "31x10.50R15LT", "FR78-15", "GR78-15", "G78-15", "F78-14", "F70-14", "7.75-14", "6.95-14",
    "6.70-15", "5.90-15", "165SR13", "185R14C", "245/45ZR17 99W", "P245/60R14", "7.00-16 6PR", "225/75D15",
    "235/70B15", "4.50-21",
]  # fmt: skip
BAD = [
    "round", "P235/75R", "235", "P2357515", "P235/75R55", "P35/75R15", "999/75R15", "P235/75R15 131S",
    "P235/75R15 97G#", "15x7", "G78", "78-15", "I78-15", "<b>P235</b>", "P235/75R15 97S OWL RAISED", "—",
]  # fmt: skip


def test_sizes_are_forty_and_more() -> None:
    assert len(GOOD) + len(BAD) >= 40
    for size in GOOD:
        assert parse_size(size)
    for size in BAD:
        with pytest.raises(Refused):
            parse_size(size)


@pytest.mark.parametrize("size", [*GOOD, *BAD])
def test_size_is_kept_as_typed_and_told(staff: Client, stay: Consignment, size: str) -> None:
    assert tyre(staff, stay, size=size).status_code == 302
    assert TyreRecord.objects.get().size == size
    shown = page(staff, stay)
    assert f'value="{escape(size)}"' in shown
    assert ("Kept as written." in shown) == (size in BAD)
    if size in GOOD:
        assert str(parse_size(size)) in shown


@pytest.mark.parametrize(
    ("tin", "told"),
    # 0109 is the example of 49 CFR 574.5 (from memory), 439 that of an agency letter; the others by the calendar.
    [
        ("0109", "Made in week 1 of 2009, 2009-01-04 to 2009-01-10."),
        ("0301", "Made in week 3 of 2001, 2001-01-21 to 2001-01-27."),
        ("DOT AB CD 3107", "Made in week 31 of 2007, 2007-08-05 to 2007-08-11."),
        ("5118", "Made in week 51 of 2018, 2018-12-23 to 2018-12-29."),
        ("5220", "Made in week 52 of 2020, 2020-12-27 to 2021-01-02."),
        ("5323", "Made in week 53 of 2023, 2023-12-31 to 2024-01-06."),
        ("5321", "Kept as written. The tyre date “5321” names week 53, which 2021 did not have."),
        ("0021", "Kept as written."), ("5423", "Kept as written."), ("0199", "Kept as written. The tyre date “0199”"),
        ("439", "Made in week 43 of 1979 or week 43 of 1989 or week 43 of 1999: the code does not tell which."),
        ("not to be read", "Kept as written."),
    ],
)  # fmt: skip
def test_tin_is_kept_as_typed_and_told(staff: Client, stay: Consignment, tin: str, told: str) -> None:
    tyre(staff, stay, tin=tin)
    assert TyreRecord.objects.get().tin == tin
    shown = page(staff, stay)
    assert f'value="{tin}"' in shown
    assert told in shown


def test_five_tyres_are_written_at_once_and_only_what_was_changed(staff: Client, stay: Consignment) -> None:
    places = ["left_front", "right_front", "left_rear", "right_rear", "spare"]
    typed = {f"{place}-{name}": value for place in places for name, value in (("size", "G78-15"), ("basis", "seen"))}
    assert send(staff, stay, "tyres", **typed).url == f"{url(stay, 'figures')}#tyres-title"
    assert TyreRecord.objects.count() == 5
    shown = {f"initial-{place}-size": "G78-15" for place in places}
    send(staff, stay, "tyres", **typed, **shown, **{"left_rear-tin": "3107"})
    assert TyreRecord.objects.count() == 6
    row = TyreRecord.objects.order_by("-pk")[0]
    assert (row.position, row.size, row.tin) == ("left_rear", "", "3107")
    send(staff, stay, "tyres", **typed, **shown)
    assert TyreRecord.objects.count() == 6
    assert "Nothing was changed." in page(staff, stay)


def test_all_four_like_this_one_copies_size_and_rim_but_no_tin(staff: Client, stay: Consignment, at: datetime) -> None:
    tyre(staff, stay, "left_rear", tin="1719")
    tyre(staff, stay, size="P235/75R15", rim="15x7", tin="3107", **{})
    typed = {"left_front-basis": "measured", "left_front-size": "P235/75R15", "left_front-rim": "15x7"}
    shown = {"initial-left_front-size": "P235/75R15", "initial-left_front-rim": "15x7"}
    kept = {"left_front-tin": "3107", "initial-left_front-tin": "3107"}
    send(staff, stay, "tyres", all_four="on", **typed, **shown, **kept)
    tyres = figures_of(stay, today=at.date()).tyres
    assert [part.values.get("size") for part in tyres] == ["P235/75R15"] * 4 + [None] * 2
    assert [part.values.get("tin") for part in tyres] == ["3107", None, "1719", None, None, None]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"left_front-tin": "3107", "left_front-basis": "seen"}, "Give the size or the rim of this one first"),
        ({"left_front-size": "G78-15"}, "Say what this rests on."),
        (
            {
                "left_front-size": "G78-15", "left_front-basis": "seen", "left_rear-size": "H78-15",
                "left_rear-basis": "seen",
            },
            "“H78-15” is not like the left front. Take the tick out, or mend it.",
        ),
    ],
)  # fmt: skip
def test_all_four_that_cannot_be_is_told_and_nothing_typed_is_lost(
    staff: Client, stay: Consignment, typed: dict[str, str], told: str
) -> None:
    response = send(staff, stay, "tyres", all_four="on", **typed)
    shown = text_of(response)
    assert response.status_code == 200
    assert told in shown
    assert all(f'value="{value}"' in shown for value in typed.values())
    assert not TyreRecord.objects.exists()


@pytest.mark.parametrize(
    ("section", "typed", "told"),
    [
        ("engine", {"bore_in": "40"}, "Bore: 40 in cannot be. Give 1 to 8 in, such as 4.030."),
        ("engine", {"bore_in": "big"}, "Bore: “big” is not a number. Give 1 to 8 in, such as 4.030."),
        ("engine", {"cylinders": "8.5"}, "Cylinders: 8.5 is finer than it is kept. Give 1 to 16 as a whole number"),
        ("engine", {"compression_psi": "150 x"}, "Compression: “x” is not a number."),
        ("engine", {"stated_displacement": "350"}, "Give the unit of the stated displacement"),
        ("engine", {"displacement_unit": "cc"}, "A unit was given without its figure."),
        (
            "engine", {"stated_displacement": "350", "displacement_unit": "litre"},
            "Stated displacement: 350 L cannot be. Give 0.04 to 30 L, such as 5.7.",
        ),
        ("driveline", {"axle_ratio": "373"}, "Axle ratio: 373 cannot be. Give 1.5 to 10, such as 3.73."),
        ("driveline", {"driven_axle": "middle"}, "not one of the available choices"),
        ("electrics", {"rest_volts": "125"}, "Battery at rest: 125 V cannot be."),
        ("electrics", {"rest_hours": "3"}, "Hours at rest belong to a voltage."),
        ("electrics", {"note": "n" * 201}, "at most 200 characters"),
    ],
)  # fmt: skip
def test_wrong_figure_is_told_on_its_field_and_nothing_typed_is_lost(
    staff: Client, stay: Consignment, section: str, typed: dict[str, str], told: str
) -> None:
    response = send(staff, stay, section, **{"note": "by hand", "basis": "measured", **typed})
    shown = text_of(response)
    assert response.status_code == 200
    assert told in shown
    for name, value in typed.items():
        kept = f'value="{escape(value)}"' in shown
        assert kept or name == "driven_axle"  # a list box sends its own words only
    assert ("by hand" in shown) == ("note" not in typed)
    assert not MODELS[section].objects.exists()


@pytest.mark.parametrize("section", ["tyres", *SECTIONS])
def test_change_without_a_basis_is_asked_for_it(staff: Client, stay: Consignment, section: str) -> None:
    typed = {"tyres": {"spare-size": "G78-15"}, "engine": {"cylinders": "8"}, "driveline": {"axle_ratio": "3.73"},
             "electrics": {"rest_volts": "12.5"}}[section]  # fmt: skip
    assert "Say what this rests on." in text_of(send(staff, stay, section, **typed))


def test_engine_answers_at_once_with_what_it_means_and_asks(staff: Client, stay: Consignment) -> None:
    # π ÷ 4 × 4.03² × 3.48 × 8 = 355.12 cu in; 350 is that before a bore of 0.030 over.
    response = send(
        staff, stay, "engine", bore_in="4.03", stroke_in="3.48", cylinders="8", stated_displacement="350",
        displacement_unit="cu_in", compression_psi="150 148 110 150 152 149 151 150", basis="measured",
    )  # fmt: skip
    assert response.url == f"{url(stay, 'figures')}#engine-title"
    shown = page(staff, stay)
    assert "355.12 cu in, 5,819 cc" in shown
    assert "350 fits a rebore by 0.030" in shown
    assert "Cylinder 3 has 110 psi" in shown
    assert 'value="150 148 110 150 152 149 151 150"' in shown


def test_unit_changed_alone_travels_with_its_figure(staff: Client, stay: Consignment) -> None:
    send(staff, stay, "engine", stated_displacement="1600", displacement_unit="cu_in", basis="told")
    shown = {"initial-engine-stated_displacement": "1600", "initial-engine-displacement_unit": "cu_in"}
    typed = {"engine-stated_displacement": "1600", "engine-displacement_unit": "cc", "engine-basis": "seen"}
    staff.post(url(stay, "record_figures", section="engine"), typed | shown)
    row = EngineFigures.objects.order_by("-pk")[0]
    assert (row.stated_displacement, row.displacement_unit) == (1600, "cc")


def test_emptied_figure_is_taken_back(staff: Client, stay: Consignment) -> None:
    send(staff, stay, "driveline", axle_ratio="3.73", basis="seen")
    sent = {"initial-driveline-axle_ratio": "3.73", "driveline-axle_ratio": "", "driveline-basis": "seen"}
    staff.post(url(stay, "record_figures", section="driveline"), sent)
    assert DrivelineFigures.objects.order_by("-pk")[0].taken_back == ["axle_ratio"]


def test_electrics_answer_with_the_charge_and_the_fluid(staff: Client, stay: Consignment) -> None:
    send(staff, stay, "electrics", system_volts="12", rest_volts="12.45", rest_hours="12", fluid_kind="dot_4",
         fluid_colour="purple", basis="measured")  # fmt: skip
    shown = page(staff, stay)
    assert "About 75 % charged (common practice)." in shown
    assert "The fluid is stated as DOT 4 (colourless to amber), but DOT 5 (purple) was found." in shown
    assert ElectricFigures.objects.get().system_volts == 12


def test_section_sent_twice_counts_once(staff: Client, stay: Consignment) -> None:
    key = "6f9619ff-8b86-4d01-b42d-00cf4fc964ff"
    for cylinders in ("8", "8", "6"):
        send(staff, stay, "engine", cylinders=cylinders, basis="seen", key=key)
        tyre(staff, stay, size=f"G78-1{cylinders}", key=key)
    assert (EngineFigures.objects.count(), TyreRecord.objects.count()) == (2, 2)


def test_address_of_a_section_shows_the_page_and_another_is_not_there(staff: Client, stay: Consignment) -> None:
    assert staff.get(url(stay, "record_figures", section="engine")).url == f"{url(stay, 'figures')}#engine-title"
    assert staff.post(url(stay, "record_figures", section="roof")).status_code == 404


def test_vehicle_file_shows_questions_first_to_sales_staff_without_the_way_to_record(
    client: Client, sales: Actor, stay: Consignment, intake: Actor
) -> None:
    sign_in(client, intake)
    assert "No tyre, engine or battery figures are recorded yet." in text_of(client.get(url(stay, "vehicle_file")))
    assert url(stay, "figures") in text_of(client.get(url(stay, "vehicle_file")))
    tyre(client, stay, size="P205/75R15")
    tyre(client, stay, "right_front", size="P215/75R15")
    shown = text_of(sign_in(client, sales).get(url(stay, "vehicle_file")))
    assert shown.index("One axle carries P205/75R15 and P215/75R15") < shown.index("Left front: P205/75R15")
    assert "(49 CFR 570.9(b))" in shown
    assert "before any drive" in shown
    assert url(stay, "figures") not in shown


TEXT_FIELDS = [("tyres", f"left_front-{name}") for name in ("size", "tin", "rim", "note")] + [
    (section, f"{section}-{name}")
    for section, form in SECTIONS.items()
    for name, field in form.base_fields.items()
    if name not in TyreForm.base_fields or name == "note"
    if not hasattr(field, "choices")
]


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(place=st.sampled_from(TEXT_FIELDS), typed=st.text(max_size=90))
def test_any_text_is_kept_or_stands_where_it_was_typed(
    staff: Client, stay: Consignment, place: tuple[str, str], typed: str
) -> None:
    section, name = place
    part = name.split("-")[0]
    with transaction.atomic():
        response = staff.post(url(stay, "record_figures", section=section), {name: typed, f"{part}-basis": "seen"})
        if response.status_code == 302:
            field = SECTIONS[section].base_fields[name.split("-")[1]] if section in SECTIONS else None
            kept = written(section, name.split("-")[1])
            assert kept == (cleaned(field, typed) if field else typed.strip())
        else:
            assert response.status_code == 200
            assert escape(typed) in response.content.decode()
        transaction.set_rollback(True)


def cleaned(field: Any, typed: str) -> Any:
    try:
        return field.clean(typed) or None
    except ValidationError:
        pytest.fail(f"{typed!r} was accepted by the page")


def written(section: str, name: str) -> Any:
    row = {**MODELS, "tyres": TyreRecord}[section].objects.order_by("-pk").first()  # type: ignore[attr-defined]
    empty = "" if section == "tyres" else None
    return empty if row is None else getattr(row, name) or empty
