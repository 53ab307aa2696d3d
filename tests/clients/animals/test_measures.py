"""Measures over time: written down as given, bounded by their scale, shown without a verdict."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.animals.measure_chart import draw, value_ticks
from clients.animals.measuring import take_measure, take_measure_back
from clients.animals.models import Measure
from clients.animals.scales import EASE, SCALES
from clients.visits.models import Session
from tests.conftest import NOW
from tests.factories.clients import AnimalFactory
from tests.factories.visits import VisitFactory

TODAY = date(2026, 3, 2)
Kind = Measure.Kind


@pytest.fixture(autouse=True)
def _on_monday(time_machine):
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def toto(business):
    return AnimalFactory(name="Toto")


@pytest.fixture
def take(toto, owner_manager):
    def take(kind: Kind, value, on: date = TODAY, **more) -> Measure:
        more = {"given_by": "Marta Holt-Adair", **more}
        return take_measure(animal=toto, kind=kind, value=value, on=on, at=NOW, by=owner_manager, **more)

    return take


def test_a_weight_by_tape_keeps_what_was_measured_and_what_it_gives(take):
    measure = take(Kind.TAPE, (Decimal(185), Decimal(165)))
    assert (measure.girth_cm, measure.length_cm, measure.value) == (185, 165, Decimal("474.5"))
    assert measure.words == "474.5 kg (1,046 lb)"
    assert [entry.action for entry in trail_of(measure)] == ["measure taken"]


@pytest.mark.parametrize(
    ("kind", "value", "more", "sentence"),
    [
        (Kind.CONDITION, Decimal(10), {}, "Body condition is between 1 and 9."),
        (Kind.CONDITION, Decimal("4.3"), {}, "Body condition goes in steps of 0.5."),
        (Kind.HEART, Decimal("36.5"), {}, "Heart rate at rest goes in steps of 1."),
        (Kind.HEART, Decimal(3), {}, "Heart rate at rest is between 10 and 300 a minute."),
        (Kind.GRIMACE, Decimal(13), {}, "Horse Grimace Scale is between 0 and 12."),
        (Kind.LAMENESS, Decimal(2), {"given_by": " "}, "Say who gave the value: the vet."),
        (Kind.TAPE, Decimal(500), {}, "reckoned from girth and length"),
        (Kind.TAPE, (Decimal(20), Decimal(30)), {}, "Weight by tape is between 20 and 1500 kg."),
        (Kind.HEART, (Decimal(36), Decimal(36)), {}, "reckoned from girth and length"),
        (Kind.HEART, Decimal(36), {"on": date(2026, 3, 3)}, "still to come"),
    ],
)
def test_a_value_off_its_scale_is_refused(take, kind, value, more, sentence):
    with pytest.raises(Refused, match=sentence):
        take(kind, value, **more)
    assert not Measure.objects.exists()


def test_the_database_holds_a_tape_to_its_girth_and_length(take):
    measure = take(Kind.HEART, Decimal(36))
    with pytest.raises(IntegrityError):
        Measure.objects.filter(pk=measure.pk).update(kind=Kind.TAPE)


def test_a_slip_is_taken_back_and_the_trail_keeps_that_it_was_there(take, owner_manager):
    measure = take(Kind.HEART, Decimal(36))
    trail = trail_of(Measure(pk=measure.pk))
    take_measure_back(measure=measure, at=NOW, by=owner_manager)
    assert not Measure.objects.exists()
    assert [entry.action for entry in trail.all()] == ["measure taken back", "measure taken"]


def test_the_chart_places_days_and_values_in_proportion():
    rows = [(date(2026, 1, 1), Decimal(1)), (date(2026, 1, 11), Decimal(5)), (date(2026, 1, 21), Decimal(9))]
    chart = draw(SCALES["condition"], [("", rows)])
    first, middle, last = chart.lines[0].dots
    assert middle.x == pytest.approx((first.x + last.x) / 2, abs=0.1)
    assert middle.y == pytest.approx((first.y + last.y) / 2, abs=0.1)
    assert first.y == chart.bottom
    assert [tick.label for tick in chart.value_ticks] == ["1", "3", "5", "7", "9"]


def test_one_day_makes_no_course():
    assert draw(SCALES["heart"], [("", [(TODAY, Decimal(36))] * 3)]) is None
    assert draw(EASE, [("before", []), ("after", [])]) is None


@pytest.mark.parametrize(
    ("values", "ticks"),
    [((474, 512), [460, 480, 500, 520]), ((36, 36), [36, 37]), ((28, 44), [20, 30, 40, 50])],
)
def test_an_open_scale_has_round_ticks_around_its_values(values, ticks):
    assert value_ticks(SCALES["heart"], [Decimal(value) for value in values]) == ticks


def test_the_page_names_each_scale_and_says_that_it_is_no_verdict(as_assistant, take, toto, owner_manager):
    take(Kind.CONDITION, Decimal(5), date(2026, 1, 5))
    take(Kind.CONDITION, Decimal("5.5"), note="Winter coat")
    visit = VisitFactory(animal=toto, completed=True)
    Session.objects.create(visit=visit, service=visit.service, minutes=60, ease_before=4, ease_after=7)
    page = as_assistant.get(reverse("clients:measures", args=[toto.pk])).content.decode()
    for words in ("Henneke", "not a verdict", "Winter coat", "own scale of 0 to 10", 'id="chart-condition-title"'):
        assert words in page
    assert f'href="{visit.get_absolute_url()}"' in page
    horse = as_assistant.get(toto.get_absolute_url()).content.decode()
    assert "5.5" in horse


def test_inches_of_a_practice_that_writes_in_them_are_kept_in_centimeters(as_assistant, toto):
    address = reverse("clients:measure-new", args=[toto.pk, "tape"])
    said = {"girth": "72.8", "length": "65", "taken_on": "2026-03-02", "given_by": "Wren"}
    assert "Girth, inches" in as_assistant.get(address).content.decode()
    assert as_assistant.post(address, said).status_code == 302
    measure = Measure.objects.get()
    assert (measure.girth_cm, measure.length_cm) == (Decimal("184.9"), Decimal("165.1"))


@pytest.mark.parametrize(
    ("kind", "said", "sentence"),
    [
        ("tape", {"girth": "185", "length": "165"}, "A tape around or along a horse shows between 16 and 110."),
        ("condition", {"number": "12"}, "Body condition is between 1 and 9."),
        ("heart", {"number": ""}, "a minute is missing."),
        ("lameness", {"number": "2", "given_by": ""}, "The vet who graded it is missing."),
        ("condition", {"number": "5", "taken_on": "2026-03-03"}, "still to come"),
    ],
)
def test_a_bad_value_gets_a_sentence_and_loses_nothing(as_assistant, toto, kind, said, sentence):
    said = {"taken_on": "2026-03-02", "given_by": "Wren", "note": "Stood well", **said}
    page = as_assistant.post(reverse("clients:measure-new", args=[toto.pk, kind]), said).content.decode()
    assert sentence in page
    assert "Stood well" in page
    assert not Measure.objects.exists()


def test_the_page_takes_the_same_queries_at_2_and_at_30_values(
    as_owner_manager, take, toto, django_assert_max_num_queries
):
    for kind in (Kind.HEART, Kind.BREATHING):
        for day in range(1, 16):
            take(kind, Decimal(30 + day), date(2026, 2, day))
    with django_assert_max_num_queries(10):
        as_owner_manager.get(reverse("clients:measures", args=[toto.pk]))


def test_a_bookkeeper_sees_and_changes_no_measure(as_bookkeeper, take, toto):
    measure = take(Kind.HEART, Decimal(36))
    assert as_bookkeeper.get(reverse("clients:measures", args=[toto.pk])).status_code == 403
    assert as_bookkeeper.get(reverse("clients:measure-new", args=[toto.pk, "heart"])).status_code == 403
    assert as_bookkeeper.post(reverse("clients:measure-take-back", args=[measure.pk])).status_code == 403
    assert as_bookkeeper.get(reverse("clients:measure-new", args=[toto.pk, "mood"])).status_code in (403, 404)


def test_an_unknown_scale_is_not_found(as_assistant, toto):
    assert as_assistant.get(reverse("clients:measure-new", args=[toto.pk, "mood"])).status_code == 404


def test_a_slip_is_taken_back_on_the_page(as_assistant, take, toto):
    measure = take(Kind.HEART, Decimal(36))
    as_assistant.post(reverse("clients:measure-take-back", args=[measure.pk]))
    assert not Measure.objects.exists()
