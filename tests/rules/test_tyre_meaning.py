"""What tyres say as they are written, against the published figures."""

from datetime import date

import pytest

from inventory.rules.questions import Question
from inventory.rules.tyre_meaning import Tyre, TyreSaid, axle_questions, driven_diameter_in, read_tyre
from inventory.rules.words import TyrePosition

TODAY = date(2026, 3, 16)
LEFT, RIGHT, REAR, OPPOSITE, SPARE = list(TyrePosition)[:5]


def read(position: TyrePosition = LEFT, **written: str) -> TyreSaid:
    return read_tyre(Tyre(position=position, **written), on=TODAY)


def told(name: str, **written: str) -> str:
    return " ".join(meaning.text for meaning in read(**written).said.of(name))


def asked(position: TyrePosition = LEFT, **written: str) -> tuple[Question, ...]:
    return read(position, **written).said.questions


@pytest.mark.parametrize(
    ("size", "told_of_it"),
    # Computed: rim + 2 × width × aspect ÷ 2540; 63360 ÷ (π × diameter) turns a mile, ÷ 0.97 under load.
    [
        ("P235/75R15", "28.88 in across, 9.25 in wide; 698 turns a mile free"),
        ("P205/75R15", "27.11 in across, 8.07 in wide; 744 turns a mile free"),
        ("P215/70R14", "25.85 in across, 8.46 in wide; 780 turns a mile free"),
        ("LT235/85R16", "31.73 in across, 9.25 in wide; 636 turns a mile free"),
        ("33x12.50R15LT", "33.00 in across, 12.50 in wide; 611 turns a mile free"),
        ("G78-15", "Near 28.0 in across, 8.40 in wide, as makers printed it"),  # as one maker printed it
        ("F78-14", "Near 26.5 in across, as makers printed it"),  # likewise
        ("FR78-15", "The size does not hold the diameter; measure it."),
        # 14 + 2 × 6.95 × 0.82 = 25.40, 5 % either way (a maker prints 25.3)
        ("6.95-14", "About 24.1 to 26.7 in across"),
    ],
)
def test_size_tells_its_dimensions(size: str, told_of_it: str) -> None:
    assert told_of_it in told("size", size=size)


def test_size_tells_construction_load_and_speed() -> None:
    # ISO 4000-1: index 105 carries 925 kg; UN Regulation 30: S is 180 km/h.
    text = told("size", size="P235/75R15 105S")
    assert "radial." in text
    assert "Carries 2,039 lb (925 kg): load index 105 (ISO 4000-1)." in text
    assert "Up to 112 mph (180 km/h): speed symbol S." in text
    assert "does not say whether it is radial" in told("size", size="235/75-15")
    assert "1,620 lb (735 kg): load letter G at 32 psi" in told("size", size="G78-15")  # FMVSS 109, from memory


@pytest.mark.parametrize(("name", "text"), [("size", "round"), ("rim", "steel"), ("tin", "worn off")])
def test_text_that_cannot_be_read_is_told_as_such(name: str, text: str) -> None:
    said = read(**{name: text}).said
    (meaning,) = said.of(name)
    assert (meaning.unread, text in meaning.text, said.questions) == (True, True, ())


@pytest.mark.parametrize(
    ("tin", "week"),
    # 0109 is the example of 49 CFR 574.5 (from memory); the others worked from the calendar.
    [
        ("0109", "week 1 of 2009, 2009-01-04 to 2009-01-10"), ("0301", "week 3 of 2001, 2001-01-21 to 2001-01-27"),
        ("3107", "week 31 of 2007, 2007-08-05 to 2007-08-11"), ("5118", "week 51 of 2018, 2018-12-23 to 2018-12-29"),
        ("5220", "week 52 of 2020, 2020-12-27 to 2021-01-02"), ("5323", "week 53 of 2023, 2023-12-31 to 2024-01-06"),
    ],
)  # fmt: skip
def test_tin_tells_its_week(tin: str, week: str) -> None:
    assert week in told("tin", tin=tin)


def test_tin_before_2000_offers_every_decade_and_is_too_old_in_each() -> None:
    # An agency letter reads 439 as week 43 of 1989, and adds that it could be another decade.
    text = told("tin", tin="439")
    assert "week 43 of 1979 or week 43 of 1989 or week 43 of 1999" in text
    assert "Between 26.4 and 46.4 years old" in text
    (question,) = asked(tin="439")
    assert (question.stops_drives, question.section) == (True, "advice of the British rubber makers")


def test_tyre_is_flagged_from_ten_years_on_and_a_spare_over_six() -> None:
    # Advice of the British rubber makers: replace at 10 years, no spare of over 6. 1116 begins on 2016-03-13.
    (old,) = asked(tin="1116")
    assert old.where == "Tyre, left front"
    assert "10.0 years old. Age of the tyre from its week of make: under 10 years" in old.text
    assert asked(tin="1216") == ()
    (spare,) = asked(SPARE, tin="1020")
    assert "at most 6 years" in spare.text
    assert not spare.stops_drives  # it only lies there
    assert asked(SPARE, tin="1220") == ()  # that week began on 2020-03-22


def test_tin_that_is_too_old_in_one_reading_only_is_asked() -> None:
    # Without spaces 1218 may be week 12 of 2018, or 218 the week 21 of a year that ends in 8.
    (question,) = asked(tin="DOTABCD1218")
    assert "Find out which week is meant." in question.text
    assert not question.stops_drives


def test_tyre_for_another_rim_is_asked() -> None:
    (question,) = asked(size="LT235/85R16", rim="16.5x6")
    assert question.where == "Tyre, left front"
    assert "do not inflate it" in question.text
    assert asked(size="P235/75R15", rim="15x7") == ()
    (narrow,) = asked(size="P235/75R15", rim="15x4")
    assert "4 in wide is narrow for P235/75R15" in narrow.text
    assert asked(size="P235/75R15", rim="15") == ()


def test_two_sizes_on_one_axle_are_flagged_with_the_section() -> None:
    tyres = {LEFT: read(size="P205/75R15"), RIGHT: read(size="P215/75R15"), REAR: read(size="P235/75R15")}
    (question,) = axle_questions(tyres)
    assert (question.where, question.section, question.stops_drives) == ("Front axle", "49 CFR 570.9(b)", True)
    assert "P205/75R15 and P215/75R15" in question.text
    alike = {LEFT: read(size="P205/75R15 97S"), RIGHT: read(size="p205/75 r15"), SPARE: read(size="G78-15")}
    assert axle_questions(alike) == ()
    assert axle_questions({LEFT: read(size="P205/75R15"), RIGHT: read(size="round")}) == ()


def test_diameter_of_the_driven_axle_is_the_largest_that_may_be() -> None:
    tyres = {LEFT: read(size="P205/75R15"), REAR: read(size="P235/75R15"), OPPOSITE: read(size="6.95-14")}
    assert driven_diameter_in(tyres, axle="rear") == pytest.approx(28.88, abs=0.005)
    assert driven_diameter_in(tyres, axle="front") == pytest.approx(27.11, abs=0.005)
    assert driven_diameter_in(tyres, axle="both") == pytest.approx(28.88, abs=0.005)
    assert driven_diameter_in({OPPOSITE: read(size="6.95-14")}, axle="rear") == pytest.approx(25.40 * 1.05, abs=0.01)
    assert driven_diameter_in({REAR: read(size="FR78-15"), OPPOSITE: read()}, axle="rear") is None
