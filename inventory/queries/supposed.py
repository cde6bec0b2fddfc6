"""An inspection as it would have been, had something else been found. Nothing of it is stored."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from inventory.models import ComponentRecord, Consignment, IntakeInspection
from inventory.queries.scores import Weighed, weighed_of
from inventory.rules.scores import Graded, Interval, LineReason, ScoreLine, renewed
from inventory.rules.words import Basis, Standing, Verdict


@dataclass(frozen=True)
class Supposed:
    """One inspection with the weights it is, or would be, finished by."""

    weighed: Weighed
    weights: Mapping[str, Any]

    @property
    def inspection(self) -> IntakeInspection:
        return self.weighed.inspection

    def interval(self, figure: str) -> Interval | None:
        return self.weighed.interval(figure, policy=self.weights)

    def lines(self, figure: str) -> tuple[ScoreLine, ...]:
        opened = self.weighed.opened(figure, policy=self.weights)
        return opened.lines if opened else ()

    def graded(self, grades: Mapping[str, int]) -> "Supposed":
        """As if these checks had been seen and graded so."""
        said = {code: Graded(code, Verdict.GRADED, grade, Basis.SEEN) for code, grade in grades.items()}
        return replace(self, weighed=replace(self.weighed, found={**self.weighed.found, **said}))

    def stood(self, standings: Mapping[str, str]) -> "Supposed":
        """As if these components had been seen to stand so."""
        said = {
            code: ComponentRecord(component=code, standing=standing, basis=Basis.SEEN)
            for code, standing in standings.items()
        }
        ledger = self.weighed.ledger
        return replace(self, weighed=replace(self.weighed, ledger=replace(ledger, records={**ledger.records, **said})))

    def open_checks(self) -> list[ScoreLine]:
        """Checks that were not seen or never reached."""
        return [line for line in self.lines("condition") if line.why in {LineReason.NOT_SEEN, LineReason.NOT_REACHED}]

    def open_components(self) -> list[str]:
        """Codes of the components whose standing is not established, also those that a modification changed."""
        ledger = self.weighed.ledger
        absent = ledger.never_had(policy=self.weights)
        known = {code for code, row in ledger.records.items() if row.standing != Standing.NOT_ESTABLISHED}
        return [code for code in self.weights["components"] if code not in absent and code not in known]

    def changes_of(self, component: str) -> tuple[tuple[str, str], ...]:
        """What modifications say of one component: fitting and basis of each."""
        seen = self.weighed.ledger.modifications
        return tuple((one.row.fitting, one.row.basis) for one in seen if component in one.components)


def supposed_of(inspection: IntakeInspection) -> Supposed:
    weights = inspection.policy.weights
    return Supposed(weighed_of(inspection), renewed(weights) if inspection.is_open else weights)


def inspection_that_counts(stay: Consignment) -> IntakeInspection | None:
    """The last finished inspection: the band knows no other. Without one, the one that is open."""
    rows = IntakeInspection.objects.filter(consignment=stay).select_related("policy", "consignment__vehicle")
    found = list(rows.order_by("-number"))
    return next((row for row in found if not row.is_open), found[0] if found else None)
