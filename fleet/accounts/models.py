import uuid
from datetime import date
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    OFFICER = "officer", _("officer in charge of the test")
    ENGINEER = "engineer", _("chief engineer")
    MASTER = "master", _("master")
    SUPERINTENDENT = "superintendent", _("superintendent")
    MANAGER = "manager", _("fleet manager")
    AUDITOR = "auditor", _("auditor")
    ADMINISTRATOR = "administrator", _("administrator")


SHIP_ROLES = frozenset({Role.OFFICER, Role.ENGINEER, Role.MASTER})
SHORE_ROLES = frozenset({Role.SUPERINTENDENT, Role.MANAGER, Role.ADMINISTRATOR})


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, name: str, password: str | None = None, **fields: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), name=name, **fields)
        user.set_password(password)
        user.full_clean(exclude=["password"])
        user.save(using=self._db)
        return user

    def for_user(self, user: Any) -> "models.QuerySet[User]":
        """The people whose roles this person may see, and the person."""
        if not user.is_authenticated:
            return self.none()
        seen = Membership.objects.for_user(user).values("user")
        return self.filter(models.Q(pk__in=seen) | models.Q(pk=user.pk))

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email__iexact=username)


class User(AbstractBaseUser):
    """A person; what they may do comes from their memberships, asked per object."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(_("e-mail address"), unique=True)
    name = models.CharField(_("name"), max_length=120)
    rank = models.CharField(_("rank or position"), max_length=80, blank=True)
    is_active = models.BooleanField(_("may sign in"), default=True)
    date_joined = models.DateTimeField(auto_now_add=True)

    objects = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(Lower("email"), name="one_person_per_email")]

    def __str__(self) -> str:
        return self.name


class CompanyQuerySet(models.QuerySet["Company"]):
    def for_user(self, user: Any) -> "CompanyQuerySet":
        """The companies in which this person holds a role today."""
        if not user.is_authenticated:
            return self.none()
        return self.filter(pk__in=Membership.objects.current(user).values("company"))


class Company(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=120, unique=True)
    short_code = models.CharField(
        _("short code"), max_length=6, unique=True, help_text=_("Begins every certificate number, such as KS.")
    )
    is_demo = models.BooleanField(default=False, editable=False)

    objects = CompanyQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "companies"

    def __str__(self) -> str:
        return self.name


class MembershipQuerySet(models.QuerySet["Membership"]):
    def current(self, user: Any, on: date | None = None) -> "MembershipQuerySet":
        """This person's roles that have not ended."""
        on = on or date.today()
        return self.filter(models.Q(until__isnull=True) | models.Q(until__gte=on), user=user, user__is_active=True)

    def not_ended(self, on: date | None = None) -> "MembershipQuerySet":
        """Roles that have not ended, also of those who may not sign in."""
        return self.filter(models.Q(until__isnull=True) | models.Q(until__gte=on or date.today()))

    def for_user(self, user: Any) -> "MembershipQuerySet":
        """Shore people see their company's people; everyone else sees themselves."""
        if not user.is_authenticated:
            return self.none()
        shore = Membership.objects.current(user).filter(role__in=SHORE_ROLES).values("company")
        return self.filter(models.Q(company__in=shore) | models.Q(user=user))


class Membership(models.Model):
    """One role of one person in one company, until a date or for good."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(_("role"), max_length=20, choices=Role.choices)
    until = models.DateField(_("until"), null=True, blank=True, help_text=_("Last day of this role; empty: no end."))

    objects = MembershipQuerySet.as_manager()

    class Meta:
        ordering = ["user__name", "role"]
        constraints = [
            models.UniqueConstraint(fields=["user", "company", "role"], name="one_membership_per_role"),
            models.CheckConstraint(
                condition=models.Q(role__in=[role.value for role in Role]), name="membership_role_is_known"
            ),
            models.CheckConstraint(
                condition=~models.Q(role="auditor") | models.Q(until__isnull=False), name="auditor_has_an_end_date"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} · {self.get_role_display()} · {self.company}"


class SecondFactorDuty(models.Model):
    """A role whose holders in a company must sign in with a second factor."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="second_factor_duties")
    role = models.CharField(_("role"), max_length=20, choices=Role.choices)

    class Meta:
        ordering = ["role"]
        verbose_name_plural = "second factor duties"
        constraints = [models.UniqueConstraint(fields=["company", "role"], name="one_second_factor_duty_per_role")]

    def __str__(self) -> str:
        return f"{self.get_role_display()} · {self.company}"
