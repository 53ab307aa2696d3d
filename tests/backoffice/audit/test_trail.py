from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection

from backoffice.audit import actions as audit
from backoffice.audit.models import Entry, Head
from backoffice.audit.queries import breaks_in_chain, trail_of
from backoffice.refusal import Refused


@pytest.fixture
def five_entries(business, owner_manager, now):
    return [
        audit.record(f"step {step}", business, at=now + timedelta(minutes=step), by=owner_manager) for step in range(5)
    ]


def by_hand(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


def test_a_new_trail_is_whole(business):
    assert list(breaks_in_chain()) == []


def test_entries_are_numbered_from_one_without_a_gap(five_entries):
    assert [entry.number for entry in five_entries] == [1, 2, 3, 4, 5]
    assert list(breaks_in_chain()) == []


def test_each_entry_carries_the_hash_of_the_one_before(five_entries):
    assert [entry.previous_hash for entry in five_entries[1:]] == [entry.hash for entry in five_entries[:-1]]


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE backoffice_entry SET action = 'nothing happened' WHERE number = 3",
        "UPDATE backoffice_entry SET by_id = NULL WHERE number = 3",
        "UPDATE backoffice_entry SET target_pk = '99' WHERE number = 3",
        "UPDATE backoffice_entry SET at = '2020-01-01 00:00:00+00:00' WHERE number = 3",
        """UPDATE backoffice_entry SET changes = '{"amount": "1"}' WHERE number = 3""",
        "UPDATE backoffice_entry SET via = 'a link' WHERE number = 3",
    ],
)
def test_any_changed_fact_is_named(five_entries, change):
    by_hand(change)
    assert list(breaks_in_chain()) == ["audit: entry 3 was changed after it was written."]


def test_a_removed_entry_is_named(five_entries):
    by_hand("DELETE FROM backoffice_entry WHERE number = 3")
    assert "audit: entry 3 is missing (the next one found is 4)." in list(breaks_in_chain())


def test_a_removed_end_is_named(five_entries):
    by_hand("DELETE FROM backoffice_entry WHERE number = 5")
    assert list(breaks_in_chain()) == ["audit: the trail ends at entry 4, its head says 5."]


def test_a_trail_removed_whole_is_named(five_entries):
    by_hand("DELETE FROM backoffice_entry")
    assert list(breaks_in_chain()) == ["audit: the trail ends at entry 0, its head says 5."]


def test_an_entry_slipped_in_is_named(five_entries):
    by_hand(
        "INSERT INTO backoffice_entry (number, at, action, target, target_pk, changes, previous_hash, hash, via) "
        "VALUES (6, '2026-03-02 17:00:00+00:00', 'x', 'y', '1', '{}', 'z', 'z', '')"
    )
    found = list(breaks_in_chain())
    assert "audit: entry 6 does not follow the entry before it." in found
    assert "audit: the trail ends at entry 6, its head says 5." in found


def test_entries_are_not_deleted_by_our_own_code(five_entries):
    with pytest.raises(TypeError):
        five_entries[0].delete()


def test_a_failed_action_leaves_no_entry(business, owner_manager, now):
    @audit.action
    def refuse() -> None:
        audit.record("went ahead", business, at=now, by=owner_manager)
        raise Refused("No.")

    with pytest.raises(Refused):
        refuse()
    assert not Entry.objects.exists()
    assert not Head.objects.filter(number__gt=0).exists()


def test_the_head_is_locked_before_the_action_begins(business, django_assert_max_num_queries):
    seen = []

    @audit.action
    def look() -> None:
        seen.append(Head.objects.filter(pk=1).exists())

    look()
    assert seen == [True]


def test_values_are_kept_as_plain_json(business, owner_manager, now):
    changes = {
        "who": owner_manager,
        "amount": Decimal("95.50"),
        "days": (1, 2),
        "at": now,
        "none": None,
        "inner": {"a": 1},
    }
    entry = audit.record("changed", business, at=now, by=owner_manager, changes=changes)
    entry.refresh_from_db()
    assert entry.changes == {
        "who": owner_manager.pk,
        "amount": "95.50",
        "days": [1, 2],
        "at": "2026-03-02 17:00:00+00:00",
        "none": None,
        "inner": {"a": 1},
    }
    assert list(breaks_in_chain()) == []


def test_the_trail_of_one_thing_is_newest_first(business, owner_manager, now):
    audit.record("first", business, at=now, by=owner_manager)
    audit.record("other", owner_manager, at=now, by=owner_manager)
    audit.record("second", business, at=now, by=None, via="command")
    assert [entry.action for entry in trail_of(business)] == ["second", "first"]


def test_undoing_is_for_use_inside_an_action():
    with pytest.raises(RuntimeError):
        audit.on_failure(lambda: None)
