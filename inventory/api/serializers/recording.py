"""Identity numbers, title papers, places and photos."""

from rest_framework import serializers

from inventory.api.serializers.base import Day, Given, Person, Shown, Text, Word
from inventory.models import IdentityNumber, IdentityResolution, Movement, Photo, TitlePaper
from inventory.rules.words import (
    Basis,
    IdentityKind,
    NameJoin,
    OwnerKind,
    PaperStanding,
    SigningRight,
    TitleKind,
)


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
    names_joined = Word(NameJoin, allow_blank=True)
    owner_kind = Word(OwnerKind, allow_blank=True)
    signs_by = Word(SigningRight, allow_blank=True)

    class Meta:
        model = TitlePaper
        fields = [
            "id", "kind", "number", "name_on_paper", "more_names", "names_joined", "owner_kind", "signer", "signs_by",
            "in_hand_since", "place", "standing", "seen_on", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields


class TitlePaperGiven(Given):
    kind = Word(TitleKind)
    standing = Word(PaperStanding)
    number = Text(60, required=False)
    name_on_paper = Text(120, required=False)
    more_names = Text(200, required=False, help_text="With a semicolon between them.")
    names_joined = Word(NameJoin, required=False, allow_blank=True)
    owner_kind = Word(OwnerKind, required=False, allow_blank=True)
    signer = Text(120, required=False)
    signs_by = Word(SigningRight, required=False, allow_blank=True)
    in_hand_since = Day(required=False, help_text="In the lot's hands since.")
    place = Text(60, required=False)
    seen_on = Day(required=False)


class PlaceShown(Shown):
    class Meta:
        model = Movement
        fields = ["id", "place", "keys", "not_for_sale", "expected_back_on", "note", "by", "at"]
        read_only_fields = fields


class PlaceGiven(Given):
    place = Text(60, help_text="A place of the lot by its name, or any other in words.")
    keys = Text(60, required=False, help_text="Where the keys are.")
    not_for_sale = serializers.BooleanField(
        required=False,
        help_text="In the shop, away or at home: these days do not count as days exposed. Left out: as the place has "
        "it, if it was set up.",
    )
    expected_back_on = Day(required=False)
    note = Text(200, required=False)


class PhotoShown(Shown):
    by = Person()

    class Meta:
        model = Photo
        fields = [
            "code", "caption", "public", "station", "check_code", "shot", "width", "height", "taken_at", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields
