"""Identity numbers, title papers and photos."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Shown, Text, Word
from inventory.models import IdentityNumber, Photo, TitlePaper, User
from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind


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


class PhotoShown(Shown):
    by = serializers.StringRelatedField[User]()

    class Meta:
        model = Photo
        fields = ["code", "caption", "public", "station", "check_code", "shot", "taken_at", "by", "at"]
        read_only_fields = fields
