"""Dates of parts against the date of the build. Expected answers and days are worked by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.date_codes import DateSpan, Usual, check_span, compare, spoken, window, written
from inventory.rules.words import Basis, Judgement

DAYS = st.dates(date(1900, 1, 1), date(2030, 12, 31))
BASES = st.sampled_from(list(Basis))
OFF = st.sampled_from([Basis.MEASURED, Basis.SEEN])
WEAKER = st.sampled_from([Basis.DOCUMENTED, Basis.TOLD, Basis.PRESUMED, Basis.NOT_ESTABLISHED])


def span(text: str, *, last: str = "", basis: str = Basis.SEEN) -> DateSpan:
    return DateSpan(earliest=window(text)[0], latest=window(last or text)[1], basis=basis)


@st.composite
def spans(draw: st.DrawFn, bases: st.SearchStrategy[Basis] = BASES) -> DateSpan:
    ends = sorted((draw(DAYS), draw(DAYS)))
    return DateSpan(earliest=ends[0], latest=ends[1], basis=draw(bases))


@pytest.mark.parametrize(
    ("part", "build", "judgement", "said"),
    [
        # one day after the last possible day of May 1967
        ("1967-06-01", "1967-05", Judgement.NOT_FACTORY, "at least 1 day after"),
        ("1967-05-31", "1967-05", Judgement.EXPECTED, "Made 0 days before"),
        # May and May: possible, whichever days they were
        ("1967-05", "1967-05", Judgement.EXPECTED, "0 to 30 days before"),
        # 10 January 1965 to 15 May 1967: 355 + 365 + 135 = 855 days
        ("1965-01-10", "1967-05-15", Judgement.QUESTION, "855 days before"),
        # the year may be before, in or after May
        ("1967", "1967-05", Judgement.CANNOT_TELL, "part of that lies after"),
        ("1967-05", "1967-05-15", Judgement.CANNOT_TELL, "part of that lies after"),
        # 16 November 1966 to 15 May 1967: 14 + 31 + 31 + 28 + 31 + 30 + 15 = 180 days
        ("1966-11-16", "1967-05-15", Judgement.EXPECTED, "180 days before"),
        ("1966-11-15", "1967-05-15", Judgement.ASK, "181 days before"),
        ("1966-05-15", "1967-05-15", Judgement.ASK, "365 days before"),
        ("1966-05-14", "1967-05-15", Judgement.QUESTION, "366 days before"),
        # 1 November to 31 May is 211 days, 30 November to 1 May 152: on both sides of 180
        ("1966-11", "1967-05", Judgement.CANNOT_TELL, "152 to 211 days before"),
        # 31 December 1965 to 1 May 1967: 365 + 31 + 28 + 31 + 30 + 1 = 486; 1 January to 31 May: 365 + 365 + 150 = 880
        ("1965", "1967-05", Judgement.QUESTION, "486 to 880 days before"),
    ],
)  # fmt: skip
def test_dates_by_hand(part: str, build: str, judgement: Judgement, said: str) -> None:
    finding = compare(span(part), span(build))
    assert (finding.judgement, said in finding.message) == (judgement, True), finding


@pytest.mark.parametrize("part", [Basis.MEASURED, Basis.DOCUMENTED, Basis.TOLD, Basis.PRESUMED])
@pytest.mark.parametrize("build", [Basis.SEEN, Basis.DOCUMENTED, Basis.NOT_ESTABLISHED])
def test_later_part_is_judged_only_if_both_dates_were_read_off(part: Basis, build: Basis) -> None:
    finding = compare(span("1969", basis=part), span("1967-05", basis=build))
    sure = part == Basis.MEASURED and build == Basis.SEEN
    assert finding.judgement == (Judgement.NOT_FACTORY if sure else Judgement.QUESTION)
    assert ("the part is" in finding.message) == (part != Basis.MEASURED)
    assert ("the building is" in finding.message) == (build != Basis.SEEN)


def test_thresholds_are_the_lots() -> None:
    part, build = span("1967-03-01"), span("1967-05-15")  # 75 days
    assert compare(part, build, usual=Usual(expected=74, ask=75)).judgement == Judgement.ASK
    assert compare(part, build, usual=Usual(expected=30, ask=74)).judgement == Judgement.QUESTION


@given(spans(), spans())
def test_never_ruled_out_while_one_day_of_each_fits(part: DateSpan, build: DateSpan) -> None:
    ruled_out = compare(part, build).judgement == Judgement.NOT_FACTORY
    assert ruled_out == (part.earliest > build.latest and part.is_read_off and build.is_read_off)


@given(spans(OFF), spans(OFF), st.integers(0, 400), st.integers(0, 400))
def test_knowing_closer_never_takes_back_a_judgement(part: DateSpan, build: DateSpan, first: int, last: int) -> None:
    """What was judged of a span holds for every span inside it; only *cannot tell* is still open."""
    length = (part.latest - part.earliest).days
    closer = DateSpan(
        earliest=part.earliest + timedelta(days=min(first, length)),
        latest=max(part.latest - timedelta(days=last), part.earliest + timedelta(days=min(first, length))),
        basis=part.basis,
    )
    before, after = compare(part, build).judgement, compare(closer, build).judgement
    assert before in (Judgement.CANNOT_TELL, after)


@given(spans(), spans(OFF), WEAKER)
def test_weaker_build_date_judges_nothing(part: DateSpan, build: DateSpan, basis: Basis) -> None:
    weaker = DateSpan(earliest=build.earliest, latest=build.latest, basis=basis)
    assert compare(part, weaker).judgement != Judgement.NOT_FACTORY


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("1967", date(1967, 1, 1), date(1967, 12, 31)),
        ("1967-05", date(1967, 5, 1), date(1967, 5, 31)),
        (" 1967-5 ", date(1967, 5, 1), date(1967, 5, 31)),
        ("1968-02", date(1968, 2, 1), date(1968, 2, 29)),
        ("1967-05-14", date(1967, 5, 14), date(1967, 5, 14)),
    ],
)
def test_window_of_what_people_write(text: str, first: date, last: date) -> None:
    assert window(text) == (first, last)


@pytest.mark.parametrize("text", ["", "67", "May 1967", "1967-13", "1967-02-29", "1967-05-00", "1885", "2200", "1967-"])
def test_what_is_no_date_is_refused_with_its_field(text: str) -> None:
    with pytest.raises(Refused) as refusal:
        window(text, field="latest_on")
    assert (refusal.value.code, refusal.value.field) == ("no_date", "latest_on")
    assert "1967-05-14" in refusal.value.mend


@given(DAYS, DAYS)
def test_what_is_written_reads_back_the_same(one: date, other: date) -> None:
    first, last = sorted((one, other))
    start, end = written(first, latest=last)
    assert (window(start)[0], window(end or start)[1]) == (first, last)


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (date(1967, 1, 1), date(1967, 12, 31), "1967"),
        (date(1967, 1, 1), date(1968, 12, 31), "1967 to 1968"),
        (date(1967, 5, 1), date(1967, 7, 31), "1967-05 to 1967-07"),
        (date(1967, 5, 1), date(1967, 5, 31), "1967-05"),
        (date(1967, 5, 14), date(1967, 5, 31), "1967-05-14 to 1967-05-31"),
    ],
)
def test_span_is_said_in_few_words(first: date, last: date, said: str) -> None:
    assert spoken(first, latest=last) == said


@pytest.mark.parametrize(
    ("first", "last", "code"),
    [
        (date(1967, 5, 1), None, "half_a_span"),
        (None, date(1967, 5, 1), "half_a_span"),
        (date(1967, 5, 2), date(1967, 5, 1), "span_upside_down"),
    ],
)
def test_half_a_span_or_one_upside_down_is_refused(first: date | None, last: date | None, code: str) -> None:
    with pytest.raises(Refused) as refusal:
        check_span(first, last)
    assert refusal.value.code == code
