"""From an empty database to the first quote in the owner's hand, by what the screens offer, on a phone."""

from collections.abc import Callable
from time import monotonic

import pytest

from tests.journeys.conftest import PASSWORD
from tests.journeys.walk import Walk

pytestmark = pytest.mark.browser

PERSON, BARN, HORSE, GUIDELINE = "Ottilie Brackwater", "Copper Hasp Stables", "Biscuit", "Twice a week"


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_an_empty_house_makes_its_first_quote(
    transactional_db: None, private_folder: object, new_walk: Callable[[], Walk], capsys: pytest.CaptureFixture[str]
) -> None:
    walk, began = new_walk(), monotonic()
    name_the_business(walk)
    write_down_prices(walk)
    draw_a_guideline(walk)
    log_the_enquiry(walk)
    offer_the_quote(walk)
    with capsys.disabled():
        took = monotonic() - began
        print(f"\nfirst quote: {walk.clicks} clicks, {walk.keystrokes} keystrokes, {took:.0f} s by the machine")  # noqa: T201
    assert walk.faults == []


def name_the_business(walk: Walk) -> None:
    walk.open("/")
    walk.look("50-welcome")
    walk.write(business_name="Ashgrove Horse Sessions", first_name="Odalys", username="odalys")
    walk.write(password=PASSWORD, password_again=PASSWORD)
    walk.press("Make the business and sign in")
    walk.press("Today", within="nav.bar")
    walk.look("51-first-steps")


def write_down_prices(walk: Walk) -> None:
    walk.press("Write down your first prices")
    walk.look("52-first-prices")
    walk.write(full_price="95", spot_price="45", call_out="30")
    walk.press("Save the prices")
    walk.says("$95.00", "$45.00", "$30.00")
    walk.look("53-prices")


def draw_a_guideline(walk: Walk) -> None:
    walk.press("Today", within="nav.bar")
    walk.press("Say how often you would come")
    walk.look("54-guidelines")
    walk.press("New guideline")
    walk.write(
        **{
            "guideline-name": GUIDELINE,
            "guideline-goal": "Ongoing maintenance",
            "phases-0-days": "28",
            "phases-0-full_every": "4",
            "phases-0-spots_per_day": "one a day",
            "version-source": "My own experience.",
        }
    )
    walk.page.locator("#drawing .strip").first.wait_for()
    walk.look("55-guideline")
    walk.press("Publish")
    walk.look("56-guideline-published")


def log_the_enquiry(walk: Walk) -> None:
    walk.press("Today", within="nav.bar")
    walk.press("Log the first enquiry")
    walk.write(name=PERSON, barn_name=BARN, horse_name=HORSE)
    walk.press("Save the enquiry")
    walk.look("57-person")


def offer_the_quote(walk: Walk) -> None:
    walk.press("Today", within="nav.bar")
    walk.press("Lay out the first quote")
    walk.write(person=PERSON)
    walk.press("Go on")
    guideline = walk.page.locator("[name=guideline_version] option", has_text=GUIDELINE).inner_text()
    walk.write(title="Steady upkeep", goal="Ongoing maintenance", guideline_version=guideline)
    walk.look("58-quote")
    walk.press("Lay out the options")
    # weekly: four full bodies at 95 and four call-outs at 30
    walk.says("Weekly", "$500.00")
    walk.look("59-options")
    walk.press("Offer to the owner")
    walk.says("/p/quote/")
    walk.look("60-offered")
