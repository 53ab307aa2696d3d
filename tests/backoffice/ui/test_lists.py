import csv
import io

import pytest
from openpyxl import load_workbook

from backoffice.access.powers import Role
from tests.factories.backoffice import UserFactory

pytestmark = pytest.mark.urls("tests.backoffice.ui.pages")


@pytest.fixture
def team(owner_manager):
    UserFactory(username="amber", last_name="Quarrie", role=Role.ASSISTANT)
    UserFactory(username="birch", last_name="Quarrie", role=Role.BOOKKEEPER)


def text(answer) -> str:
    return answer.content.decode()


def test_a_list_shows_its_rows_figures_and_the_way_to_add_one(as_owner_manager, team):
    html = text(as_owner_manager.get("/people/"))
    assert "amber" in html
    assert '<td data-label="Owed" class="num">$' in html
    assert '<span class="chip ready">' in html
    assert 'href="/form/"' in html
    assert "3 in all" in html


def test_every_word_of_a_search_must_be_found(as_owner_manager, team):
    html = text(as_owner_manager.get("/people/", {"q": "quarrie amb"}))
    assert "amber" in html
    assert "birch" not in html


def test_a_filter_narrows_and_stays_open(as_owner_manager, team):
    html = text(as_owner_manager.get("/people/", {"role": "bookkeeper"}))
    assert "birch" in html
    assert "amber" not in html
    assert '<details class="filters" open>' in html
    assert "Filter (1)" in html


def test_a_list_sorts_both_ways_and_says_so(as_owner_manager, team):
    up = text(as_owner_manager.get("/people/", {"sort": "username"}))
    down = text(as_owner_manager.get("/people/", {"sort": "-username"}))
    assert up.index("amber") < up.index("birch")
    assert down.index("birch") < down.index("amber")
    assert 'aria-sort="ascending"' in up
    assert 'aria-sort="descending"' in down


def test_a_long_list_comes_in_pages_and_sorting_starts_at_the_first(as_owner_manager, team):
    UserFactory.create_batch(30)
    html = text(as_owner_manager.get("/people/", {"page": "2"}))
    assert "Page 2 of 2" in html
    assert "33 in all" in html
    assert "?sort=username" in html
    assert "page=2&amp;sort" not in html


@pytest.mark.parametrize(
    "asked",
    [
        {"page": "99999999999999999999"},
        {"page": "-1"},
        {"page": "two"},
        {"sort": "password"},
        {"role": "emperor"},
        {"q": "\x00"},
        {"q": "z" * 5000},
        {"q": "' OR 1=1 --"},
        {"_export": "exe"},
    ],
)
def test_an_address_made_up_by_hand_still_opens(as_owner_manager, team, asked):
    assert as_owner_manager.get("/people/", asked).status_code == 200


def test_a_search_that_finds_nothing_offers_everything(as_owner_manager, team):
    html = text(as_owner_manager.get("/people/", {"q": "nobody by this name"}))
    assert "Nothing matches" in html
    assert '<a class="button primary" href="/people/">Show everything</a>' in html


def test_an_empty_list_says_what_to_do_next(as_owner_manager, team):
    html = text(as_owner_manager.get("/people/", {"nobody": ""}))
    assert "Nobody yet" in html
    assert '<a class="button primary" href="/form/">Make one</a>' in html


def test_htmx_gets_the_rows_only_and_caches_know(as_owner_manager, team):
    answer = as_owner_manager.get("/people/", {"q": "amber"}, headers={"HX-Request": "true"})
    assert "<html" not in text(answer)
    assert "amber" in text(answer)
    assert "HX-Request" in answer["Vary"]


def test_going_back_in_the_browser_gets_the_whole_page(as_owner_manager, team):
    headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert "<html" in text(as_owner_manager.get("/people/", headers=headers))


def test_an_export_holds_every_row_that_the_search_left(as_owner_manager, team):
    UserFactory.create_batch(30, last_name="Quarrie")
    answer = as_owner_manager.get("/people/", {"q": "quarrie", "_export": "csv"})
    rows = list(csv.DictReader(io.StringIO(text(answer))))
    assert len(rows) == 32
    assert rows[0]["Username"] == "amber"
    assert rows[0]["Role"] == "Assistant"
    assert rows[0]["Owed"].isdigit()
    assert 'filename="team-' in answer["Content-Disposition"]


def test_a_spreadsheet_gets_numbers_and_dates_as_such(as_owner_manager, team):
    answer = as_owner_manager.get("/people/", {"_export": "xlsx"})
    sheet = load_workbook(io.BytesIO(answer.content)).active
    header, first = (list(row) for row in sheet.iter_rows(max_row=2, values_only=True))
    values = dict(zip(header, first, strict=True))
    assert isinstance(values["Owed"], int)
    assert values["Date joined"].year >= 2026


def test_a_name_that_a_spreadsheet_would_run_is_kept_as_text(as_owner_manager, team):
    UserFactory(username="=1+1")
    rows = text(as_owner_manager.get("/people/", {"_export": "csv"}))
    assert "'=1+1" in rows


@pytest.mark.parametrize("rows", [1, 30])
def test_a_list_asks_the_database_the_same_number_of_questions(as_owner_manager, team, rows, django_assert_num_queries):
    UserFactory.create_batch(rows)
    with django_assert_num_queries(5):  # session, user, business, count, rows
        as_owner_manager.get("/people/")
