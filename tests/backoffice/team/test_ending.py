"""How long somebody stays signed in."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from backoffice.team.models import SignedIn

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)


@pytest.fixture
def visit(client, owner_manager):
    """Opens Today so long after signing in, and says what became of it."""
    with time_machine.travel(START, tick=False):
        client.force_login(owner_manager)

    def opened(after: timedelta) -> int:
        with time_machine.travel(START + after, tick=False):
            return client.get("/").status_code

    return opened


def test_within_a_week_one_stays_signed_in(visit):
    assert visit(timedelta(days=7)) == 200


def test_a_week_of_quiet_ends_it(visit, client):
    assert visit(timedelta(days=7, minutes=1)) == 302
    assert not SignedIn.objects.exists()
    assert "_auth_user_id" not in client.session


def test_a_month_ends_it_however_busy(visit):
    assert [visit(timedelta(days=day)) for day in range(5, 31, 5)] == [200] * 6
    assert visit(timedelta(days=30, minutes=1)) == 302
