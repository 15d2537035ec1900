"""Contractors, and who works for them."""

from typing import ClassVar, Self

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from uuid_utils.compat import uuid7

from config.tenancy import FIELD, OFFICE, VIEWER

UNITS = [("metric", "Metric"), ("imperial", "Imperial")]
LANGUAGES = [("en", "English"), ("es", "Español")]


class Contractor(models.Model):
    """A company that installs floor warming; everything else belongs to one."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    licence_number = models.CharField(max_length=60, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    units = models.CharField(max_length=8, choices=UNITS, default="metric")
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    # Whose public holidays its crews keep (ISO 3166-1 and the part of 3166-2); empty: none.
    country = models.CharField(max_length=2, blank=True)
    subdivision = models.CharField(max_length=10, blank=True)

    objects: ClassVar[models.Manager[Self]] = models.Manager()


class MemberManager(BaseUserManager["Member"]):
    def get_by_natural_key(self, username: str | None) -> "Member":
        return self.get(email=(username or "").lower())

    def create_member(self, *, email: str, password: str | None, **fields: object) -> "Member":
        member = self.model(email=email.lower(), **fields)
        member.set_password(password)
        member.save(using=self._db)
        return member


class Member(AbstractBaseUser):
    """A person in a company; logs in by e-mail."""

    ROLES: ClassVar = [(OFFICE, "Office"), (FIELD, "Field"), (VIEWER, "Viewer")]

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    contractor = models.ForeignKey(
        Contractor, on_delete=models.PROTECT, related_name="members", db_index=False
    )
    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=8, choices=ROLES)
    licence_number = models.CharField(max_length=60, blank=True)
    language = models.CharField(max_length=2, choices=LANGUAGES, default="en")
    scheme = models.CharField(
        max_length=5,
        choices=[("", "As the device"), ("light", "Light"), ("dark", "Dark")],
        blank=True,
    )
    is_active = models.BooleanField(default=True)

    objects: ClassVar[MemberManager] = MemberManager()

    # On arrival elsewhere nobody has a password yet: each asks for a link and sets one.
    stays_behind: ClassVar = {"password": "!", "last_login": None}

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar = ["name", "role"]

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["contractor", "id"], name="jobs_member_of_contractor"),
            models.CheckConstraint(
                condition=Q(role__in=[OFFICE, FIELD, VIEWER]), name="member_role_known"
            ),
        ]
