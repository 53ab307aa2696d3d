"""The straight line over the earth, against the worked example of the GeographicLib documentation."""

import pytest

from clients.rounds.travel import Place, geodesic_metres


def test_new_york_jfk_to_london_heathrow():
    """GeographicLib, GeodSolve documentation: JFK (40.6N 73.8W) to LHR (51.6N 0.5W) is 5551.759400 km."""
    lines = geodesic_metres([Place(40.6, -73.8), Place(51.6, -0.5)])
    assert lines[0][1] == pytest.approx(5_551_759.400, abs=0.001)
    assert lines[1][0] == lines[0][1]
