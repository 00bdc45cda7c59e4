from datetime import datetime
from typing import Any, ClassVar, Self

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.db.models.functions import Lower
from django.utils.crypto import salted_hmac

from school.password_text import normalise_password


class Role(models.TextChoices):
    STUDENT = "student", "student"
    INSTRUCTOR = "instructor", "instructor"
    CHIEF = "chief", "chief instructor"
    ADMIN = "admin", "administrator"


class PersonQuerySet(models.QuerySet["Person"]):
    def active_with_role(self, role: Role) -> Self:
        return self.filter(roles__contains=[role], is_active=True)

    def by_name(self) -> Self:
        return self.order_by("family_name", "given_name", "pk")

    def due_changes(self, at: datetime) -> Self:
        """Return those for whom a waiting change of the account should have taken effect by this moment."""
        return self.filter(models.Q(new_email_from__lte=at) | models.Q(second_step_reset_from__lte=at)).order_by("pk")


class PersonManager(BaseUserManager.from_queryset(PersonQuerySet)):  # type: ignore[misc]
    def create_user(self, username: str, password: str | None = None, **fields: Any) -> "Person":
        person: Person = self.model(username=username, **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def get_by_natural_key(self, username: str | None) -> "Person":
        # "Amelia" and "amelia" are the same account, as the constraint below says.
        person: Person = self.get(username__iexact=username)
        return person


class Person(AbstractBaseUser):
    """Anybody the school knows. One person can hold several roles."""

    username = models.CharField(max_length=150, unique=True, validators=[UnicodeUsernameValidator()])
    email = models.EmailField(blank=True)
    given_name = models.CharField(max_length=100)
    family_name = models.CharField(max_length=100)
    reference = models.CharField("school number", max_length=20, unique=True)
    born = models.DateField("date of birth", null=True, blank=True)
    roles = ArrayField(models.CharField(max_length=20, choices=Role.choices), default=list)
    is_active = models.BooleanField("may log in", default=True)
    # Counted up to end every session of the person at once, also those that nobody keeps a list of.
    session_epoch = models.PositiveIntegerField(default=0, editable=False)
    # Part of a secret address, by which a calendar reads what runs out without logging in.
    calendar_key = models.UUIDField(null=True, blank=True, unique=True, editable=False)
    # A new address and a reset of the second step wait here until they take effect, so that their person can stop them
    # (school/accounts/waiting.py). The address may be empty: it is the moment that says whether one waits.
    new_email = models.EmailField(blank=True, default="", editable=False)
    new_email_verified = models.BooleanField(default=False, editable=False)
    new_email_from = models.DateTimeField(null=True, blank=True, editable=False)
    second_step_reset_from = models.DateTimeField(null=True, blank=True, editable=False)
    # The address before the present one, which is told of changes too for some days.
    earlier_email = models.EmailField(blank=True, default="", editable=False)
    earlier_email_until = models.DateTimeField(null=True, blank=True, editable=False)

    # What this person narrowed the board to, under names of their own (grading/actions/board_views.py).
    board_views = models.JSONField(default=list, blank=True, editable=False)

    objects: ClassVar[PersonManager] = PersonManager()

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["given_name", "family_name", "reference"]

    class Meta:
        verbose_name_plural = "people"
        # For `roles__contains`, by which people with a role are looked up.
        indexes: ClassVar[list[models.Index]] = [GinIndex(fields=["roles"], name="person_roles")]
        constraints: ClassVar[list[models.BaseConstraint]] = [
            # Beside unique=True, which takes other capitals for another name.
            models.UniqueConstraint(Lower("username"), name="person_username_unique"),
            models.CheckConstraint(condition=models.Q(roles__contained_by=Role.values), name="person_roles_known"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}"

    def set_password(self, raw_password: str | None) -> None:
        super().set_password(None if raw_password is None else normalise_password(raw_password))

    def check_password(self, raw_password: str | None) -> bool:
        return super().check_password(None if raw_password is None else normalise_password(raw_password))

    def _get_session_auth_hash(self, secret: str | None = None) -> str:
        """Return the hash that a session of this person must carry; it changes with password and epoch."""
        held = f"{self.password}/{self.session_epoch}"
        return salted_hmac("school.session", held, secret=secret, algorithm="sha256").hexdigest()

    def get_full_name(self) -> str:
        return self.name

    @property
    def is_student(self) -> bool:
        return Role.STUDENT in self.roles

    @property
    def is_instructor(self) -> bool:
        return Role.INSTRUCTOR in self.roles

    @property
    def is_chief(self) -> bool:
        return Role.CHIEF in self.roles

    @property
    def is_records_admin(self) -> bool:
        return Role.ADMIN in self.roles

    @property
    def role_names(self) -> str:
        return ", ".join(Role(role).label for role in self.roles)
