"""What a vehicle is made of: the lines of the ledger, when it was built, what was changed, and what codes mean."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.fields import (
    GradeField,
    MoneyField,
    WordField,
    at_least,
    client_key_field,
    span_check,
    within,
)
from inventory.models.people import User
from inventory.models.vehicles import Vehicle
from inventory.rules.words import Basis, CodeMatch, Era, Fitting, ModificationKind, Standing

SAID = [basis for basis in Basis.values if basis != Basis.NOT_ESTABLISHED]


def _with_basis(name: str, *, given: models.Q, basis: str, of_what: str) -> models.CheckConstraint:
    """What is given rests on something; what is not given rests on nothing."""
    rests = models.Q(**{f"{basis}__in": SAID})
    nothing = models.Q(**{basis: Basis.NOT_ESTABLISHED})
    return models.CheckConstraint(
        condition=(given & rests) | (~given & nothing),
        name=f"componentrecord_{name}_has_basis",
        violation_error_message=f"Say what {of_what} rests on, and give no basis where there is none.",
    )


class ComponentRecord(Appended):
    """One statement of the component ledger; the latest line of a component counts.

    `not_fitted` says that the vehicle never had one, neither when new nor now: such a component has no standing and
    leaves the weighing. One that was added later is *non-original*.
    """

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="components")
    component = models.CharField(max_length=40)
    as_built = models.CharField(max_length=120, blank=True)
    as_built_basis = WordField(max_length=20, words=Basis, default=Basis.NOT_ESTABLISHED)
    as_found = models.CharField(max_length=120, blank=True)
    standing = WordField(max_length=20, words=Standing)
    basis = WordField(max_length=20, words=Basis)
    not_fitted = models.BooleanField("never had one", default=False)
    number = models.CharField("part or casting number, as read", max_length=60, blank=True)
    number_basis = WordField(max_length=20, words=Basis, default=Basis.NOT_ESTABLISHED)
    date_code = models.CharField("date code, as read", max_length=40, blank=True)
    earliest_on = models.DateField("made at the earliest on", null=True, blank=True)
    latest_on = models.DateField("made at the latest on", null=True, blank=True)
    date_basis = WordField(max_length=20, words=Basis, default=Basis.NOT_ESTABLISHED)
    note = models.CharField(max_length=500, blank=True)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("componentrecord", field="standing", allowed=Standing.values),
            within("componentrecord", field="basis", allowed=Basis.values),
            within("componentrecord", field="as_built_basis", allowed=Basis.values),
            span_check("componentrecord"),
            _with_basis("number", given=~models.Q(number=""), basis="number_basis", of_what="the number"),
            _with_basis(
                "date",
                given=~models.Q(date_code="") | models.Q(earliest_on__isnull=False),
                basis="date_basis",
                of_what="the date",
            ),
            models.CheckConstraint(
                condition=models.Q(not_fitted=False)
                | models.Q(
                    standing=Standing.NOT_ESTABLISHED, as_found="", number="", date_code="", earliest_on__isnull=True
                ),
                name="componentrecord_not_fitted_has_nothing",
                violation_error_message="What the vehicle never had has no standing, number or date, "
                "and is not found there. What was added later is non-original.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "component", "id"], name="component_by_vehicle")]

    def __str__(self) -> str:
        return f"{self.component}: {self.get_standing_display()}"


class BuildDate(Appended):
    """When the vehicle was built, as far as one source tells; the latest row counts."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="build_dates")
    earliest_on = models.DateField("built at the earliest on")
    latest_on = models.DateField("built at the latest on")
    basis = WordField(max_length=20, words=Basis)
    source = models.CharField("where it was read", max_length=200)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("builddate", field="basis", allowed=SAID),
            span_check("builddate", optional=False),
            models.CheckConstraint(
                condition=~models.Q(source=""),
                name="builddate_has_source",
                violation_error_message="Say where the date was read.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="builddate_by_vehicle")]

    def __str__(self) -> str:
        return f"built {self.earliest_on} to {self.latest_on}"


class Modification(models.Model):
    """A deliberate change."""

    vehicle = models.ForeignKey(Vehicle, on_delete=models.PROTECT, related_name="modifications")
    kind = WordField(max_length=20, words=ModificationKind)
    what = models.CharField(max_length=200)
    where = models.CharField(max_length=120, blank=True)
    fitting = WordField(max_length=20, words=Fitting)
    material = models.CharField(max_length=80, blank=True)
    workmanship = GradeField(null=True, blank=True)
    era = WordField(max_length=10, words=Era, default=Era.NOT_KNOWN)
    papers = models.BooleanField("papers seen", default=False)
    cost_told = MoneyField("cost, as told", null=True, blank=True)
    basis = WordField(max_length=20, words=Basis)
    client_key = client_key_field()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("modification", field="kind", allowed=ModificationKind.values),
            within("modification", field="fitting", allowed=Fitting.values),
            within("modification", field="basis", allowed=Basis.values),
            within("modification", field="era", allowed=Era.values),
            at_least("modification", field="workmanship"),
            at_least("modification", field="cost_told"),
            models.CheckConstraint(
                condition=models.Q(workmanship__isnull=True) | models.Q(workmanship__lte=4),
                name="modification_workmanship_at_most_4",
                violation_error_message="Workmanship is graded from 0 to 4.",
            ),
        ]
        indexes = [models.Index(fields=["vehicle", "id"], name="modification_by_vehicle")]

    def __str__(self) -> str:
        return self.what


class ModificationComponent(Appended):
    """One component of the ledger that a modification changes."""

    modification = models.ForeignKey(Modification, on_delete=models.PROTECT, related_name="changes")
    component = models.CharField(max_length=40)

    class Meta:
        ordering = ["id"]  # as they were named
        constraints = [
            models.UniqueConstraint(
                fields=["modification", "component"],
                name="modificationcomponent_named_once",
                violation_error_message="A modification names each component once.",
            ),
        ]

    def __str__(self) -> str:
        return self.component


class DecoderEntry(Appended):
    """What one code means, from a source the lot trusts. A correction is a new entry that names the one it corrects."""

    component = models.CharField(max_length=40)
    make = models.CharField(max_length=60)
    from_year = models.PositiveSmallIntegerField("model years from")
    to_year = models.PositiveSmallIntegerField("model years to")
    written = models.CharField("code, as written", max_length=40)
    written_key = models.CharField(max_length=40, editable=False)
    match = WordField("what is compared", max_length=10, words=CodeMatch, default=CodeMatch.EXACT)
    meaning = models.CharField(max_length=200)
    earliest_on = models.DateField("means made at the earliest on", null=True, blank=True)
    latest_on = models.DateField("means made at the latest on", null=True, blank=True)
    source = models.CharField("where that is from", max_length=200)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )
    retired = models.BooleanField(default=False)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("decoderentry", field="match", allowed=CodeMatch.values),
            span_check("decoderentry"),
            models.CheckConstraint(
                condition=models.Q(from_year__gte=1886, to_year__lte=2200, from_year__lte=models.F("to_year")),
                name="decoderentry_years_are_a_span",
                violation_error_message="The model years run from 1886 to 2200, the earlier one first.",
            ),
            models.CheckConstraint(
                condition=~models.Q(make="") & ~models.Q(written_key="") & ~models.Q(meaning="") & ~models.Q(source=""),
                name="decoderentry_is_whole",
                violation_error_message="Give make, code, meaning and where that is from.",
            ),
            models.CheckConstraint(
                condition=models.Q(retired=False) | models.Q(corrects__isnull=False),
                name="decoderentry_retires_another",
                violation_error_message="Only an entry that is there can be retired.",
            ),
        ]
        indexes = [models.Index(fields=["make", "component", "written_key"], name="decoder_by_code")]

    def __str__(self) -> str:
        return f"{self.make} {self.written}: {self.meaning}"
