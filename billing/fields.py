import json
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

MOST = Decimal(1_000_000)


class StatedOrderJSON(models.Field):  # type: ignore[type-arg]
    """JSON whose keys keep the order in which they were written, as text. PostgreSQL's own type sorts them, and the
    order of the horses decides who bears an odd cent."""

    def get_internal_type(self) -> str:
        return "TextField"

    def from_db_value(self, value: str | None, *_: object) -> Any:
        return None if value is None else json.loads(value)

    def to_python(self, value: Any) -> Any:
        return json.loads(value) if isinstance(value, str) else value

    def get_prep_value(self, value: Any) -> str | None:
        return None if value is None else json.dumps(value, ensure_ascii=False)

    def value_to_string(self, obj: models.Model) -> str:
        return self.get_prep_value(self.value_from_object(obj)) or ""


def money_field(label: str | None = None, **options: Any) -> Any:
    """An amount in the business's currency: up to three decimals, as ISO 4217 has them."""
    return models.DecimalField(label, max_digits=14, decimal_places=3, **options)


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
