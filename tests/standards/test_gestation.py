"""About 340 days, with a spread of 320 to 362: seen in secondary pages, so it is always shown as “about”."""

from datetime import date

from clients.animals.models import HealthFact


def test_a_foal_is_due_about_340_days_after_covering():
    fact = HealthFact(kind="in_foal", state="yes", covered_on=date(2026, 3, 2))
    assert fact.due_about == date(2027, 2, 5)
    assert 320 <= (fact.due_about - fact.covered_on).days <= 362


def test_without_a_covering_date_no_day_is_guessed():
    assert HealthFact(kind="in_foal", state="yes").due_about is None
