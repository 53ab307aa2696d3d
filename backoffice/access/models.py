from django.contrib.auth.models import AbstractUser
from django.db import models

from backoffice.access.powers import POWERS, Power, Role


class User(AbstractUser):
    """Somebody who signs in. Owners and vets never do: they come by private link."""

    role = models.CharField(max_length=20, choices=[(role.value, role.label) for role in Role], default=Role.ASSISTANT)
    drives_rounds = models.BooleanField("drives rounds", default=False)
    phone = models.CharField(max_length=40, blank=True)

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def name(self) -> str:
        return str(self)

    def may(self, power: Power | str) -> bool:
        return self.is_active and Power(power) in POWERS[Role(self.role)]
