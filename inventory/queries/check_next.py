"""What to check next: each open question about one vehicle, by how much narrower its band is to be expected."""

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models.functions import Coalesce

from inventory import bridge
from inventory.errors import Refused
from inventory.models import CheckResult, ComponentRecord, Consignment, IntakeInspection, SaleOutcome
from inventory.queries.history import subject
from inventory.queries.inspections import wording_of
from inventory.queries.supposed import Supposed, inspection_that_counts, supposed_of
from inventory.rules import unanswered
from inventory.rules.catalogue import CHECKS, STATION_OF
from inventory.rules.components import ALL_TITLES, COMPONENT_OF
from inventory.rules.score_words import UNKNOWN
from inventory.rules.scores import LineReason
from inventory.rules.unanswered import FIGURES, INPUTS, Possible

FIRST = 10  # shown at once; the rest is folded


@dataclass(frozen=True)
class Question:
    """One open question: what it is about, why it is open, and the codes of the screen where it is answered."""

    key: str
    title: str
    place: str
    why: str
    station: str = ""
    component: str = ""
    walk: bool = False  # answered by an inspection as a whole
    file: bool = False  # answered on the correction form of the vehicle file


@dataclass(frozen=True)
class NextRow:
    """A question with what its answer is worth. None: no past sale says what it may be, or there is no band now."""

    question: Question
    worth: Decimal | None
    width: Decimal | None
    without_band: int  # percent of the answers, by their probability


@dataclass(frozen=True)
class CheckNext:
    """All questions, the dearest first. `problem` says why there are none where that is not good news."""

    rows: tuple[NextRow, ...]
    low: Decimal | None = None
    likely: Decimal | None = None
    high: Decimal | None = None
    least_width: Decimal | None = None
    inspection: IntakeInspection | None = None
    problem: str = ""

    @property
    def width(self) -> Decimal | None:
        return None if self.high is None or self.low is None else self.high - self.low

    @property
    def first(self) -> tuple[NextRow, ...]:
        return self.rows[:FIRST]

    @property
    def rest(self) -> tuple[NextRow, ...]:
        return self.rows[FIRST:]

    @property
    def is_open(self) -> bool:
        """Whether it was reckoned from an inspection that is not finished."""
        return self.inspection is not None and self.inspection.is_open


def of(stay: Consignment, *, fit_state: dict[str, Any], today: date) -> CheckNext:
    """Every open question about one stay, ranked, in a constant number of queries."""
    inspection = inspection_that_counts(stay)
    supposed = supposed_of(inspection) if inspection else None
    row = subject(stay, on=today)
    if supposed is not None and supposed.inspection.is_open:
        row |= _as_if_finished(supposed)
    asked = _questions(row, supposed=supposed)
    try:
        found = bridge.worth_of_knowing(
            row, questions={question.key: answers for question, answers in asked if answers}, state=fit_state
        )
    except Refused as problem:
        return CheckNext((), problem=str(problem))
    rows = [_row(question, found=found.worths.get(question.key)) for question, _ in asked]
    ranked = tuple(sorted(rows, key=_dearest_first))
    return CheckNext(ranked, found.low, found.likely, found.high, found.least_width, inspection)


def of_told(row: Mapping[str, Any], *, fit_state: dict[str, Any]) -> CheckNext:
    """The same of a vehicle that nobody has seen: what is not told, and condition and originality in any case."""
    known = {name: value for name, value in row.items() if not name.startswith(FIGURES)}
    asked = _about_inputs(known | dict.fromkeys(_FIGURE_ENDS), names=(*INPUTS, *FIGURES))
    try:
        found = bridge.worth_of_knowing(
            row, questions={question.key: answers for question, answers in asked if answers}, state=fit_state
        )
    except Refused as problem:
        return CheckNext((), problem=str(problem))
    rows = [_row(_by_word(question, row=row), found=found.worths.get(question.key)) for question, _ in asked]
    ranked = tuple(sorted(rows, key=_dearest_first))
    return CheckNext(ranked, found.low, found.likely, found.high, found.least_width)


def _by_word(question: Question, *, row: Mapping[str, Any]) -> Question:
    """Without a screen to answer it on, and with why it is open although nobody could look."""
    if question.key in FIGURES:
        why, place = "told only" if row[f"{question.key}_low"] is not None else "not told", "Inspection"
    else:
        why, place = "not established" if question.key == "odometer_status" else "not told", "Papers and vehicle"
    return replace(question, walk=False, file=False, place=place, why=why)


_FIGURE_ENDS = tuple(f"{name}_{end}" for name in FIGURES for end in ("low", "high"))


def _as_if_finished(supposed: Supposed) -> dict[str, Any]:
    condition, originality = (unanswered.ends_of(supposed.interval(figure), figure=figure) for figure in FIGURES)
    return condition | originality


def _row(question: Question, *, found: bridge.Worth | None) -> NextRow:
    if found is None:
        return NextRow(question, None, None, 0)
    return NextRow(question, found.worth, found.width, int(100 * found.without_band + 0.5))


def _dearest_first(row: NextRow) -> tuple[bool, Decimal]:
    return row.worth is None, -(row.worth or Decimal(0))


# The questions and their possible answers.

Asked = list[tuple[Question, list[Possible]]]


def _questions(row: Mapping[str, Any], *, supposed: Supposed | None) -> Asked:
    figures = supposed is not None and supposed.interval("condition") is not None
    asked = _about_inputs(row, names=INPUTS if figures else (*INPUTS, *FIGURES))
    if supposed is not None and figures:
        asked += [*_about_checks(supposed), *_about_components(supposed)]
    return asked


def _about_inputs(row: Mapping[str, Any], *, names: tuple[str, ...]) -> Asked:
    """Inputs that the band does without: what they may be is what they were in the lot's latest past sales."""
    held = {name: row[f"{name}_low" if name in FIGURES else name] for name in names}
    missing = [name for name, value in held.items() if unanswered.is_missing(value, column=name)]
    columns = [f"{name}{end}" for name in missing for end in (("_low", "_high") if name in FIGURES else ("",))]
    latest = SaleOutcome.objects.for_fit().order_by("-ended_on", "-pk")[: unanswered.LATE_SALES]
    sales = list(latest.values(*columns)) if missing else []
    return [(_about_input(name), unanswered.answers_from_sales(sales, name=name)) for name in missing]


def _about_input(name: str) -> Question:
    title = unanswered.TITLES[name]
    if name in FIGURES:
        return Question(name, title, "Inspection", "no inspection tells it", walk=True)
    why = "not stated" if name == "odometer_status" else "not known"
    return Question(name, title, "Vehicle file", why, file=True)


def _about_checks(supposed: Supposed) -> Asked:
    """Checks that nobody saw. Those of one weight, and alike in what they carry, have the same answers."""
    chances, known = unanswered.shares(_grades_given(), prior=unanswered.GRADE_PRIOR), dict[Hashable, list[Possible]]()
    structural, asked = supposed.weights.get("structural", ()), []
    for line in supposed.open_checks():
        alike = line.weight, line.code in structural
        if alike not in known:
            found = {grade: supposed.graded({line.code: grade}).interval("condition") for grade in chances}
            known[alike] = unanswered.reckoned(chances, figure="condition", found=found)
        station = STATION_OF.get(line.code)
        question = Question(
            f"check {line.code}", wording_of(line.code), station.title if station else "",
            UNKNOWN[LineReason(line.why)], station=station.code if station and line.code in CHECKS else "",
        )  # fmt: skip
        asked.append((question, known[alike]))
    return asked


def _about_components(supposed: Supposed) -> Asked:
    """Components without a standing. Those of one weight that were changed alike have the same answers."""
    chances, known = unanswered.shares(_standings(), prior=unanswered.STANDING_PRIOR), dict[Hashable, list[Possible]]()
    asked, records = [], supposed.weighed.ledger.records
    for code in supposed.open_components():
        alike = supposed.weights["components"][code], supposed.changes_of(code)
        if alike not in known:
            found = {standing: supposed.stood({code: standing}).interval("originality") for standing in chances}
            known[alike] = unanswered.reckoned(chances, figure="originality", found=found)
        why = UNKNOWN[LineReason.NOT_ESTABLISHED] if code in records else "no line in the ledger"
        place = code if code in COMPONENT_OF else ""
        question = Question(f"component {code}", ALL_TITLES.get(code, code), "Component ledger", why, component=place)
        asked.append((question, known[alike]))
    return asked


def _late_inspections() -> Any:
    rows = IntakeInspection.objects.filter(finished_at__isnull=False).order_by("-finished_at", "-pk")
    return rows[: unanswered.LATE_INSPECTIONS]


def _grades_given() -> Counter[int]:
    """How often each grade was given on the lot's last finished inspections; of one check the answer that counts."""
    rows = CheckResult.objects.filter(inspection__in=_late_inspections().values("pk"), carried_from__isnull=True)
    told = rows.order_by(Coalesce("told_at", "at"), "device", "pk").values_list("inspection_id", "check_code", "grade")
    counts = {(inspection, code): grade for inspection, code, grade in told}
    return Counter(grade for grade in counts.values() if grade is not None)


def _standings() -> Counter[str]:
    """How often each standing was written of the vehicles of those inspections, by the lines that count."""
    vehicles = IntakeInspection.objects.filter(pk__in=_late_inspections().values("pk")).values("consignment__vehicle")
    rows = ComponentRecord.objects.filter(vehicle__in=vehicles).order_by("pk")
    counts = {(vehicle, code): said for vehicle, code, said in rows.values_list("vehicle_id", "component", "standing")}
    return Counter(counts.values())
