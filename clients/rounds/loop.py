"""The shortest loop from the base through a day's places, and what one place more or less changes in it.

Only drives count here: windows, lunch and the order of isolation are the day round's. It is the quick answer to
"what does it cost to go there on that day", asked of many days at once.
"""

from collections.abc import Collection, Sequence
from itertools import pairwise

from clients.rounds.day_round import BASE

MOST_EXACT = 7

Matrix = Sequence[Sequence[int]]
_Best = dict[tuple[int, int], tuple[int, tuple[int, ...]]]


def shortest_loop(seconds: Matrix, places: Collection[int]) -> tuple[int, ...]:
    """The order of `places` with the fewest seconds from the base (place 0) and back to it; each is passed once.

    Exact up to seven places by dynamic programming over subsets (Held and Karp, "A dynamic programming approach to
    sequencing problems", 1962); beyond, each further place goes where it adds least. `seconds[i][j]` may be asymmetric.
    """
    wanted = sorted(set(places) - {BASE})
    order = _exact(seconds, wanted[:MOST_EXACT])
    for place in wanted[MOST_EXACT:]:
        order = _inserted(seconds, order, place)
    return order


def length_of(matrix: Matrix, order: Sequence[int]) -> int:
    """From the base through the places in that order and back, by a matrix of seconds or of metres."""
    return sum(matrix[here][there] for here, there in pairwise((BASE, *order, BASE)))


def _exact(seconds: Matrix, places: Sequence[int]) -> tuple[int, ...]:
    """`best` holds, for the places made (as bits) and the last of them, the least seconds and their order."""
    best: _Best = {(1 << at, at): (seconds[BASE][place], (place,)) for at, place in enumerate(places)}
    for _ in places[1:]:
        longer: _Best = {}
        for (made, last), (driven, order) in best.items():
            row = seconds[places[last]]
            for at, place in enumerate(places):
                if made >> at & 1:
                    continue
                key, course = (made | 1 << at, at), (driven + row[place], (*order, place))
                if key not in longer or course < longer[key]:
                    longer[key] = course
        best = longer
    homes = [(driven + seconds[order[-1]][BASE], order) for driven, order in best.values()]
    return min(homes, default=(0, ()))[1]


def _inserted(seconds: Matrix, order: tuple[int, ...], place: int) -> tuple[int, ...]:
    tries = [(*order[:at], place, *order[at:]) for at in range(len(order) + 1)]
    return min(tries, key=lambda course: length_of(seconds, course))
