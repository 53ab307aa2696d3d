from collections.abc import Iterable, Iterator

from billing.numbers.models import NumberSeries


def faults_of_series(name: str, numbers: Iterable[int]) -> Iterator[str]:
    """A sentence for each number of the series that is missing, there twice, or not yet given out."""
    row = NumberSeries.objects.filter(pk=name).first()
    first, following = (row.first_number, row.next_number) if row else (1, 1)
    seen: set[int] = set()
    for number in sorted(numbers):
        if number in seen:
            yield f"{name} number {number} is there twice."
        if not first <= number < following:
            yield f"{name} number {number} was never given out (the next one is {following})."
        seen.add(number)
    for number in range(first, following):
        if number not in seen:
            yield f"{name} number {number} is missing."
