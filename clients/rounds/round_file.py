"""A day written in a JSON file: its places, its stops, its hours. Every mistake is named by its place."""

import math
from collections.abc import Sequence
from decimal import Decimal

from clients.rounds.day_round import DayRequest, Isolation, Lunch, Priority, Span, Stop
from clients.rounds.json_reader import Field, Json, JsonReader, NotJson, read_json
from clients.rounds.travel import DEFAULT_CIRCUITY, DEFAULT_SPEED_MPH, Place, StraightLine

MOST_STOPS = 500
MOST_MINUTES = 1_000_000
_ISOLATION = ("clean", "exposed", "infected")
_PRIORITY = ("high", "normal", "low")
_FILE = ("day", "minutes", "points", "speed_mph", "circuity", "lunch", "stops")
_STOP = ("id", "at", "minutes", "windows", "locked", "isolation", "priority")

Drives = tuple[tuple[int, ...], ...]


class WrongRoundFile(ValueError):
    """All that is wrong with a file: `errors` are sentences that begin with their place in it."""

    def __init__(self, errors: Sequence[str]) -> None:
        super().__init__("\n".join(errors))
        self.errors = tuple(errors)


def parse_round(text: str) -> DayRequest:
    """The day written in a round file; raises WrongRoundFile with all its errors.

    Minutes may have decimals and are rounded up to whole seconds. Place 0 is the base.
    """
    reader = JsonReader()
    try:
        request = _request(reader, Field("", read_json(text)))
    except NotJson as error:
        raise WrongRoundFile([str(error)]) from error
    if reader.errors or request is None:
        raise WrongRoundFile(reader.errors)
    return request


def _request(reader: JsonReader, file: Field) -> DayRequest | None:
    written = reader.names(file, _FILE)
    if written is None:
        return None
    day = _day(reader, reader.required(file, "day"))
    drive = _drive(reader, file, written)
    lunch = _lunch(reader, Field("lunch", written["lunch"])) if written.get("lunch") is not None else None
    stops = _stops(reader, reader.required(file, "stops"), len(drive) if drive else None)
    if reader.errors or day is None or drive is None or stops is None:
        return None
    return DayRequest(day, drive, tuple(stop for stop in stops if stop is not None), lunch)


def _day(reader: JsonReader, here: Field | None) -> Span | None:
    if here is None or reader.names(here, ("start", "end")) is None:
        return None
    return reader.named_span(here, "start", "end")


def _lunch(reader: JsonReader, here: Field) -> Lunch | None:
    if reader.names(here, ("minutes", "from", "to")) is None:
        return None
    seconds = _seconds(reader, reader.required(here, "minutes"))
    span = reader.named_span(here, "from", "to")
    return None if seconds is None or span is None else Lunch(seconds, span)


def _seconds(reader: JsonReader, here: Field | None) -> int | None:
    minutes = reader.number(here, 0, MOST_MINUTES) if here is not None else None
    return None if minutes is None else math.ceil(minutes * 60)


def _drive(reader: JsonReader, file: Field, written: Json) -> Drives | None:
    if ("minutes" in written) == ("points" in written):
        reader.wrong("file", 'the drives must be given either as "minutes" or as "points".')
        return None
    if "points" in written:
        return _estimate(reader, Field("points", written["points"]), written)
    for name in ("speed_mph", "circuity"):
        if name in written:
            reader.wrong(name, 'this only goes with "points".')
    return _matrix(reader, Field("minutes", written["minutes"]))


def _matrix(reader: JsonReader, here: Field) -> Drives | None:
    rows = _places(reader, here)
    if not rows:
        return None
    matrix = []
    for row in rows:
        cells = reader.items(row) or []
        if isinstance(row.value, list) and len(cells) != len(rows):
            reader.wrong(row.place, f"there are {len(cells)} drives for {len(rows)} places.")
        matrix.append(tuple(_seconds(reader, cell) or 0 for cell in cells))
    return tuple(matrix)


def _places(reader: JsonReader, here: Field) -> list[Field] | None:
    places = reader.items(here)
    if places == []:
        reader.wrong(here.place, "there is no place in it, not even the base.")
    return places


def _estimate(reader: JsonReader, here: Field, written: Json) -> Drives | None:
    speed = Field("speed_mph", written.get("speed_mph", Decimal(str(DEFAULT_SPEED_MPH))))
    circuity = Field("circuity", written.get("circuity", Decimal(str(DEFAULT_CIRCUITY))))
    mph, factor = reader.number(speed, 1, 200), reader.number(circuity, 1, 10)
    points = _places(reader, here)
    # A wrong point still counts as a place, so that no stop is said to lie outside.
    places = [_point(reader, point) or Place(0, 0) for point in points or []]
    if not places:
        return None
    return StraightLine(float(factor or 1), float(mph or 1)).table(places).seconds


def _point(reader: JsonReader, here: Field) -> Place | None:
    pair = reader.pair(here, "[latitude, longitude]")
    if pair is None:
        return None
    latitude, longitude = reader.number(pair[0], -90, 90), reader.number(pair[1], -180, 180)
    return None if latitude is None or longitude is None else Place(float(latitude), float(longitude))


def _stops(reader: JsonReader, here: Field | None, places: int | None) -> list[Stop | None] | None:
    listed = reader.items(here) if here is not None else None
    if listed is None:
        return None
    if len(listed) > MOST_STOPS:
        reader.wrong("stops", f"there are {len(listed)}; a day is planned from at most {MOST_STOPS}.")
        return None
    stops = [_stop(reader, stop, places) for stop in listed]
    _refuse_twins(reader, listed)
    return stops


def _refuse_twins(reader: JsonReader, listed: list[Field]) -> None:
    first: dict[str, str] = {}
    for stop in listed:
        key = stop.value.get("id") if isinstance(stop.value, dict) else None
        if isinstance(key, str) and first.setdefault(key, stop.place) != stop.place:
            reader.wrong(stop.at("id"), f"{first[key]} has the same id.")


def _stop(reader: JsonReader, here: Field, places: int | None) -> Stop | None:
    written = reader.names(here, _STOP)
    if written is None:
        return None
    named = reader.required(here, "id")
    key = reader.text(named) if named is not None else None
    place = _at(reader, reader.required(here, "at"), places)
    seconds = _seconds(reader, reader.required(here, "minutes"))
    windows = _windows(reader, Field(here.at("windows"), written["windows"])) if "windows" in written else ()
    locked = None
    if written.get("locked") is not None:
        locked = reader.clock(Field(here.at("locked"), written["locked"]))
    isolation = reader.word(Field(here.at("isolation"), written.get("isolation", "clean")), _ISOLATION)
    priority = reader.word(Field(here.at("priority"), written.get("priority", "normal")), _PRIORITY)
    if key is None or place is None or seconds is None or isolation is None or priority is None:
        return None
    level, rank = Isolation[isolation.upper()], Priority[priority.upper()]
    return Stop(key, place, seconds, windows, locked, level, rank)


def _at(reader: JsonReader, here: Field | None, places: int | None) -> int | None:
    number = reader.number(here, 0, MOST_MINUTES) if here is not None else None
    if here is None or number is None:
        return None
    if number != int(number):
        reader.wrong(here.place, "a place is a whole number.")
    elif places is not None and number >= places:
        reader.wrong(here.place, f"there is no place {number}; the last one is {places - 1}.")
    return int(number)


def _windows(reader: JsonReader, here: Field) -> tuple[Span, ...]:
    windows = reader.items(here)
    if windows == []:
        reader.wrong(here.place, "there must be a window in it; without the name the whole day is open.")
    spans = []
    for window in windows or []:
        pair = reader.pair(window, '["09:00", "12:00"]')
        if pair is not None:
            spans.append(reader.span(window.place, *pair))
    return tuple(span for span in spans if span is not None)
