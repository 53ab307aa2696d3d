from decimal import Decimal

from backoffice.ui.bars import Bar, picture


def test_bars_stand_against_the_largest_and_blanks_are_left_out():
    found = picture("Left", [("a", Decimal(10)), ("b", -5), ("c", None)], lambda value: f"{value} h")
    assert found.bars == [Bar("a", "10 h", 100, False), Bar("b", "-5 h", 50, True)]


def test_of_one_bar_or_of_nothing_there_is_nothing_to_see():
    assert picture("Left", [("a", 1), ("b", None)], str) is None
    assert picture("Left", [("a", 0), ("b", 0)], str) is None
