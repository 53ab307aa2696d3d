from datetime import date, timedelta
from typing import Any

from django import forms

from billing.books.forms import PeriodForm
from billing.journal.queries import first_of_next

LONGEST = timedelta(days=3 * 366)
ONE_DAY = timedelta(days=1)


class ReportForm(PeriodForm):
    """A time, and where the report has them, a way to group."""

    def __init__(self, *args: Any, ways: tuple[tuple[str, str], ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if ways:
            self.fields["by"] = forms.ChoiceField(label="By", choices=ways)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until - since > LONGEST:
            self.add_error("until", "At most three years at once.")
        return cleaned


def spans(on: date) -> dict[str, tuple[str, date, date]]:
    """Times that are asked for often: name → words, first and last day."""
    monday, first = on - timedelta(days=on.weekday()), on.replace(day=1)
    before = (first - ONE_DAY).replace(day=1)
    january = on.replace(month=1, day=1)
    return {
        "week": ("This week", monday, monday + timedelta(days=6)),
        "last_week": ("Last week", monday - timedelta(days=7), monday - ONE_DAY),
        "month": ("This month", first, first_of_next(on) - ONE_DAY),
        "last_month": ("Last month", before, first - ONE_DAY),
        "year": ("This year", january, on.replace(month=12, day=31)),
        "last_year": ("Last year", january.replace(year=on.year - 1), january - ONE_DAY),
    }
