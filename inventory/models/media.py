"""Photos and clips of one stay, what was hidden of them, and files on their way in pieces."""

from typing import Self

from django.core.validators import RegexValidator
from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment
from inventory.models.fields import WordField, client_key_field, code_field, within
from inventory.models.people import User
from inventory.rules.media import ClipKind, UploadKind


def place_code_field(length: int = 60) -> "models.CharField[str, str]":
    """The code of a station, a check or a shot of the catalogue; empty where the picture answers none."""
    told = "A code is made of small letters, digits, dots and underlines."
    return models.CharField(max_length=length, blank=True, validators=[RegexValidator(r"\A[a-z0-9_.]+\Z", told)])


def sha256_field(*, blank: bool = False) -> "models.CharField[str, str]":
    told = "A SHA-256 is 64 hexadecimal digits in small letters."
    return models.CharField(max_length=64, blank=blank, validators=[RegexValidator(r"\A[0-9a-f]{64}\Z", told)])


class PhotoQuerySet(models.QuerySet["Photo"]):
    def shown(self) -> Self:
        return self.filter(hiding__isnull=True)


class Photo(models.Model):
    """A picture: shown without anything but its pixels; the original is kept beside it and served to nobody but the
    owner. Photos of earlier versions have neither original nor thumbnail: what is shown then stands for both."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="photos")
    station = place_code_field(40)
    check_code = place_code_field()
    shot = place_code_field()
    file = models.FileField(upload_to="photos/%Y/%m/")
    thumbnail = models.FileField(upload_to="thumbnails/%Y/%m/", blank=True)
    width = models.PositiveIntegerField(null=True, blank=True)
    height = models.PositiveIntegerField(null=True, blank=True)
    digest = models.CharField(max_length=64)
    original = models.FileField(upload_to="originals/%Y/%m/", blank=True)
    original_sha256 = sha256_field(blank=True)
    original_name = models.CharField(max_length=255, blank=True)
    original_bytes = models.PositiveBigIntegerField(null=True, blank=True)
    resent = models.PositiveSmallIntegerField("times it was hidden before it was sent again", default=0)
    caption = models.CharField(max_length=120, blank=True)
    public = models.BooleanField("shown to consignor and buyers", default=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    client_key = client_key_field()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()

    objects = PhotoQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["consignment", "original_sha256", "resent"],
                condition=models.Q(original_sha256__gt=""),
                name="photo_original_once_per_consignment",
                violation_error_message="This photo is here already.",
            ),
            models.UniqueConstraint(
                fields=["consignment", "digest", "resent"],
                condition=models.Q(original_sha256=""),
                name="photo_once_per_consignment",
                violation_error_message="This photo is here already.",
            ),
        ]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"

    @property
    def small(self) -> models.fields.files.FieldFile:
        return self.thumbnail or self.file

    @property
    def is_hidden(self) -> bool:
        return hasattr(self, "hiding")


class Clip(Appended):
    """A clip as the camera wrote it: nothing is taken out of it, so one that holds a place is never public."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="clips")
    station = place_code_field(40)
    shot = place_code_field()
    kind = WordField(max_length=12, words=ClipKind, default=ClipKind.OTHER)
    caption = models.CharField(max_length=120, blank=True)
    file = models.FileField(upload_to="clips/%Y/%m/")
    name = models.CharField(max_length=255, blank=True)
    content_type = models.CharField(max_length=40)
    sha256 = sha256_field()
    bytes = models.PositiveBigIntegerField()
    located = models.BooleanField("holds the place where it was taken", default=False)
    public = models.BooleanField("shown to consignor and buyers", default=False)
    resent = models.PositiveSmallIntegerField("times it was hidden before it was sent again", default=0)
    client_key = client_key_field()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("clip", field="kind", allowed=ClipKind.values),
            models.UniqueConstraint(
                fields=["consignment", "sha256", "resent"],
                name="clip_once_per_consignment",
                violation_error_message="This clip is here already.",
            ),
            models.CheckConstraint(
                condition=models.Q(public=False) | models.Q(located=False),
                name="clip_public_without_place",
                violation_error_message="A clip that holds the place where it was taken may not be public.",
            ),
        ]

    def __str__(self) -> str:
        return self.caption or self.get_kind_display()

    @property
    def is_hidden(self) -> bool:
        return hasattr(self, "hiding")


class HiddenMedia(Appended):
    """A photo or a clip that is shown no more. The file stays: it may be evidence."""

    photo = models.OneToOneField(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="hiding")
    clip = models.OneToOneField(Clip, on_delete=models.PROTECT, null=True, blank=True, related_name="hiding")
    reason = models.CharField(max_length=200)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(photo__isnull=False, clip__isnull=True)
                | models.Q(photo__isnull=True, clip__isnull=False),
                name="hiddenmedia_of_one_thing",
                violation_error_message="What is hidden is one photo or one clip.",
            )
        ]

    def __str__(self) -> str:
        return f"hidden: {self.photo or self.clip}"


class Upload(models.Model):
    """A file on its way in pieces: how much of it has come, and what became of it."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="uploads")
    kind = WordField(max_length=8, words=UploadKind)
    name = models.CharField(max_length=255)
    total = models.PositiveBigIntegerField()
    received = models.PositiveBigIntegerField(default=0)
    sha256 = sha256_field()
    client_key = models.UUIDField(unique=True, editable=False)
    station = place_code_field(40)
    check_code = place_code_field()
    shot = place_code_field()
    clip_kind = WordField(max_length=12, words=ClipKind, default=ClipKind.OTHER)
    caption = models.CharField(max_length=120, blank=True)
    public = models.BooleanField(default=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    touched_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    clip = models.ForeignKey(Clip, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            within("upload", field="kind", allowed=UploadKind.values),
            within("upload", field="clip_kind", allowed=ClipKind.values),
            models.CheckConstraint(
                condition=models.Q(received__lte=models.F("total")),
                name="upload_received_within_total",
                violation_error_message="More came than was announced.",
            ),
            models.CheckConstraint(
                condition=models.Q(finished_at__isnull=True, photo__isnull=True, clip__isnull=True)
                | models.Q(finished_at__isnull=False, kind=UploadKind.PHOTO, photo__isnull=False, clip__isnull=True)
                | models.Q(finished_at__isnull=False, kind=UploadKind.CLIP, photo__isnull=True, clip__isnull=False),
                name="upload_finished_as_its_kind",
                violation_error_message="A finished upload is one photo or one clip, as it was announced.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.received} of {self.total} bytes"

    @property
    def is_whole(self) -> bool:
        return self.received == self.total


class UploadPiece(models.Model):
    """One piece of such a file where pieces are kept in a bucket: its place in the file, and its object there.

    Only a piece that has a row counts; each object has a name of its own and is never written over.
    """

    upload = models.ForeignKey(Upload, on_delete=models.PROTECT, related_name="pieces")
    offset = models.PositiveBigIntegerField()
    size = models.PositiveIntegerField()
    name = models.CharField(max_length=120)  # no file of the lot: a backup leaves it out

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["upload", "offset"],
                name="uploadpiece_once_per_place",
                violation_error_message="This piece is here already.",
            ),
            models.CheckConstraint(
                condition=models.Q(size__gt=0),
                name="uploadpiece_of_some_size",
                violation_error_message="A piece has at least one byte.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.size} bytes at {self.offset}"
