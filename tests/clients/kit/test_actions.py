from datetime import date

import pytest

from backoffice.refusal import Refused
from clients.kit.actions import take_back
from tests.factories.kit import HireFactory

pytestmark = pytest.mark.django_db


def test_a_machine_is_taken_back_once(now):
    hire = take_back(hire=HireFactory(), on=date(2026, 3, 20), at=now, by=None)
    assert hire.returned_on == date(2026, 3, 20)
    with pytest.raises(Refused, match="back already"):
        take_back(hire=hire, on=date(2026, 3, 21), at=now, by=None)


def test_a_machine_cannot_come_back_before_it_went(now):
    with pytest.raises(Refused, match="before the hire begins"):
        take_back(hire=HireFactory(), on=date(1926, 3, 1), at=now, by=None)
