"""The profile is read once a page, and a change of it is seen at once."""

from backoffice.business.models import Business
from backoffice.business.queries import held, the_business


def test_a_page_that_changes_nothing_reads_the_profile_once(business, django_assert_num_queries):
    with held(business), django_assert_num_queries(0):
        assert the_business() is business


def test_what_is_held_is_let_go_with_the_page(as_owner_manager, business):
    as_owner_manager.get("/help/")
    Business.objects.update(name="Long Lane")
    assert the_business().name == "Long Lane"
    assert "Long Lane" in as_owner_manager.get("/help/").text


def test_a_change_is_on_the_page_that_follows_it(as_owner_manager, business):
    page = as_owner_manager.get("/settings/business/")
    answers = {name: page.context["form"][name].value() for name in page.context["form"].fields}
    kept = {name: "" if value is None else value for name, value in answers.items() if value is not False}
    seen = as_owner_manager.post("/settings/business/", {**kept, "name": "Long Lane"}, follow=True)
    assert the_business().name == "Long Lane"
    assert "Long Lane" in seen.text
