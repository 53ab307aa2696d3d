import pytest
from crispy_forms.layout import Div, Layout
from crispy_forms.utils import render_crispy_form
from django import forms

from backoffice.ui.forms import Form
from tests.backoffice.ui.test_fields import GOOD

pytestmark = pytest.mark.urls("tests.backoffice.ui.pages")


def test_a_fresh_form_has_labels_help_and_a_way_back(as_owner_manager):
    answer = as_owner_manager.get("/form/")
    html = answer.content.decode()
    assert answer.status_code == 200
    assert '<label for="id_minutes">Minutes</label>' in html
    assert 'aria-describedby="id_minutes_helptext"' in html
    assert 'id="id_minutes_helptext">Hands-on time.' in html
    assert 'Note <span class="optional">optional</span>' in html
    assert '<a class="button quiet" href="/people/">Back without saving</a>' in html
    assert "error-summary" not in html


def test_a_wrong_form_says_so_above_and_at_the_field_and_loses_nothing(as_owner_manager):
    typed = {**GOOD, "minutes": "900", "note": "<script>alert('🐴')</script>"}
    answer = as_owner_manager.post("/form/", typed)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert '<a href="#id_minutes">Minutes: Write 240 or less.</a>' in html
    assert 'aria-describedby="id_minutes_helptext id_minutes_error"' in html
    assert 'id="id_minutes_error"' in html
    assert 'aria-invalid="true"' in html
    assert 'value="900"' in html
    assert "&lt;script&gt;alert(&#x27;🐴&#x27;)&lt;/script&gt;" in html
    assert "<title>Please look again: A visit" in html


def test_five_megabytes_of_text_get_a_sentence(as_owner_manager):
    answer = as_owner_manager.post("/form/", {**GOOD, "note": "y" * 5_000_000})
    assert answer.status_code == 422
    assert "this has 5000000." in answer.content.decode()
    assert "y" * 5_000_000 in answer.content.decode()


def test_a_refusal_is_shown_above_the_form_with_what_was_typed(as_owner_manager):
    answer = as_owner_manager.post("/form/", {**GOOD, "note": "as typed"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "That time is taken." in html
    assert "as typed" in html


class Arrival(Form):
    layout = Layout(Div("seen", "time"), "note")
    seen = forms.CharField()
    note = forms.CharField()
    time = forms.CharField()

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        del self.fields["time"]


def test_a_form_that_left_a_field_out_leaves_its_place_out_and_logs_nothing(caplog):
    for _ in range(2):
        page = render_crispy_form(Arrival())
        assert 'name="seen"' in page
        assert 'name="note"' in page
        assert 'name="time"' not in page
    assert not caplog.records
    assert Arrival.layout.fields[0].fields == ["seen", "time"]
