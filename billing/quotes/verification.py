from collections.abc import Iterator

from billing.numbers.verification import faults_of_series
from billing.quotes.models import Quote


def count_looked_at() -> str:
    return f"{Quote.objects.filter(number__isnull=False).count()} numbered quotes"


def faults_of_numbers() -> Iterator[str]:
    """Quotes share a number across their versions, so each number counts once."""
    numbers = Quote.objects.filter(number__isnull=False).order_by().values_list("number", flat=True).distinct()
    yield from faults_of_series("quote", [number for number in numbers if number is not None])
