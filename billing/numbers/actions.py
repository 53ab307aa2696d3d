from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from billing.numbers.models import NumberSeries


@audit.action
def take_number(series: str) -> int:
    """The next number of the series. The row stays locked until the paper it numbers is saved or nothing is."""
    NumberSeries.objects.bulk_create([NumberSeries(name=series)], ignore_conflicts=True)
    row = NumberSeries.objects.select_for_update().get(name=series)
    number = row.next_number
    row.next_number = number + 1
    row.save(update_fields=["next_number"])
    return number


@audit.action
def begin_series(series: str, first: int) -> None:
    """Have a series that gave out no number yet begin with this one."""
    NumberSeries.objects.bulk_create([NumberSeries(name=series)], ignore_conflicts=True)
    row = NumberSeries.objects.select_for_update().get(name=series)
    if row.next_number != row.first_number:
        raise Refused(f"Number {row.first_number} of this series is given out already: it goes on from there.")
    if not 0 < first < 1_000_000:
        raise Refused("A first number is between 1 and 999,999.")
    row.first_number = row.next_number = first
    row.save()
