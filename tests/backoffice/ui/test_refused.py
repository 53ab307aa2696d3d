import pytest

pytestmark = pytest.mark.urls("tests.backoffice.ui.pages")
SENTENCE = "The vet&#x27;s answer is not on file."


def test_a_refused_page_says_why_and_that_nothing_changed(as_owner_manager):
    answer = as_owner_manager.get("/refuse/", headers={"Referer": "http://testserver/people/?q=a"})
    assert answer.status_code == 409
    assert SENTENCE in answer.content.decode()
    assert "Nothing was changed." in answer.content.decode()
    assert 'href="/people/?q=a"' in answer.content.decode()


def test_a_refused_button_comes_back_to_its_page_with_the_sentence(as_owner_manager):
    answer = as_owner_manager.post("/refuse/", headers={"Referer": "http://testserver/people/"})
    assert (answer.status_code, answer["Location"]) == (303, "/people/")
    assert SENTENCE in as_owner_manager.get("/people/").content.decode()


def test_a_refused_form_does_not_go_away_from_what_was_typed(as_owner_manager):
    answer = as_owner_manager.post("/refuse/", {"note": "long"}, headers={"Referer": "http://testserver/people/"})
    assert answer.status_code == 409


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/people/", "javascript:alert(1)", "//x.example/", ""])
def test_nobody_is_sent_to_another_site(as_owner_manager, elsewhere):
    answer = as_owner_manager.post("/refuse/", headers={"Referer": elsewhere})
    assert answer.status_code == 409
    assert "Back to where you were" not in answer.content.decode()


def test_a_page_that_refuses_itself_is_not_a_way_back(as_owner_manager):
    answer = as_owner_manager.post("/refuse/", headers={"Referer": "http://testserver/refuse/"})
    assert answer.status_code == 409


def test_htmx_gets_the_sentence_where_messages_stand(as_owner_manager):
    answer = as_owner_manager.post("/refuse/", {"note": "x"}, headers={"HX-Request": "true"})
    assert answer.status_code == 409
    assert answer["HX-Retarget"] == "#messages"
    assert SENTENCE in answer.content.decode()
    assert "<html" not in answer.content.decode()
    assert SENTENCE not in as_owner_manager.get("/people/").content.decode()
