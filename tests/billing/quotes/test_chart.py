from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backoffice.ui.ticks import nice_step
from billing.money.call_out import CallOut
from billing.money.pricing import Service
from billing.quotes.chart import BOTTOM, HEIGHT, LEFT, PLOT, RIGHT, TOP, WIDTH, draw
from billing.quotes.comparison import compare
from billing.quotes.labels import DOT, LONGEST_NAME, Box, crosses, place_labels
from clients.plans.cadence import Kind, Phase
from tests.billing.quotes.requests import MONTHLY, THIRD_DAY, WEEKLY, WITH_SPOTS, D, hire, option, request, visits


def chart_of(*options, budget=None, **changes):
    return draw(compare(request(*options, **changes)).options, budget)


def worked(budget=None):
    return chart_of(
        option("The whole guideline", visits(WITH_SPOTS)),
        option("Every third day", visits(THIRD_DAY)),
        option("Weekly", visits(WEEKLY)),
        option("Monthly", visits(MONTHLY)),
        option("Hire", hire(WITH_SPOTS)),
        budget=budget,
    )


def test_every_dot_stands_inside_the_picture():
    for point in worked().points:
        assert LEFT <= point.x <= WIDTH - RIGHT
        assert TOP <= point.y <= HEIGHT - BOTTOM


def test_the_axis_reaches_the_dearest_option_and_the_budget():
    chart = worked(D("4100"))
    assert [tick.label for tick in chart.cost_ticks] == [0, 2000, 4000, 6000]
    assert chart.has_budget
    assert chart.budget_x <= WIDTH - RIGHT


def test_a_budget_of_nothing_is_drawn_at_the_axis():
    assert worked(D(0)).budget_x == LEFT
    assert worked(D(0)).has_budget


def test_the_frontier_goes_from_the_cheapest_up_and_leaves_out_what_is_beaten():
    chart = worked()
    joined = [point for point in chart.points if point.frontier]
    assert {point.name for point in joined} == {"Monthly", "Weekly", "Every third day", "Hire"}
    assert chart.frontier_line.split()[0] == f"{joined[0].x},{joined[0].y}"
    percents = {point.name: point.percent for point in chart.points}
    assert percents == {"The whole guideline": 100, "Every third day": 62, "Weekly": 25, "Monthly": 6, "Hire": 100}


def test_one_option_or_no_guideline_gives_no_picture():
    assert chart_of(option("Alone", visits(WEEKLY))) is None
    assert chart_of(option("A", visits(WEEKLY)), option("B", visits(MONTHLY)), guideline=None) is None


def test_options_that_cost_nothing_are_drawn_all_the_same():
    chart = chart_of(
        option("A", visits(WEEKLY)),
        option("B", visits(MONTHLY)),
        services={Kind.FULL: Service(60, D(0)), Kind.SPOT: Service(20, D(0))},
        call_out=CallOut(D(0)),
    )
    assert {point.x for point in chart.points} == {LEFT}


@pytest.mark.parametrize(("highest", "step"), [("2600", 1000), ("0", 1), ("1", "0.5"), ("90", 50), ("14020", 5000)])
def test_ticks_are_round_numbers(highest, step):
    assert nice_step(D(highest)) == D(step)


names = st.text("abcdefghij ", min_size=1, max_size=40)
spots = st.tuples(names, st.floats(LEFT, WIDTH - RIGHT), st.floats(TOP, HEIGHT - BOTTOM))


@given(st.lists(spots, min_size=2, max_size=7))
def test_no_name_covers_another_name_or_leaves_the_picture(named):
    labels = place_labels(named, PLOT, [])
    boxes = [label.box for label in labels]
    assert not any(one.meets(other) for place, one in enumerate(boxes) for other in boxes[:place])
    assert all(PLOT.holds(box) for box in boxes)
    assert all(len(label.text) <= LONGEST_NAME for label in labels)


def test_seven_options_at_the_same_place_keep_their_names_apart():
    labels = place_labels([(f"Option number {number}", 120.0, 200.0) for number in range(7)], PLOT, [])
    assert len({(label.x, label.y) for label in labels}) == 7
    dot = Box(120 - DOT, 200 - DOT, 120 + DOT, 200 + DOT)
    assert not any(label.box.meets(dot) for label in labels)
    assert labels[-1].led


def test_a_name_rather_stands_clear_of_a_line():
    line = [(60.0, 200.0), (330.0, 200.0)]
    (label,) = place_labels([("Weekly", 100.0, 200.0)], PLOT, [line])
    assert label.y != 205


def test_a_name_is_nearer_to_its_own_dot_than_to_the_next_one():
    own, other = (98.0, 186.0), (122.0, 186.0)
    first, second = place_labels([("Every other week", *own), ("Weekly", *other)], PLOT, [])
    assert first.led or first.box.away_from(own) < first.box.away_from(other)
    assert second.led or second.box.away_from(other) < second.box.away_from(own)


def test_a_long_name_is_cut_in_the_picture_and_whole_in_words():
    chart = chart_of(option("A very long name of an option indeed", visits(WEEKLY)), option("B", visits(Phase(28, 14))))
    point = next(point for point in chart.points if point.name.startswith("A very"))
    assert point.label == "A very long name of a…"


SPOTS = st.tuples(st.integers(0, 90), st.integers(0, 90))


@given(one=SPOTS, other=SPOTS)
def test_a_line_crosses_a_box_where_some_point_of_it_is_inside(one, other):
    box = Box(20, 30, 50, 60)
    parts = [Fraction(step, 180) for step in range(181)]
    points = [(one[0] + (other[0] - one[0]) * part, one[1] + (other[1] - one[1]) * part) for part in parts]
    if any(box.left < x < box.right and box.top < y < box.bottom for x, y in points):
        assert crosses(box, one, other)
    if all(x <= box.left for x, _ in (one, other)) or all(y >= box.bottom for _, y in (one, other)):
        assert not crosses(box, one, other)


@pytest.mark.parametrize(("one", "other"), [((20, 0), (20, 90)), ((10, 40), (15, 50)), ((10, 20), (20, 30))])
def test_a_line_along_a_side_or_beside_it_does_not_cross(one, other):
    assert not crosses(Box(20, 30, 50, 60), one, other)
