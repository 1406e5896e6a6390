import uuid
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any, ClassVar, Self, TypeVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import SHORE_ROLES, Company, Membership, User
from fleet.calculation.assumptions import Assumptions
from fleet.core.model_fields import TypedField
from fleet.vessels.assumed import assumptions_of
from fleet.vessels.imo import validate_imo_number


class BaseLoadKind(models.TextChoices):
    SDMBL = "sdmbl", _("ship design MBL")
    LINE_MBL = "line_mbl", _("MBL of the line from the mooring plan")
    FITTINGS = "fittings", _("derived from the fittings")


class VesselQuerySet(models.QuerySet["Vessel"]):
    def for_user(self, user: Any) -> "VesselQuerySet":
        """Shore people: their company's vessels; ship's people and auditors: the vessels named for them."""
        if not user.is_authenticated:
            return self.none()
        current = Membership.objects.current(user)
        whole_company = current.filter(role__in=SHORE_ROLES).values("company")
        named = VesselAccess.objects.current().filter(membership__in=current.exclude(role__in=SHORE_ROLES))
        return self.filter(models.Q(company__in=whole_company) | models.Q(pk__in=named.values("vessel")))


class Vessel(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="vessels")
    name = models.CharField(_("name"), max_length=80)
    imo_number = models.CharField(_("IMO number"), max_length=7, validators=[validate_imo_number])
    base_load = TypedField(_("base load"))
    base_load_kind = models.CharField(
        _("what the base load is"), max_length=12, choices=BaseLoadKind.choices, default=BaseLoadKind.SDMBL
    )
    base_load_document = models.CharField(
        _("document and page"), max_length=160, help_text=_("Such as: towing and mooring arrangements plan, sheet 2.")
    )
    next_dry_docking = models.DateField(_("next dry-docking"), null=True, blank=True)
    in_fleet = models.BooleanField(_("in the fleet"), default=True)

    objects = VesselQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["company", "imo_number"], name="one_vessel_per_imo_number")]

    def __str__(self) -> str:
        return self.name


class VesselAccessQuerySet(models.QuerySet["VesselAccess"]):
    def for_user(self, user: Any) -> "VesselAccessQuerySet":
        """The accesses that hang on a role this person may see: the company's for shore people, else their own."""
        return self.filter(membership__in=Membership.objects.for_user(user))

    def current(self, on: date | None = None) -> "VesselAccessQuerySet":
        return self.filter(models.Q(until__isnull=True) | models.Q(until__gte=on or date.today()))

    def open(self) -> "VesselAccessQuerySet":
        """Accesses that reach their vessel today: neither they nor their role have ended."""
        role_lasts = models.Q(membership__until__isnull=True) | models.Q(membership__until__gte=date.today())
        return self.current().filter(role_lasts, membership__user__is_active=True)


class VesselAccess(models.Model):
    """Which vessel a ship's role or an auditor's role reaches, and until when."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    membership = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="vessel_accesses")
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="accesses")
    until = models.DateField(_("until"), null=True, blank=True)

    objects = VesselAccessQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["membership", "vessel"], name="one_access_per_vessel")]

    def __str__(self) -> str:
        return f"{self.membership} → {self.vessel}"


OwnedModel = TypeVar("OwnedModel", bound=models.Model)


class VesselOwnedQuerySet(models.QuerySet[OwnedModel]):
    """Rows that belong to a vessel: seen by whoever sees the vessel."""

    vessel_path: ClassVar[str] = "vessel"

    def for_user(self, user: Any) -> Self:
        return self.filter(**{f"{self.vessel_path}__in": Vessel.objects.for_user(user)})


class DecisionRule(models.TextChoices):
    SIMPLE = "simple", _("simple acceptance: the figure itself lies in the band")
    GUARDED = "guarded", _("guarded acceptance: the figure lies in the band by its uncertainty")


def _share(label: Any, default: str) -> "models.DecimalField[Any, Any]":
    return models.DecimalField(
        label,
        max_digits=5,
        decimal_places=4,
        default=Decimal(default),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(Decimal("1"))],
    )


class PolicyQuerySet(models.QuerySet["Policy"]):
    def for_user(self, user: Any) -> "PolicyQuerySet":
        """A company's own rules for whoever holds a role there; a vessel's own for whoever sees the vessel."""
        own = models.Q(vessel__isnull=True) | models.Q(vessel__in=Vessel.objects.for_user(user))
        return self.filter(own, company__in=Company.objects.for_user(user))


class Policy(models.Model):
    """The operator's own rules from a date on: for a company, or for one vessel of it. Never edited, only followed."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    company = models.ForeignKey(Company, on_delete=models.PROTECT, related_name="policies")
    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="policies", null=True, blank=True)
    valid_from = models.DateField(_("valid from"))
    share = _share(_("share of the base load at which the brake is to render"), "0.60")
    band_low = _share(_("band, low side"), "0.55")
    band_high = _share(_("band, high side"), "0.65")
    decision_rule = models.CharField(
        _("decision rule"), max_length=10, choices=DecisionRule.choices, default=DecisionRule.SIMPLE
    )
    ceiling = _share(_("ceiling: stop pumping at this share"), "0.65")
    interval_months = models.PositiveSmallIntegerField(_("months between tests"), default=12)
    lining_retest_months = models.PositiveSmallIntegerField(
        _("months to an early retest of a new lining, 0 for none"), default=6
    )
    due_soon_days = models.PositiveSmallIntegerField(_("days ahead a test counts as due"), default=45)
    verification_slips = models.PositiveSmallIntegerField(
        _("least number of verification slips"), default=2, validators=[MinValueValidator(1)]
    )
    calibration_months = models.PositiveSmallIntegerField(_("months a gauge calibration lasts"), default=12)
    lining_worn_share = _share(_("renew the lining when this share is worn"), "0.40")
    worn_line_share = _share(_("most of a worn line's remaining strength at which the brake may render"), "0.75")
    engineer_confirms = models.BooleanField(_("the chief engineer confirms gauge and jack"), default=True)
    master_releases = models.BooleanField(_("the master releases before sending"), default=True)
    tight_weight = models.DecimalField(
        _("weight of too tight against too loose"), max_digits=4, decimal_places=2, default=Decimal("2.00")
    )
    # {name: Typed} of vessels.assumed, only what the operator set otherwise than we ship it
    assumed = models.JSONField(_("figures assumed where nobody measured"), default=dict, blank=True)
    reason = models.CharField(_("reason for the change"), max_length=300)
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = PolicyQuerySet.as_manager()

    class Meta:
        ordering = ["-valid_from", "-created_at"]
        verbose_name_plural = "policies"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(band_low__lt=models.F("share"), band_high__gt=models.F("share")),
                name="policy_share_lies_in_its_band",
            ),
            models.CheckConstraint(
                condition=models.Q(ceiling__gte=models.F("share")), name="policy_ceiling_not_below_share"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.vessel or self.company} from {self.valid_from}"

    @property
    def assumptions(self) -> Assumptions:
        """For the uncertainty of a load: the operator's figures for what nobody measured, else ours."""
        return assumptions_of(self.assumed)

    @property
    def is_common_practice(self) -> bool:
        """True for the default that stands in until the operator writes a policy."""
        return self._state.adding


def policy_for(vessel: Vessel, on: date) -> Policy:
    """The policy in force: the vessel's own, else the company's, else the common practice."""
    return policies_for({vessel.pk: vessel.company_id}, on)[vessel.pk]


def policies_for(companies: Mapping[uuid.UUID, uuid.UUID], on: date) -> dict[uuid.UUID, Policy]:
    """The policy in force for each vessel, given its company, in one query for all of them."""
    rows = Policy.objects.filter(
        models.Q(vessel__in=companies.keys()) | models.Q(vessel__isnull=True),
        company__in=set(companies.values()),
        valid_from__lte=on,
    )
    # Rising, so that what comes later in the same place is the newer row.
    newest = {(row.vessel_id, row.company_id): row for row in rows.order_by("valid_from", "created_at")}
    return {
        vessel: newest.get((vessel, company))
        or newest.get((None, company))
        or Policy(company_id=company, valid_from=on, reason="common practice")
        for vessel, company in companies.items()
    }
