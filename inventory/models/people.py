"""Staff, office programs and consignors."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower

from inventory.models.fields import WordField, code_field, within
from inventory.models.phones import phone_tail
from inventory.rules.roles import STAFF_ROLES, Actor, ActorKind, Role


class UserManager(BaseUserManager["User"]):
    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(username=(username or "").strip().lower())


class User(AbstractBaseUser):
    """A member of staff."""

    username = models.CharField(  # kept in lower case
        "user name",
        max_length=60,
        unique=True,
        error_messages={"unique": "There is a member of staff with this user name already."},
    )
    full_name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    role = WordField(max_length=20, words=Role)
    is_active = models.BooleanField(default=True)
    has_second_factor = models.BooleanField("a code is asked besides the password", default=False)
    created_at = models.DateTimeField()

    objects = UserManager()
    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"

    class Meta:
        constraints = [
            within("user", field="role", allowed=[role.value for role in STAFF_ROLES]),
        ]

    def __str__(self) -> str:
        return self.full_name or self.username

    def as_actor(self) -> Actor:
        return Actor(kind=ActorKind.STAFF, role=Role(self.role), name=str(self), id=self.pk)


class ApiToken(models.Model):
    """The key of an office program. Only a digest and a prefix to recognise it by are kept."""

    name = models.CharField(max_length=120)
    role = WordField(max_length=20, words=Role)
    prefix = models.CharField(max_length=12)
    digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="tokens")
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    reads_only = models.BooleanField("reads and never writes", default=False)
    expires_on = models.DateField("last day on which it opens", null=True, blank=True)
    last_used_on = models.DateField(null=True, blank=True)  # the day alone, in the lot's time zone

    class Meta:
        constraints = [within("apitoken", field="role", allowed=[role.value for role in STAFF_ROLES])]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"

    def as_actor(self) -> Actor:
        return Actor(kind=ActorKind.TOKEN, role=Role(self.role), name=self.name, id=self.pk, reads_only=self.reads_only)


class StaffSession(models.Model):
    """A browser in which somebody is signed in. It opens nothing: of the session's key only a digest is kept.

    The least that lets somebody know a stranger's session from their own: no address, only a keyed digest of its
    network that says whether two are the same; no versions of the browser.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="sessions")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    browser = models.CharField(max_length=60)
    network = models.CharField(max_length=16)
    wrong_tries = models.PositiveSmallIntegerField("wrong passwords typed while signed in", default=0)

    def __str__(self) -> str:
        return f"{self.browser} of {self.user}"


class Consignor(models.Model):
    """A party who owns vehicles that the lot sells."""

    code = code_field()
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField("internal note", max_length=1000, blank=True)
    merged_into = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged")
    erased_at = models.DateTimeField(null=True, blank=True)
    is_lot = models.BooleanField("the lot itself, for vehicles of its own", default=False)
    created_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(name=""),
                name="consignor_has_name",
                violation_error_message="Give the consignor's name.",
            ),
            models.CheckConstraint(
                condition=models.Q(merged_into__isnull=True) | ~models.Q(merged_into=models.F("id")),
                name="consignor_not_merged_into_itself",
                violation_error_message="Nobody is a double of themselves.",
            ),
            models.UniqueConstraint(
                fields=["is_lot"],
                condition=models.Q(is_lot=True),
                name="consignor_one_is_the_lot",
                violation_error_message="The lot is among the consignors already.",
            ),
        ]
        indexes = [
            models.Index(Lower("name"), name="consignor_by_lower_name"),
            models.Index(Lower("email"), name="consignor_by_lower_email"),
            models.Index(phone_tail("phone"), name="consignor_by_phone_tail"),
        ]

    def __str__(self) -> str:
        return self.name
