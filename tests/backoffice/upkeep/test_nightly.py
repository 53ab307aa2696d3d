import io
from datetime import timedelta

import pytest
import time_machine
from django.core.management import call_command

from clients.paperwork.models import Form
from tests.conftest import NOW
from tests.factories.paperwork import ready_animal

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business")]


def test_the_nights_work_makes_a_form_for_what_ends_soon_and_says_how_many():
    ready_animal()
    Form.objects.update(valid_until=NOW.date() + timedelta(days=3))
    said = io.StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("nightly", stdout=said)
    assert Form.objects.filter(state=Form.State.TO_SIGN).count() == 1
    assert "1 form made for what ends soon." in said.getvalue()
