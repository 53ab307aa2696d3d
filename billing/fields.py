from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

MOST = Decimal(1_000_000)


def money_field(**options: Any) -> Any:
    """An amount in the business's currency: up to three decimals, as ISO 4217 has them."""
    return models.DecimalField(max_digits=14, decimal_places=3, **options)


def amount_field(digits: int, *, label: str, least: Decimal = Decimal(0), **options: Any) -> forms.DecimalField:
    """A form's field for money: from `least` to a million, with the `digits` decimals that the currency has."""
    unclear = f"Write an amount in figures, such as {95:.{digits}f}."
    return forms.DecimalField(
        label=label,
        min_value=least,
        max_value=MOST,
        decimal_places=digits,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "class": "figure", "autocomplete": "off"}),
        error_messages={
            "required": f"{label} is missing.",
            "invalid": unclear,
            "min_value": f"Write {least} or more.",
            "max_value": f"Write {MOST:,} or less.",
            "max_decimal_places": unclear,
            "max_digits": unclear,
            "max_whole_digits": f"Write {MOST:,} or less.",
        },
        **options,
    )
