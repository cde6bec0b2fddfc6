"""The component ledger, build dates, modifications and the decoder table."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Amount, Day, Given, Money, Person, Shown, Text, Word
from inventory.models import BuildDate, ComponentRecord, DecoderEntry, Modification
from inventory.queries.ledger import judged_row, notes_on
from inventory.rules.words import Basis, CodeMatch, Era, Fitting, Judgement, ModificationKind, Standing

SPAN = "A part whose date is only known as a month or a year has its first and last day here."


class JudgementField(Word):
    """What the date of a line says, against the build date that counts now; null where one of the two is not known."""

    def __init__(self) -> None:
        super().__init__(Judgement, source="*", read_only=True, allow_null=True)

    def to_representation(self, value: Any) -> Any:
        finding = judged_row(value)
        return None if finding is None else finding.judgement.value


class NotesField(serializers.ListField):
    """What whoever writes the line is told, in sentences. Nothing of it blocks."""

    def __init__(self) -> None:
        super().__init__(child=serializers.CharField(), source="*", read_only=True)

    def to_representation(self, data: Any) -> list[Any]:
        return notes_on(data, finding=judged_row(data))


class ComponentShown(Shown):
    standing = Word(Standing)
    basis = Word(Basis)
    as_built_basis = Word(Basis)
    number_basis = Word(Basis)
    date_basis = Word(Basis)
    judgement = JudgementField()
    notes = NotesField()

    class Meta:
        model = ComponentRecord
        fields = [
            "id", "component", "as_built", "as_built_basis", "as_found", "standing", "basis", "not_fitted", "number",
            "number_basis", "date_code", "earliest_on", "latest_on", "date_basis", "note", "judgement", "notes", "by",
            "at",
        ]  # fmt: skip
        read_only_fields = fields


class ComponentGiven(Given):
    component = Text(40)
    standing = Word(Standing)
    basis = Word(Basis)
    not_fitted = serializers.BooleanField(required=False, help_text="The vehicle never had one.")
    as_found = Text(120, required=False)
    as_built = Text(120, required=False, help_text="What plate or papers say. It never fills as_found.")
    as_built_basis = Word(Basis, required=False)
    number = Text(60, required=False, help_text="Part or casting number, as read.")
    number_basis = Word(Basis, required=False, help_text="Measured means read off the part itself.")
    date_code = Text(40, required=False, help_text="As read.")
    earliest_on = Day(required=False, allow_null=True, help_text=SPAN)
    latest_on = Day(required=False, allow_null=True)
    date_basis = Word(Basis, required=False)
    note = Text(500, required=False)
    after = serializers.IntegerField(
        required=False, min_value=0, max_value=2**63 - 1,
        help_text="The id of the line you looked at, 0 where there was none; another one now is answered with 409.",
    )  # fmt: skip
    client_key = serializers.UUIDField(required=False)


class BuildDateShown(Shown):
    basis = Word(Basis)

    class Meta:
        model = BuildDate
        fields = ["id", "earliest_on", "latest_on", "basis", "source", "by", "at"]
        read_only_fields = fields


class BuildDateGiven(Given):
    """When the vehicle was built; the latest statement counts."""

    earliest_on = Day()
    latest_on = Day()
    basis = Word(Basis)
    source = Text(200)  # type: ignore[assignment]  # DRF's own `source` is set per field, not here
    client_key = serializers.UUIDField(required=False)


class ModificationShown(Shown):
    kind = Word(ModificationKind)
    fitting = Word(Fitting)
    basis = Word(Basis)
    era = Word(Era)
    workmanship = serializers.IntegerField(allow_null=True)
    cost_told = Amount(allow_null=True)
    components = serializers.SlugRelatedField[Any](slug_field="component", source="changes", many=True, read_only=True)
    by = Person()

    class Meta:
        model = Modification
        fields = [
            "id", "kind", "what", "where", "fitting", "material", "workmanship", "era", "papers", "cost_told", "basis",
            "components", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class ModificationGiven(Given):
    kind = Word(ModificationKind)
    what = Text(200)
    fitting = Word(Fitting)
    basis = Word(Basis)
    where = Text(120, required=False)
    material = Text(80, required=False)
    workmanship = serializers.IntegerField(min_value=0, max_value=4, required=False, allow_null=True)
    era = Word(Era, required=False)
    papers = serializers.BooleanField(required=False)
    cost_told = Money(required=False, allow_null=True, min_value=0)
    components = serializers.ListField(
        child=Text(40), required=False, max_length=60, help_text="Codes of the components that it changes."
    )
    client_key = serializers.UUIDField(required=False)


class DecoderEntryShown(Shown):
    match = Word(CodeMatch)

    class Meta:
        model = DecoderEntry
        fields = [
            "id", "component", "make", "from_year", "to_year", "written", "match", "meaning", "earliest_on",
            "latest_on", "source", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields
