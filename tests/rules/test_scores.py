"""Condition and originality as intervals: what nobody saw widens them, and better never lowers them."""

from decimal import Decimal
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import scores
from inventory.rules.catalogue import CHECKS
from inventory.rules.components import COMPONENTS
from inventory.rules.scores import FIRST_POLICY, Changed, Graded, Interval, Stood
from inventory.rules.words import Basis, Fitting, Standing, Verdict

SMALL = {
    "checks": {"a": 3, "b": 1},
    "components": {"x": 1, "y": 1},
    "standings": FIRST_POLICY["standings"],
    "slack": FIRST_POLICY["slack"],
}
GRADES = st.lists(st.integers(0, 4), min_size=len(CHECKS), max_size=len(CHECKS))


def seen(code: str, grade: int, basis: str = Basis.SEEN) -> Graded:
    return Graded(code, Verdict.GRADED, grade, basis)


def test_condition_by_hand() -> None:
    """(3 × 75 + 1 × 25) ÷ 4 = 62.5."""
    span = scores.condition([seen("a", 3), seen("b", 1)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high, span.middle, span.width) == (Decimal("62.5"), Decimal("62.5"), Decimal("62.5"), 0)


def test_check_not_seen_counts_as_anything() -> None:
    """(3 × 75 + 1 × 0) ÷ 4 = 56.3 and (3 × 75 + 1 × 100) ÷ 4 = 81.3, half-up."""
    span = scores.condition([seen("a", 3)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high) == (Decimal("56.3"), Decimal("81.3"))


@pytest.mark.parametrize("verdict", [Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW])
def test_what_does_not_belong_there_is_no_fault(verdict: Verdict) -> None:
    span = scores.condition([seen("a", 3), Graded("b", verdict, None, Basis.SEEN)], policy=SMALL)
    assert span is not None
    assert (span.low, span.high) == (Decimal("75.0"), Decimal("75.0"))


def test_told_is_wider_than_seen() -> None:
    told = scores.condition([seen("a", 3, Basis.TOLD), seen("b", 3)], policy=SMALL)
    assert told is not None
    assert (told.low, told.high) == (Decimal("60.0"), Decimal("90.0"))


def test_nothing_graded_is_no_condition() -> None:
    assert scores.condition([], policy=SMALL) is None
    assert scores.condition([Graded("a", Verdict.NOT_SEEN, None, Basis.NOT_ESTABLISHED)], policy=SMALL) is None


def test_policy_without_weights_is_no_condition() -> None:
    empty = {**SMALL, "checks": {}}
    assert scores.condition([seen("a", 3)], policy=empty) is None


def test_originality_by_hand() -> None:
    """(100 + 75) ÷ 2 = 87.5; with one component open (100 + 0) ÷ 2 to (100 + 100) ÷ 2."""
    lines = [Stood("x", Standing.ORIGINAL, Basis.SEEN), Stood("y", Standing.SERVICE_REPLACEMENT, Basis.SEEN)]
    whole, half = (scores.originality(given, policy=SMALL) for given in (lines, lines[:1]))
    assert whole is not None
    assert half is not None
    assert (whole.low, whole.high) == (Decimal("87.5"), Decimal("87.5"))
    assert (half.low, half.high) == (Decimal("50.0"), Decimal("100.0"))


def test_nothing_established_is_no_originality() -> None:
    assert scores.originality([Stood("x", Standing.NOT_ESTABLISHED, Basis.SEEN)], policy=SMALL) is None


CARRYING = {**SMALL, "structural": ["b"], "caps": {"0": 35, "1": 55, "2": 80}}


@pytest.mark.parametrize(
    ("grade", "basis", "low", "high"),
    [
        (4, Basis.SEEN, "100.0", "100.0"),
        (3, Basis.SEEN, "93.8", "93.8"),  # (3 × 100 + 75) ÷ 4 = 93.75: no cap
        (2, Basis.SEEN, "80.0", "80.0"),  # 87.5, capped
        (1, Basis.SEEN, "55.0", "55.0"),  # 81.25, capped
        (0, Basis.SEEN, "35.0", "35.0"),  # 75, capped
        (2, Basis.TOLD, "55.0", "80.0"),  # 30 to 70 points: at worst as grade 1, at best as grade 2
    ],
)
def test_what_carries_the_vehicle_caps_the_whole(grade: int, basis: str, low: str, high: str) -> None:
    opened = scores.opened_condition([seen("a", 4), seen("b", grade, basis)], policy=CARRYING)
    assert opened is not None
    assert (opened.interval.low, opened.interval.high) == (Decimal(low), Decimal(high))
    assert (opened.high_cap is not None) == (grade < 3)


def test_structure_not_seen_caps_the_low_end_alone() -> None:
    span = scores.condition([seen("a", 4)], policy=CARRYING)
    assert span is not None
    assert (span.low, span.high) == (Decimal("35.0"), Decimal("100.0"))


def test_check_that_does_not_apply_leaves_the_weighing() -> None:
    span = scores.condition([seen("a", 3), seen("b", 0)], policy=CARRYING, asked={"a"})
    assert span is not None
    assert (span.low, span.high) == (Decimal("75.0"), Decimal("75.0"))
    assert scores.condition([seen("b", 0)], policy=CARRYING, asked={"a"}) is None


UNKNOWN = {None, Verdict.NOT_SEEN}
ANSWERS = st.one_of(
    st.integers(0, 4),
    st.sampled_from([Verdict.NOT_SEEN, Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW, None]),
)


def row_of(code: str, answer: object) -> list[Graded]:
    if answer is None:
        return []
    return [Graded(code, Verdict.GRADED, answer, Basis.SEEN) if isinstance(answer, int)
            else Graded(code, str(answer), None, Basis.SEEN)]  # fmt: skip


@given(
    st.lists(ANSWERS, min_size=len(CHECKS), max_size=len(CHECKS)),
    st.lists(
        ANSWERS.filter(lambda one: one not in {None, Verdict.NOT_SEEN}), min_size=len(CHECKS), max_size=len(CHECKS)
    ),
)
def test_interval_holds_every_completion_of_its_unknowns(answers: list[object], completing: list[object]) -> None:
    rows = [row for code, answer in zip(CHECKS, answers, strict=True) for row in row_of(code, answer)]
    whole = [
        row
        for code, answer, later in zip(CHECKS, answers, completing, strict=True)
        for row in row_of(code, later if answer in UNKNOWN else answer)
    ]
    opened, complete = (scores.condition(given, policy=FIRST_POLICY) for given in (rows, whole))
    if opened is None or complete is None:
        return
    assert opened.low <= complete.low <= complete.high <= opened.high


@given(st.lists(ANSWERS, min_size=len(CHECKS), max_size=len(CHECKS)), st.randoms(use_true_random=False))
def test_order_of_answers_does_not_matter(answers: list[object], shuffler: Random) -> None:
    rows = [row for code, answer in zip(CHECKS, answers, strict=True) for row in row_of(code, answer)]
    mixed = [*rows]
    shuffler.shuffle(mixed)
    assert scores.condition(rows, policy=FIRST_POLICY) == scores.condition(mixed, policy=FIRST_POLICY)


@given(st.lists(ANSWERS, min_size=len(CHECKS), max_size=len(CHECKS)))
def test_lines_of_an_opened_figure_make_the_figure(answers: list[object]) -> None:
    rows = [row for code, answer in zip(CHECKS, answers, strict=True) for row in row_of(code, answer)]
    opened = scores.opened_condition(rows, policy=FIRST_POLICY)
    if opened is None:
        return
    low = sum(line.weight * line.low for line in opened.lines) / opened.weight
    assert abs(low - opened.mean.low) <= Decimal("0.05")
    assert opened.interval.low == min(opened.mean.low, Decimal(opened.low_cap[1]) if opened.low_cap else 100)


def test_renewed_weights_are_those_of_the_catalogue() -> None:
    assert scores.renewed({}) == FIRST_POLICY
    assert scores.renewed(FIRST_POLICY) == FIRST_POLICY
    own = scores.renewed({"checks": {"front.hood": 1, "gone": 3}, "caps": {"0": 20}})
    assert own["checks"]["front.hood"] == 1
    assert "gone" not in own["checks"]
    assert own["caps"] == {"0": 20, "1": 55, "2": 80}


def test_component_the_vehicle_never_had_leaves_the_weighing() -> None:
    lines = [Stood("x", Standing.ORIGINAL, Basis.SEEN), Stood("y", Standing.NOT_ESTABLISHED, Basis.SEEN)]
    assert scores.originality(lines, policy=SMALL, absent={"y"}) == Interval(Decimal("100.0"), Decimal("100.0"))
    assert scores.originality(lines, policy=SMALL, absent={"x", "y"}) is None


CHANGING = {**SMALL, "modified": FIRST_POLICY["modified"]}
BOLTED, CUT = Changed("x", Fitting.BOLT_ON, Basis.SEEN), Changed("x", Fitting.CUT_OR_WELDED, Basis.SEEN)
OTHER = Stood("y", Standing.ORIGINAL, Basis.SEEN)


@pytest.mark.parametrize(
    ("line", "changed", "low", "high"),
    [
        # x and y weigh the same, y is original: (100 + x) ÷ 2. Without a line: from non-original (5) to 25, or 0.
        (None, [BOLTED], "52.5", "62.5"),
        (None, [CUT], "50.0", "50.0"),
        (None, [BOLTED, CUT], "50.0", "50.0"),
        (Standing.NOT_ESTABLISHED, [BOLTED], "52.5", "62.5"),
        (Standing.NON_ORIGINAL, [BOLTED], "52.5", "52.5"),
        (Standing.NON_ORIGINAL, [CUT], "50.0", "50.0"),
        (Standing.PERIOD_CORRECT, [CUT], "82.5", "82.5"),  # 65: what the ledger establishes stands
        (Standing.MISSING, [BOLTED], "50.0", "50.0"),
    ],
)
def test_modification_counts_by_hand(line: Standing | None, changed: list[Changed], low: str, high: str) -> None:
    lines = [OTHER, *([Stood("x", line, Basis.SEEN)] if line else [])]
    assert scores.originality(lines, policy=CHANGING, changed=changed) == Interval(Decimal(low), Decimal(high))


def test_missing_part_beside_a_seen_cut_is_never_worth_more_than_a_non_original_one() -> None:
    """Both told, slack 20: the cut was seen, and holds either at 0."""
    spans = [
        scores.modified_span(Stood("x", standing, Basis.TOLD), [CUT], policy=CHANGING)
        for standing in (Standing.MISSING, Standing.NON_ORIGINAL)
    ]
    assert spans == [(Decimal(0), Decimal(0)), (Decimal(0), Decimal(0))]


def test_told_modification_is_wider_than_a_seen_one() -> None:
    """Slack 20: from 5 - 20, so 0, to 25 + 20 = 45."""
    told = Changed("x", Fitting.BOLT_ON, Basis.TOLD)
    assert scores.originality([OTHER], policy=CHANGING, changed=[told]) == Interval(Decimal("50.0"), Decimal("72.5"))


def test_policy_without_points_for_modifications_counts_none() -> None:
    assert scores.originality([OTHER], policy=SMALL, changed=[CUT]) == scores.originality([OTHER], policy=SMALL)
    assert scores.originality([], policy=SMALL, changed=[CUT]) is None


def test_modification_alone_establishes_something() -> None:
    """One of two changed beyond return, the other open: from 0 to (0 + 100) ÷ 2."""
    assert scores.originality([], policy=CHANGING, changed=[CUT]) == Interval(Decimal("0.0"), Decimal("50.0"))


def test_policy_of_earlier_components_weighs_what_it_names() -> None:
    earlier = {**SMALL, "components": {"outer_panels": 3, "engine": 1}}
    lines = [Stood("outer_panels", Standing.ORIGINAL, Basis.SEEN), Stood("hood", Standing.MISSING, Basis.SEEN)]
    assert scores.originality(lines, policy=earlier) == Interval(Decimal("75.0"), Decimal("100.0"))


LINES = st.none() | st.builds(Stood, st.just("x"), st.sampled_from(list(Standing)), st.sampled_from(list(Basis)))
CHANGES = st.lists(
    st.builds(Changed, st.just("x"), st.sampled_from(list(Fitting)), st.sampled_from(list(Basis))), max_size=4
)
ONE_MORE = st.builds(Changed, st.just("x"), st.sampled_from(list(Fitting)), st.sampled_from(list(Basis)))


def span_of(line: Stood | None, changes: list[Changed]) -> tuple[Decimal, Decimal]:
    established = line if line is not None and line.standing != Standing.NOT_ESTABLISHED else None
    return scores.modified_span(established, changes, policy=FIRST_POLICY)


@given(LINES, CHANGES, ONE_MORE)
def test_another_modification_raises_no_end_unless_it_establishes_an_unknown(
    line: Stood | None, changes: list[Changed], more: Changed
) -> None:
    before, after = span_of(line, changes), span_of(line, [*changes, more])
    assert after[1] <= before[1]
    unknown = (line is None or line.standing == Standing.NOT_ESTABLISHED) and not changes
    assert unknown or after[0] <= before[0]
    assert 0 <= after[0] <= after[1] <= 100


@given(CHANGES.filter(bool), st.sampled_from([Basis.MEASURED, Basis.SEEN]))
def test_writing_the_line_of_a_changed_component_only_narrows(changes: list[Changed], basis: Basis) -> None:
    """The line that a modification leads one to expect lies inside what was held possible before."""
    before = span_of(None, changes)
    after = span_of(Stood("x", Standing.NON_ORIGINAL, basis), changes)
    assert before[0] <= after[0] <= after[1] <= before[1]


@given(LINES, CHANGES, ONE_MORE)
def test_cut_or_welded_never_counts_for_more_than_bolt_on(
    line: Stood | None, changes: list[Changed], more: Changed
) -> None:
    ends = [
        span_of(line, [*changes, Changed("x", fitting, more.basis)])
        for fitting in (Fitting.CUT_OR_WELDED, Fitting.BOLT_ON)
    ]
    assert ends[0][0] <= ends[1][0]
    assert ends[0][1] <= ends[1][1]


@given(GRADES, st.integers(0, len(CHECKS) - 1))
def test_better_grade_never_lowers_either_end(grades: list[int], place: int) -> None:
    rows = [seen(code, grade) for code, grade in zip(CHECKS, grades, strict=True)]
    better = [*rows]
    better[place] = seen(rows[place].code, min(4, grades[place] + 1))
    before, after = (scores.condition(given, policy=FIRST_POLICY) for given in (rows, better))
    assert before is not None
    assert after is not None
    assert after.low >= before.low
    assert after.high >= before.high
    assert 0 <= before.low <= before.high <= 100


@given(GRADES, st.sets(st.sampled_from(list(CHECKS)), max_size=len(CHECKS) - 1))
def test_seeing_more_never_widens(grades: list[int], unseen: set[str]) -> None:
    rows = [seen(code, grade) for code, grade in zip(CHECKS, grades, strict=True)]
    whole = scores.condition(rows, policy=FIRST_POLICY)
    part = scores.condition([row for row in rows if row.code not in unseen], policy=FIRST_POLICY)
    assert whole is not None
    assert part is not None
    assert part.low <= whole.low <= whole.high <= part.high


def test_first_policy_weighs_the_whole_catalogue() -> None:
    assert FIRST_POLICY["checks"] == {code: check.weight for code, check in CHECKS.items()}
    assert sum(FIRST_POLICY["components"].values()) == 100
    assert set(FIRST_POLICY["components"]) == {component.code for component in COMPONENTS}


@pytest.mark.parametrize(
    ("low", "high", "field"), [(-1, 5, "condition_low"), (5, 101, "condition_high"), (None, 5, "condition_low")]
)
def test_interval_outside_0_to_100_is_refused(low: int | None, high: int, field: str) -> None:
    with pytest.raises(Refused) as refusal:
        scores.check_interval(low, high, field="condition")
    assert refusal.value.field == field


def test_interval_upside_down_is_refused() -> None:
    with pytest.raises(Refused, match="runs from 80"):
        scores.check_interval(80, 70, field="condition")
    assert scores.check_interval("70", "80.25", field="condition").high == Decimal("80.3")


def test_sums_over_the_weight_are_the_mean() -> None:
    """a weighs 3 with 75 points, b weighs 1 with 0 to 100: 225 and 325 over 4; b alone makes the 25 points of width."""
    opened = scores.opened_condition([seen("a", 3)], policy=SMALL)
    assert opened is not None
    assert (opened.sums, opened.weight) == (Interval(Decimal(225), Decimal(325)), 4)
    assert [(opened.share(line), opened.makes(line)) for line in opened.lines] == [
        (Decimal("75.0"), Decimal("0.0")), (Decimal("25.0"), Decimal("25.0")),
    ]  # fmt: skip


LACKING = {"lacking": {"top": ["removable_top", "soft_top"], "transfer_case": ["four_wheel_drive"]}}


@pytest.mark.parametrize(
    ("lacks", "said", "gone"),
    [
        (set(), set(), set()),
        ({"four_wheel_drive"}, set(), {"transfer_case"}),
        ({"four_wheel_drive"}, {"transfer_case"}, set()),  # somebody says something of one
        ({"soft_top"}, set(), set()),  # it may have the other
        ({"soft_top", "removable_top", "manual"}, {"engine"}, {"top"}),
    ],
)
def test_component_goes_only_where_all_it_belongs_to_is_lacking(
    lacks: set[str], said: set[str], gone: set[str]
) -> None:
    assert scores.never_had(LACKING, lacks=lacks, said=said) == gone
    assert scores.never_had(SMALL, lacks=lacks, said=said) == set()


def test_what_belongs_to_what_is_the_houses_own() -> None:
    own = scores.renewed({"lacking": {"engine": ["trunk"]}, "structural": []})
    assert own["lacking"] == FIRST_POLICY["lacking"] == LACKING["lacking"]
    assert own["structural"] == FIRST_POLICY["structural"]
