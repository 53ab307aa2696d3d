"""Which road times the practice uses: one door, so that every page reckons alike."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import permutations

from django.core.cache import cache

from backoffice.access.models import User
from backoffice.business.models import Business
from clients.people.models import Barn
from clients.rounds.road_engine import EngineFailed, Interface, RoadEngine
from clients.rounds.travel import Place, RoadTimes, StraightLine, TravelTable
from clients.workdays.models import OwnBase

KEPT_FOR = 30 * 24 * 3600
LEFT_ALONE_FOR = 60


def estimate_of(business: Business) -> StraightLine:
    """The straight line with the business's own factor and speed. Prices by distance take it, since it never fails."""
    return StraightLine(circuity=float(business.circuity), speed_mph=float(business.speed_mph))


def roads_of(business: Business) -> RoadTimes:
    """The road engine where one is set, with the estimate behind it; the estimate alone otherwise."""
    estimate = estimate_of(business)
    if not business.road_engine_address:
        return estimate
    engine = RoadEngine(Interface(business.road_engine), business.road_engine_address)
    return EngineOrEstimate(engine, estimate)


def base_of(business: Business, practitioner: User | None = None) -> Place | None:
    """Where days begin and end: the practitioner's own base where one is given and has one, or that of the business."""
    own = OwnBase.objects.filter(practitioner=practitioner).first() if practitioner else None
    if own is not None:
        return Place(own.lat, own.lon)
    if business.base_lat is None or business.base_lon is None:
        return None
    return Place(business.base_lat, business.base_lon)


def place_of(barn: Barn) -> Place:
    """Raises ValueError for a barn that is not on the map."""
    if barn.lat is None or barn.lon is None:
        raise ValueError(barn)
    return Place(barn.lat, barn.lon, extra_seconds=60 * barn.extra_minutes)


@dataclass(frozen=True, slots=True)
class EngineOrEstimate:
    """Drives by road, each kept for a month; the estimate, with a notice, while the engine gives no answer.

    An engine that failed is left alone for a minute, so that no page waits for it twice.
    """

    engine: RoadEngine
    estimate: StraightLine

    def table(self, places: Sequence[Place]) -> TravelTable:
        """A way may come by a place twice, such as home: the engine is asked about each once."""
        each_once = list(dict.fromkeys(places))
        at = [each_once.index(place) for place in places]
        table = self._table(each_once)
        seconds = tuple(tuple(table.seconds[i][j] for j in at) for i in at)
        return replace(table, seconds=seconds, metres=tuple(tuple(table.metres[i][j] for j in at) for i in at))

    def _table(self, places: Sequence[Place]) -> TravelTable:
        kept = self._kept(places)
        if kept is not None:
            return kept
        why = cache.get(self._key("failed"))
        if why is None:
            try:
                table = self.engine.table(places)
            except EngineFailed as failed:
                why = str(failed)
                cache.set(self._key("failed"), why, LEFT_ALONE_FOR)
            else:
                self._keep(places, table)
                return table
        notice = f"The road engine was asked and {why}: drives are the usual estimate."
        return replace(self.estimate.table(places), notice=notice)

    def _kept(self, places: Sequence[Place]) -> TravelTable | None:
        keys = {pair: self._key(*(places[n] for n in pair)) for pair in permutations(range(len(places)), 2)}
        found = cache.get_many(set(keys.values()))
        if len(found) < len(set(keys.values())):
            return None
        cells = [[(0, 0) if i == j else found[keys[i, j]] for j in range(len(places))] for i in range(len(places))]
        seconds = tuple(tuple(cell[0] for cell in row) for row in cells)
        return TravelTable(seconds, tuple(tuple(cell[1] for cell in row) for row in cells), source="road")

    def _keep(self, places: Sequence[Place], table: TravelTable) -> None:
        pairs = permutations(range(len(places)), 2)
        drives = {self._key(places[i], places[j]): (table.seconds[i][j], table.metres[i][j]) for i, j in pairs}
        cache.set_many(drives, KEPT_FOR)

    def _key(self, *parts: object) -> str:
        return "road-" + sha256(repr((self.engine, *parts)).encode()).hexdigest()
