import pytest

from billing.quotes.comparison import compare
from billing.quotes.covering import say_coverage
from clients.plans.cadence import Phase
from clients.plans.coverage import Guideline
from tests.billing.quotes.requests import option, request, visits

GUIDELINE = Guideline((Phase(28, full_every=3, spots_per_day=1),), tolerance_days=1)


@pytest.mark.parametrize(
    ("every", "guideline", "sentence"),
    [
        (
            3,
            GUIDELINE,
            "600 of the guideline's 960 minutes: 10 of 10 full bodies of 60 min, 0 of 18 spots of 20 min. "
            "A full body counts up to 1 day off the guideline's day.",
        ),
        (
            7,
            Guideline((Phase(28, full_every=7),)),
            "240 of the guideline's 240 minutes: 4 of 4 full bodies of 60 min. "
            "A full body counts on the guideline's own day.",
        ),
        (7, None, ""),
    ],
)
def test_coverage_is_said_so_that_it_can_be_checked(every, guideline, sentence):
    """The first row is the worked table of pricing.md."""
    asked = request(option("one", visits(Phase(28, full_every=every))), guideline=guideline)
    assert say_coverage(asked, compare(asked).options[0].coverage) == sentence
