"""What several phones wrote on one sheet is one sheet, whatever order it arrives in."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from clients.barnside.folding import Entry, fold

START = datetime(2026, 3, 2, 16, 0, tzinfo=UTC)


def entry(minute: int, phone: int, kind: str, key: str = "", **values) -> Entry:
    return Entry(key or f"{minute:03}-{phone}", START + timedelta(minutes=minute), phone, kind, values)


def area(name: str, minutes: int, setting: int | None = None) -> dict:
    return {"area": name, "minutes": minutes, "applicator": None, "setting": setting, "reaction": ""}


def test_two_phones_fill_one_sheet_area_by_area_and_field_by_field():
    sheet = fold(
        [
            entry(1, 1, "arrival", no_stop_sign=True),
            entry(3, 1, "areas", areas=[area("Withers", 3)]),
            entry(4, 2, "areas", areas=[area("Loins", 4)]),
            entry(5, 1, "how", ease_before=4),
            entry(6, 2, "how", ease_after=7),
        ]
    )
    assert list(sheet.areas) == ["Withers", "Loins"]
    assert sheet.how == {"ease_before": 4, "ease_after": 7}
    assert sheet.clashes == ()


def test_a_place_filled_differently_by_two_phones_is_told_with_both_versions():
    sheet = fold([entry(1, 1, "how", ease_before=4), entry(2, 2, "how", ease_before=6)])
    (clash,) = sheet.clashes
    assert (clash.what, clash.was, clash.now, sheet.how["ease_before"]) == ("Ease before", 4, 6, 6)


def test_the_same_words_from_two_phones_are_no_clash():
    assert not fold([entry(1, 1, "how", note="Calm."), entry(2, 2, "how", note="Calm.")]).clashes


def test_a_phone_may_change_its_own_mind():
    sheet = fold([entry(1, 1, "areas", areas=[area("Hocks", 3)]), entry(2, 1, "areas", areas=[area("Hocks", 5)])])
    assert (sheet.areas["Hocks"]["minutes"], sheet.clashes) == (5, ())


def test_a_clash_is_over_when_the_later_phone_takes_the_other_version():
    sheet = fold([entry(1, 1, "how", ease_after=4), entry(2, 2, "how", ease_after=6), entry(3, 2, "how", ease_after=4)])
    assert (sheet.how, sheet.clashes) == ({"ease_after": 4}, ())


def test_an_area_without_minutes_is_taken_out():
    assert not fold(
        [entry(1, 1, "areas", areas=[area("Hocks", 3)]), entry(2, 1, "areas", areas=[{"area": "Hocks", "minutes": 0}])]
    ).areas


ENTRIES = st.lists(
    st.builds(
        lambda minute, phone, name, minutes, number: entry(
            minute, phone, "areas", key=f"{number:06}", areas=[area(name, minutes)]
        ),
        st.integers(0, 20),
        st.integers(1, 3),
        st.sampled_from(["Withers", "Loins", "Hocks"]),
        st.integers(0, 5),
        st.integers(0, 999_999),
    ),
    max_size=12,
    unique_by=lambda each: each.key,
)


@given(ENTRIES, st.randoms())
def test_the_order_of_arrival_does_not_matter(entries, chance):
    shuffled = list(entries)
    chance.shuffle(shuffled)
    assert fold(shuffled) == fold(entries)


@given(ENTRIES)
def test_an_entry_that_arrives_twice_changes_nothing(entries):
    assert fold([*entries, *entries]) == fold(entries)
