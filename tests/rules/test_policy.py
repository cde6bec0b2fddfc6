"""The weights that may be put in force: ranges, orders, and the promises that whatever is accepted keeps."""

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import policy, scores
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.policy import FIXED, PARTS, WeightChange, changes, checked, mark_of
from inventory.rules.scores import FIRST_POLICY, OWN_PARTS, Changed, Graded, Stood
from inventory.rules.words import Basis, Fitting, Standing, Verdict

OWN = {part: FIRST_POLICY[part] for part in OWN_PARTS}
RISING = [Standing.MISSING, Standing.NON_ORIGINAL, Standing.REPRODUCTION, Standing.PERIOD_CORRECT,
          Standing.SERVICE_REPLACEMENT, Standing.ORIGINAL]  # fmt: skip
SURE_FIRST = [Basis.MEASURED, Basis.SEEN, Basis.DOCUMENTED, Basis.TOLD, Basis.PRESUMED, Basis.NOT_ESTABLISHED]


def with_one(part: str, code: str, figure: Any) -> dict[str, Any]:
    weights = deepcopy(OWN)
    weights[part][code] = figure
    return weights


def test_first_weights_are_accepted_and_come_back_whole() -> None:
    assert checked(OWN) == FIRST_POLICY
    assert checked(FIRST_POLICY) == FIRST_POLICY


def test_parts_name_what_the_first_weights_hold_in_the_order_of_the_words() -> None:
    assert set(PARTS) == set(OWN_PARTS)
    for part in PARTS.values():
        assert set(part.titles) == set(FIRST_POLICY[part.code])
    assert list(PARTS["standings"].titles) == RISING
    assert list(PARTS["slack"].titles) == SURE_FIRST
    assert list(PARTS["caps"].titles) == ["0", "1", "2"]


@pytest.mark.parametrize(
    ("part", "code", "figure", "problem"),
    [
        ("checks", "front.hood", -1, "0 to 20"),
        ("checks", "front.hood", 21, "0 to 20"),
        ("checks", "front.hood", 2.5, "no whole number"),
        ("checks", "front.hood", True, "no whole number"),
        ("checks", "front.hood", "4", "no whole number"),
        ("checks", "front.hood", None, "no whole number"),
        ("components", "engine", 41, "0 to 40"),
        ("standings", "original", 101, "0 to 100"),
        ("caps", "2", 101, "0 to 100"),
        ("slack", "not_established", 99, "always 100"),
        # the first figures: caps 35, 55, 80; standings 0, 5, 45, 65, 75, 100; slack 0, 0, 8, 20, 30, 100
        ("caps", "1", 34, "35 or more"),
        ("caps", "2", 54, "55 or more"),
        ("standings", "original", 74, "75 or more"),
        ("standings", "reproduction", 4, "5 or more"),
        ("standings", "period_correct", 44, "45 or more"),
        ("slack", "told", 7, "8 or more"),
        ("slack", "presumed", 19, "20 or more"),
        ("modified", "bolt_on", -1, "0 to 100"),
    ],
)
def test_weight_that_will_not_do_is_told_with_field_value_and_mend(
    part: str, code: str, figure: Any, problem: str
) -> None:
    with pytest.raises(Refused, match=problem) as refusal:
        checked(with_one(part, code, figure))
    assert (refusal.value.field, refusal.value.got) == (f"{part}.{code}", figure)
    assert refusal.value.mend


def test_cut_may_not_count_for_more_than_bolt_on() -> None:
    weights = deepcopy(OWN)
    weights["modified"] = {"bolt_on": 10, "cut_or_welded": 11}
    with pytest.raises(Refused) as refusal:
        checked(weights)
    assert refusal.value.field == "modified.bolt_on"


@pytest.mark.parametrize("part", ["checks", "components"])
def test_weights_that_are_all_0_are_refused(part: str) -> None:
    weights = {**OWN, part: dict.fromkeys(OWN[part], 0)}
    with pytest.raises(Refused) as refusal:
        checked(weights)
    assert refusal.value.code == "nothing_weighs"
    one = {**weights, part: {**weights[part], next(iter(OWN[part])): 1}}
    assert checked(one)[part] == one[part]


@pytest.mark.parametrize("part", list(OWN))
def test_missing_and_unknown_names_are_refused(part: str) -> None:
    code = next(iter(OWN[part]))
    without = {**OWN, part: {name: figure for name, figure in OWN[part].items() if name != code}}
    more = {**OWN, part: {**OWN[part], "wings": 1}}
    for weights, field in ((without, f"{part}.{code}"), (more, f"{part}.wings")):
        with pytest.raises(Refused) as refusal:
            checked(weights)
        assert refusal.value.field == field
    with pytest.raises(Refused) as refusal:
        checked({name: figures for name, figures in OWN.items() if name != part})
    assert refusal.value.field == part


def test_what_is_the_houses_own_may_not_be_set() -> None:
    for part, figures in (("structural", []), ("lacking", {}), ("wings", {})):
        with pytest.raises(Refused) as refusal:
            checked({**OWN, part: figures})
        assert refusal.value.field == part


def test_changes_name_what_differs_also_what_is_gone_or_new() -> None:
    before = with_one("checks", "front.overall", 7)
    after = with_one("components", "engine", 20)
    del before["standings"]["missing"]
    assert changes(before, after) == [
        WeightChange("checks", "front.overall", 7, None),
        WeightChange("components", "engine", 15, 20),
        WeightChange("standings", "missing", None, 0),
    ]
    assert [change.title for change in changes(before, after)] == [
        "Front: overall", "Engine block and number", "Missing",
    ]  # fmt: skip
    assert changes(OWN, FIRST_POLICY) == []


def test_mark_is_that_of_the_weights_in_whatever_order() -> None:
    turned = {part: dict(reversed(figures.items())) for part, figures in reversed(OWN.items())}
    assert mark_of(turned) == mark_of(FIRST_POLICY)
    assert mark_of(with_one("caps", "2", 81)) != mark_of(FIRST_POLICY)
    assert len(mark_of(OWN)) == 16


def ascending(count: int) -> st.SearchStrategy[list[int]]:
    return st.lists(st.integers(0, 100), min_size=count, max_size=count).map(sorted)


def weighing(part: str, most: int) -> st.SearchStrategy[dict[str, int]]:
    """One figure for all, and some that have their own: quicker to draw than a hundred by themselves."""
    some = st.dictionaries(st.sampled_from(list(OWN[part])), st.integers(0, most), max_size=8)
    drawn = st.builds(lambda usual, own: dict.fromkeys(OWN[part], usual) | own, st.integers(0, most), some)
    return drawn.filter(lambda figures: any(figures.values()))


@st.composite
def accepted(draw: st.DrawFn) -> dict[str, Any]:
    """Any weights that `checked` accepts."""
    weights = {"checks": draw(weighing("checks", 20)), "components": draw(weighing("components", 40))}
    for part in ("standings", "modified", "slack", "caps"):
        codes = list(PARTS[part].titles)
        weights[part] = dict(zip(codes, draw(ascending(len(codes))), strict=True))
        weights[part] |= {code: figure for (fixed, code), figure in FIXED.items() if fixed == part}
    return checked(weights)


BASES = st.sampled_from(list(Basis))
ROWS = st.tuples(st.integers(0, 4), BASES) | st.sampled_from(
    [Verdict.NOT_SEEN, Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW, None]
)
PLACES = st.integers(0, len(CHECKS) - 1)


def mostly(rows: st.SearchStrategy[Any], places: st.SearchStrategy[int], count: int) -> st.SearchStrategy[list[Any]]:
    """One answer for all, and some that have their own."""
    some = st.dictionaries(places, rows, max_size=12)
    return st.builds(lambda usual, own: [own.get(place, usual) for place in range(count)], rows, some)


FINDINGS = mostly(ROWS, PLACES, len(CHECKS))


def rows_of(answers: list[Any]) -> list[Graded]:
    rows = []
    for code, answer in zip(CHECKS, answers, strict=True):
        if isinstance(answer, tuple):
            rows.append(Graded(code, Verdict.GRADED, *answer))
        elif answer is not None:
            rows.append(Graded(code, answer, None, Basis.SEEN))
    return rows


def put(answers: list[Any], place: int, answer: Any) -> list[Any]:
    return [*answers[:place], answer, *answers[place + 1 :]]


@given(accepted(), FINDINGS, PLACES, st.integers(0, 3), st.integers(1, 4), BASES)
def test_better_grade_lowers_neither_end(
    weights: dict[str, Any], answers: list[Any], place: int, grade: int, more: int, basis: Basis
) -> None:
    worse, better = (
        scores.condition(rows_of(put(answers, place, (given, basis))), policy=weights)
        for given in (grade, min(4, grade + more))
    )
    if worse is None or better is None:
        assert worse is better
        return
    assert worse.low <= better.low
    assert worse.high <= better.high


@given(accepted(), FINDINGS, PLACES, st.integers(0, 4), BASES)
def test_grading_what_was_not_seen_never_widens_the_condition(
    weights: dict[str, Any], answers: list[Any], place: int, grade: int, basis: Basis
) -> None:
    for unseen in (None, Verdict.NOT_SEEN):
        before = scores.condition(rows_of(put(answers, place, unseen)), policy=weights)
        after = scores.condition(rows_of(put(answers, place, (grade, basis))), policy=weights)
        if before is not None and after is not None:
            assert before.low <= after.low <= after.high <= before.high


@given(accepted(), FINDINGS, PLACES, st.integers(0, 4), BASES, BASES)
def test_surer_basis_never_widens_the_condition(
    weights: dict[str, Any], answers: list[Any], place: int, grade: int, one: Basis, other: Basis
) -> None:
    surer, less = sorted((one, other), key=SURE_FIRST.index)
    before, after = (
        scores.condition(rows_of(put(answers, place, (grade, basis))), policy=weights) for basis in (less, surer)
    )
    if before is not None and after is not None:
        assert before.low <= after.low <= after.high <= before.high


STOOD = st.tuples(st.sampled_from([*RISING, Standing.NOT_ESTABLISHED]), BASES) | st.none()
COMPONENT_PLACES = st.integers(0, len(COMPONENTS) - 1)
LEDGERS = mostly(STOOD, COMPONENT_PLACES, len(COMPONENTS))
CHANGES = st.lists(
    st.builds(
        Changed,
        st.sampled_from([component.code for component in COMPONENTS]),
        st.sampled_from(list(Fitting)),
        BASES,
    ),
    max_size=6,
)


def ledger_of(stood: list[Any]) -> list[Stood]:
    return [Stood(one.code, *line) for one, line in zip(COMPONENTS, stood, strict=True) if line is not None]


@given(accepted(), LEDGERS, CHANGES, COMPONENT_PLACES, st.integers(0, 5), st.integers(0, 5), BASES)
def test_better_standing_lowers_neither_end(
    weights: dict[str, Any], stood: list[Any], changed: list[Changed], place: int, one: int, other: int, basis: Basis
) -> None:
    """Of a component that nothing changed; what a modification does to a line is the next test's."""
    elsewhere = [change for change in changed if change.code != COMPONENTS[place].code]
    worse, better = (
        scores.originality(ledger_of(put(stood, place, (RISING[rank], basis))), policy=weights, changed=elsewhere)
        for rank in sorted((one, other))
    )
    assert worse is not None
    assert better is not None
    assert worse.low <= better.low
    assert worse.high <= better.high


@given(accepted(), LEDGERS, CHANGES, COMPONENT_PLACES, st.integers(1, 5), st.integers(1, 5), BASES)
def test_better_standing_of_a_changed_component_lowers_neither_end(
    weights: dict[str, Any], stood: list[Any], changed: list[Changed], place: int, one: int, other: int, basis: Basis
) -> None:
    worse, better = (
        scores.originality(ledger_of(put(stood, place, (RISING[rank], basis))), policy=weights, changed=changed)
        for rank in sorted((one, other))
    )
    assert worse is not None
    assert better is not None
    assert worse.low <= better.low
    assert worse.high <= better.high


@given(accepted(), LEDGERS, CHANGES, COMPONENT_PLACES, st.integers(0, 5), BASES)
def test_establishing_a_component_never_widens_the_originality(
    weights: dict[str, Any], stood: list[Any], changed: list[Changed], place: int, rank: int, basis: Basis
) -> None:
    elsewhere = [change for change in changed if change.code != COMPONENTS[place].code]
    for unknown in (None, (Standing.NOT_ESTABLISHED, basis)):
        before, after = (
            scores.originality(ledger_of(put(stood, place, line)), policy=weights, changed=elsewhere)
            for line in (unknown, (RISING[rank], basis))
        )
        if before is not None and after is not None:
            assert before.low <= after.low <= after.high <= before.high


@given(accepted(), LEDGERS, CHANGES, st.sampled_from(list(Fitting)), COMPONENT_PLACES, BASES)
def test_modification_of_an_unknown_component_never_widens_the_originality(
    weights: dict[str, Any], stood: list[Any], changed: list[Changed], fitting: Fitting, place: int, basis: Basis
) -> None:
    code, bare = COMPONENTS[place].code, put(stood, place, None)
    elsewhere = [change for change in changed if change.code != code]
    before, after = (
        scores.originality(ledger_of(bare), policy=weights, changed=[*elsewhere, *more])
        for more in ([], [Changed(code, fitting, basis)])
    )
    if before is not None and after is not None:
        assert before.low <= after.low <= after.high <= before.high


def test_titles_are_told_of_what_is_no_longer_asked() -> None:
    assert policy.title_of("components", "outer_panels") == "Outer panels"
    assert policy.title_of("checks", "gone.check") == "gone.check"
