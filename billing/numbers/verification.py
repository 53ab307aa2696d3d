from collections.abc import Iterable, Iterator

from billing.numbers.models import NumberSeries


def faults_of_series(name: str, numbers: Iterable[int]) -> Iterator[str]:
    """A sentence for each number of the series that is missing, there twice, or not yet given out."""
    row = NumberSeries.objects.filter(pk=name).first()
    following = row.next_number if row else 1
    seen: set[int] = set()
    for number in sorted(numbers):
        if number in seen:
            yield f"{name} number {number} is there twice."
        if not 0 < number < following:
            yield f"{name} number {number} was never given out (the next one is {following})."
        seen.add(number)
    for number in range(1, following):
        if number not in seen:
            yield f"{name} number {number} is missing."
