"""People and the roles they hold."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.core.validators import RegexValidator
from django.db import models
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    LEAD = "lead", _("lead")
    PROGRAMMER = "programmer", _("programmer")
    REVIEWER = "reviewer", _("reviewer")
    MACHINIST = "machinist", _("machinist")
    INSPECTOR = "inspector", _("inspector")
    VIEWER = "viewer", _("viewer")


class Units(models.TextChoices):
    MM = "mm", _("millimetres")
    INCH = "in", _("inches")


class User(AbstractUser):
    """Somebody of the shop. The ledger names people by id, so that a name can be corrected or erased."""

    full_name = models.CharField(_("name"), max_length=120, blank=True)
    units = models.CharField(_("units shown"), max_length=2, choices=Units.choices, default=Units.MM)
    # A keyed digest, not a password hash: a scanned badge has to be looked up, and it is long and random.
    badge_digest = models.CharField(max_length=64, null=True, blank=True, unique=True)  # noqa: DJ001 (unique, so null)
    pin_hash = models.CharField(max_length=128, blank=True)
    # A password that somebody else chose opens nothing but the page where the person chooses their own: a sign-off
    # must be the doing of the person whose name stands under it.
    password_is_temporary = models.BooleanField(default=False)

    is_at_station = False
    """Set on request.user for a log-in by badge and PIN, which opens less (access.STATION_ACTS)."""

    class Meta:
        ordering = ["full_name", "username"]

    def __str__(self) -> str:
        return self.get_full_name()

    def get_full_name(self) -> str:
        return self.full_name or self.username

    @property
    def roles(self) -> frozenset[str]:
        """The roles held, read once for each object."""
        if not hasattr(self, "_roles"):
            self._roles = frozenset(grant.role for grant in self.grants.all())
        return self._roles

    def forget_roles(self) -> None:
        """To be called after grants were changed through this object."""
        self.__dict__.pop("_roles", None)

    @property
    def role_names(self) -> list[str]:
        return [str(Role(role).label) for role in Role.values if role in self.roles]

    def holds(self, *roles: str) -> bool:
        return bool(self.roles.intersection(roles))


class RoleGrant(models.Model):
    """One role of one person."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="grants")
    role = models.CharField(max_length=12, choices=Role.choices)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "role"], name="one_grant_of_a_role")]

    def __str__(self) -> str:
        return f"{self.user}: {self.role}"


class FailedTries(models.Model):
    """How often logging in failed, by what was tried: a user name from an address, a PIN of a person, a badge."""

    key = models.CharField(max_length=64, unique=True)
    count = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField()

    class Meta:
        ordering = ["-last_at"]

    def __str__(self) -> str:
        return f"{self.count} failed, last {self.last_at:%Y-%m-%d %H:%M}"


class ShopSettings(models.Model):
    """The one row of facts about the shop that papers print, and the paper they are printed on."""

    class PaperSize(models.TextChoices):
        A4 = "A4", _("A4, 210 × 297 mm")
        LETTER = "letter", _("Letter, 8½ × 11 in")

    name = models.CharField(_("shop name"), max_length=120, default="")
    address = models.TextField(_("address"), blank=True)
    paper_size = models.CharField(
        _("paper in the printer"), max_length=6, choices=PaperSize.choices, default=PaperSize.A4
    )
    worked_days = models.CharField(
        _("days worked"), max_length=7, default="12345", validators=[RegexValidator(r"^1?2?3?4?5?6?7?\Z")]
    )
    """Numbers of the weekdays that are worked, 1 is Monday."""

    def __str__(self) -> str:
        return self.name
