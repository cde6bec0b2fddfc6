"""Identity numbers, title papers, places and photos."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Shown, Text, Word
from inventory.models import IdentityNumber, IdentityResolution, Movement, Photo, TitlePaper, User
from inventory.rules.words import Basis, IdentityKind, PaperStanding, TitleKind


class IdentityNumberShown(Shown):
    kind = Word(IdentityKind)
    basis = Word(Basis)

    class Meta:
        model = IdentityNumber
        fields = ["id", "kind", "value", "basis", "place", "note", "by", "at"]
        read_only_fields = fields


class IdentityNumberGiven(Given):
    kind = Word(IdentityKind)
    value = Text(40)
    basis = Word(Basis)
    place = Text(80, required=False, help_text="Where on the vehicle or paper it was read.")
    note = Text(200, required=False)


class IdentityResolutionShown(Shown):
    class Meta:
        model = IdentityResolution
        fields = ["id", "question", "reason", "by", "at"]
        read_only_fields = fields


class IdentityResolutionGiven(Given):
    question = Text(600, help_text="The open question as you read it; another one now is answered with 409.")
    reason = Text(400)
    client_key = serializers.UUIDField(required=False)


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


class PlaceShown(Shown):
    class Meta:
        model = Movement
        fields = ["id", "place", "keys", "not_for_sale", "by", "at"]
        read_only_fields = fields


class PlaceGiven(Given):
    place = Text(60)
    keys = Text(60, required=False, help_text="Where the keys are.")
    not_for_sale = serializers.BooleanField(
        required=False, help_text="In the shop, away or at home: these days do not count as days exposed."
    )


class PhotoShown(Shown):
    by = serializers.StringRelatedField[User]()

    class Meta:
        model = Photo
        fields = [
            "code", "caption", "public", "station", "check_code", "shot", "width", "height", "taken_at", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields
