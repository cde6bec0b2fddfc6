"""Identity numbers, title papers, modifications and photos."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Shown, Text, Word
from inventory.models import IdentityNumber, Modification, Photo, TitlePaper, User
from inventory.rules.words import Basis, Fitting, IdentityKind, ModificationKind, PaperStanding, TitleKind


class IdentityNumberShown(Shown):
    kind = Word(IdentityKind)
    basis = Word(Basis)

    class Meta:
        model = IdentityNumber
        fields = ["id", "kind", "value", "basis", "note", "by", "at"]
        read_only_fields = fields


class IdentityNumberGiven(Given):
    kind = Word(IdentityKind)
    value = Text(40)
    basis = Word(Basis)
    note = Text(200, required=False)


class TitlePaperShown(Shown):
    kind = Word(TitleKind)
    standing = Word(PaperStanding)

    class Meta:
        model = TitlePaper
        fields = ["id", "kind", "number", "name_on_paper", "place", "standing", "seen_on", "by", "at"]
        read_only_fields = fields


class TitlePaperGiven(Given):
    kind = Word(TitleKind)
    standing = Word(PaperStanding)
    number = Text(60, required=False)
    name_on_paper = Text(120, required=False)
    place = Text(60, required=False)
    seen_on = Day(required=False)


class ModificationShown(Shown):
    kind = Word(ModificationKind)
    fitting = Word(Fitting)
    basis = Word(Basis)
    workmanship = serializers.IntegerField(allow_null=True)
    by = serializers.StringRelatedField[User]()

    class Meta:
        model = Modification
        fields = ["id", "kind", "what", "fitting", "workmanship", "papers", "basis", "by", "at"]
        read_only_fields = fields


class ModificationGiven(Given):
    kind = Word(ModificationKind)
    what = Text(200)
    fitting = Word(Fitting)
    basis = Word(Basis)
    workmanship = serializers.IntegerField(min_value=0, max_value=4, required=False, allow_null=True)
    papers = serializers.BooleanField(required=False)
    client_key = serializers.UUIDField(required=False)


class PhotoShown(Shown):
    by = serializers.StringRelatedField[User]()

    class Meta:
        model = Photo
        fields = ["code", "caption", "public", "station", "check_code", "shot", "taken_at", "by", "at"]
        read_only_fields = fields
