"""Drives by road from an engine's table interface: both kinds, kept for a month, and the estimate when it fails."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread
from typing import Any

import pytest
import time_machine
from django.core.cache import cache

from clients.miles.actions import log_driven_days
from clients.miles.models import Trip
from clients.rounds.actions import plan_round
from clients.rounds.road_engine import EngineFailed, Interface, RoadEngine
from clients.rounds.roads import LEFT_ALONE_FOR, estimate_of, roads_of
from clients.rounds.travel import Place
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, VisitFactory

HOME, BARN, LANE = Place(39.35, -104.6), Place(39.42, -104.65), Place(39.5, -104.7, extra_seconds=60)
PLACES = (HOME, BARN, LANE)
OSRM = {
    "code": "Ok",
    "durations": [[0, 600.2, 900], [610, 0, 300], [905, 310, 0]],
    "distances": [[0, 12000.1, 20000], [12100, 0, 9000], [20100, 9100, 0]],
}
VALHALLA = {
    "sources_to_targets": [
        [{"time": OSRM["durations"][i][j], "distance": OSRM["distances"][i][j] / 1000} for j in range(3)]
        for i in range(3)
    ]
}


@dataclass
class Engine:
    """A server on this machine that gives one answer and remembers what it was asked."""

    answer: Any = None
    status: int = 200
    asked: list[tuple[str, str, Any]] = field(default_factory=list)
    address: str = ""


@pytest.fixture
def engine() -> Iterator[Engine]:
    engine = Engine(OSRM)

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.reply(None)

        def do_POST(self) -> None:
            self.reply(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))

        def reply(self, body: Any) -> None:
            engine.asked.append((self.command, self.path, body))
            content = engine.answer if isinstance(engine.answer, bytes) else json.dumps(engine.answer).encode()
            self.send_response(engine.status)
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    engine.address = f"http://127.0.0.1:{server.server_port}/"
    Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True).start()
    yield engine
    server.shutdown()
    server.server_close()


@pytest.fixture(autouse=True)
def _nothing_kept():
    cache.clear()
    yield
    cache.clear()


def test_osrm_is_asked_in_its_own_order_of_degrees(engine):
    table = RoadEngine(Interface.OSRM, engine.address).table(PLACES)
    way = "-104.600000,39.350000;-104.650000,39.420000;-104.700000,39.500000"
    assert engine.asked == [("GET", f"/table/v1/driving/{way}?annotations=duration,distance", None)]
    assert table.seconds == ((0, 601, 960), (610, 0, 360), (965, 370, 0))
    assert table.metres[0] == (0, 12001, 20000)
    assert table.source == "road"


def test_valhalla_says_the_same(engine):
    engine.answer = VALHALLA
    table = RoadEngine(Interface.VALHALLA, engine.address).table(PLACES)
    ((method, path, asked),) = engine.asked
    assert (method, path) == ("POST", "/sources_to_targets")
    assert asked["sources"][0] == {"lat": 39.35, "lon": -104.6}
    assert asked["targets"] == asked["sources"]
    engine.answer = OSRM
    assert table.seconds == RoadEngine(Interface.OSRM, engine.address).table(PLACES).seconds


@pytest.mark.parametrize("places", [(), (HOME,)])
def test_nobody_is_asked_about_one_place(engine, places):
    assert len(RoadEngine(Interface.OSRM, engine.address).table(places).seconds) == len(places)
    assert engine.asked == []


NO_WAY = {**OSRM, "durations": [[0, None, 1], [1, 0, 1], [1, 1, 0]]}


@pytest.mark.parametrize(
    ("answer", "status", "why"),
    [
        (OSRM, 500, "did not answer"),
        (b"<html>", 200, "not JSON"),
        ({"code": "NoTable"}, 200, "no whole table"),
        ([], 200, "no whole table"),
        (NO_WAY, 200, "no whole table"),
        ({**OSRM, "distances": [[0, 1], [1, 0]]}, 200, "no whole table"),
        ({**OSRM, "durations": [[0, -5, 1], [1, 0, 1], [1, 1, 0]]}, 200, "no whole table"),
        (b" " * 8_000_001, 200, "too long"),
    ],
)
def test_what_is_no_table_is_refused(engine, answer, status, why):
    engine.answer, engine.status = answer, status
    with pytest.raises(EngineFailed, match=why):
        RoadEngine(Interface.OSRM, engine.address).table(PLACES)


def test_nobody_at_the_address(engine):
    with pytest.raises(EngineFailed, match="did not answer"):
        RoadEngine(Interface.OSRM, "http://127.0.0.1:9").table(PLACES)


@pytest.fixture
def by_road(business, engine):
    business.road_engine_address = engine.address
    business.save()
    return business


@pytest.mark.django_db
def test_without_an_address_nobody_is_asked(business, engine):
    assert roads_of(business) == estimate_of(business)


@pytest.mark.django_db
def test_each_drive_is_kept_and_not_asked_twice(by_road, engine):
    first = roads_of(by_road).table(PLACES)
    assert roads_of(by_road).table(PLACES[1:]).seconds == ((0, 360), (370, 0))
    assert roads_of(by_road).table(PLACES) == first
    assert len(engine.asked) == 1


@pytest.mark.django_db
def test_a_failure_is_said_and_the_engine_left_alone_for_a_minute(by_road, engine, now):
    engine.status = 503
    with time_machine.travel(now, tick=False) as clock:
        table = roads_of(by_road).table(PLACES)
        assert table.seconds == estimate_of(by_road).table(PLACES).seconds
        assert table.source == "estimate"
        assert table.notice.startswith("The road engine was asked and it did not answer")
        engine.status = 200
        assert roads_of(by_road).table(PLACES).notice == table.notice
        assert len(engine.asked) == 1
        clock.shift(LEFT_ALONE_FOR + 1)
        assert roads_of(by_road).table(PLACES).source == "road"


@pytest.fixture
def answers_for_one_barn(by_road, engine):
    engine.answer = {"durations": [[0, 1800], [1800, 0]], "distances": [[0, 30000], [30000, 0]]}
    return engine


FAILS = pytest.mark.parametrize("fails", [False, True])


@FAILS
def test_the_round_says_which_drives_they_are(answers_for_one_barn, owner_manager, now, as_assistant, fails):
    answers_for_one_barn.status = 503 if fails else 200
    with time_machine.travel(now, tick=False):
        booked_visit(owner_manager, barn=near_barn())
        found = plan_round(day=MONDAY, practitioner=owner_manager, at=now, by=owner_manager)
        html = as_assistant.get(found.get_absolute_url()).content.decode()
    assert (found.is_by_road, found.drive_minutes == 60) == (not fails, not fails)
    assert ("by road" in html, "The road engine was asked" in html) == (not fails, fails)


@FAILS
def test_the_log_says_which_drives_they_are(answers_for_one_barn, now, fails):
    answers_for_one_barn.status = 503 if fails else 200
    VisitFactory(completed=True, animal__barn=near_barn(), day=MONDAY - timedelta(days=1))
    (trip,) = log_driven_days(at=now)
    assert trip.measured == (Trip.Measure.ESTIMATE if fails else Trip.Measure.ROAD)
    assert (trip.metres == 60_000) is not fails


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["ftp://roads.example", "file:///etc/passwd", "roads"])
def test_only_web_addresses_are_taken(as_owner_manager, address):
    sent = {"road_engine_address": address}
    html = as_owner_manager.post("/settings/business/", sent).content.decode()
    assert 'id="id_road_engine_address_error"' in html or "Enter a valid URL" in html
