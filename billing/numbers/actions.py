from backoffice.audit import actions as audit
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
