from datetime import date

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.bars import picture
from backoffice.ui.table_files import EXPORTS, table_file
from billing.mileage.queries import Year, year_around, year_of_miles

COLUMNS = ("Day", "Driver", "From where to where", "Purpose", "Distance", "Unit", "Measured by", "Amount", "Corrected")


@require_GET
@needs(Power.SEE_MONEY)
def mileage_year(request: StaffRequest) -> HttpResponse:
    """The tax year of the asked day by month, with what it is worth; as a file trip by trip."""
    business = request.business  # type: ignore[attr-defined]
    first, last = year_around(_day(request.GET.get("day", "")))
    year = year_of_miles(first, last, business)
    if (wanted := request.GET.get("export")) in EXPORTS:
        return _file(year, business.distance_unit, wanted)
    before, after = date.fromordinal(first.toordinal() - 1), date.fromordinal(last.toordinal() + 1)
    months = list(year.months())
    driven = [(f"{month.first:%b %Y}", month.distance) for month in months]
    context = {
        "year": year,
        "months": months,
        "before": before,
        "after": after,
        "exports": EXPORTS,
        "picture": picture("Driven", driven, lambda said: f"{said:,} {business.distance_unit}"),
    }
    return render(request, "billing/mileage/year.html", context)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return timezone.localdate()


def _file(year: Year, unit: str, wanted: str) -> HttpResponse:
    rows = [
        (
            line.trip.day.isoformat(),
            str(line.trip.driver),
            line.trip.places,
            line.trip.purpose,
            str(line.distance),
            unit,
            line.trip.get_measured_display(),
            "" if line.amount is None else str(line.amount),
            line.trip.why_changed,
        )
        for line in year.lines
    ]
    return table_file(f"mileage-{year.first.isoformat()}", wanted, COLUMNS, rows)
