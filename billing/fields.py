from typing import Any

from django.db import models


def money_field(**options: Any) -> Any:
    """An amount in the business's currency: up to three decimals, as ISO 4217 has them."""
    return models.DecimalField(max_digits=14, decimal_places=3, **options)
