import pytest
from django import forms as fields

from backoffice.access.models import User
from backoffice.business.models import Business
from backoffice.ui import forms
from tests.backoffice.ui.pages import VisitForm

GOOD = {"name": "Tinker's Rest", "on": "2026-03-12", "minutes": "60", "reaction": "calm", "agreed": "on"}


def errors(**typed: str) -> dict[str, list[str]]:
    return VisitForm({**GOOD, **typed}).errors


@pytest.mark.parametrize(
    "name", ["Tinker's Rest", "ريم الصحراء", "Oats 🐴", "Zoë \u200dNoël", "<script>alert(1)</script>"]
)
def test_any_name_that_people_have_is_taken(name):
    assert not errors(name=name)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"name": ""}, "Horse is missing."),
        ({"name": "x" * 201}, "Write at most 200 characters; this has 201."),
        ({"name": "a\x00b"}, "This holds a hidden character (U+0000). Remove it or type it again."),
        ({"name": "a\x1bb"}, "This holds a hidden character (U+001B). Remove it or type it again."),
        ({"note": "y" * 5_000_000}, "Write at most 4000 characters; this has 5000000."),
        ({"minutes": "900"}, "Write 240 or less."),
        ({"minutes": "-3"}, "Write 5 or more."),
        ({"minutes": "sixty"}, "Write a whole number, in figures."),
        ({"minutes": "9" * 5000}, "Write a whole number, in figures."),
        ({"share": "130"}, "Write 100 or less."),
        ({"share": "NaN"}, "Write a number, in figures."),
        ({"on": "1926-01-01"}, "This date is before 1980. Check the year."),
        ({"on": "2926-01-01"}, "This date is after 2100. Check the year."),
        ({"on": "soon"}, "Write a date such as 2026-03-12."),
        ({"born": "1826-01-01"}, "This date is before 1900. Check the year."),
        ({"at": "25:00"}, "Write a time such as 8:30."),
        ({"reaction": "purple"}, "Choose one from the list."),
        ({"reaction": ""}, "Choose an answer."),
        ({"agreed": ""}, "Tick this to go on."),
    ],
)
def test_absurd_input_gets_one_sentence_at_its_field(typed, sentence):
    field = next(iter(typed))
    found = errors(**typed)
    assert list(found) == [field]
    assert sentence in found[field]


def test_a_birthday_may_be_long_ago():
    assert not errors(born="1926-01-01")


def test_line_ends_and_tabs_are_not_hidden_characters():
    assert not errors(note="one\r\ntwo\tthree")


def test_what_was_typed_comes_back_even_where_it_is_not_a_number():
    html = str(VisitForm({**GOOD, "minutes": "about 60", "share": "12,5 %"}))
    assert 'value="about 60"' in html
    assert 'value="12,5 %"' in html
    assert 'type="number"' not in html


def test_no_control_cuts_a_pasted_text_short():
    class Short(forms.Form):
        word = fields.CharField(max_length=5)

    assert "maxlength" not in str(Short())
    assert Short({"word": "too long"}).errors["word"] == ["Write at most 5 characters; this has 8."]


def test_a_form_keeps_the_sentences_and_controls_it_chose_itself():
    class Own(forms.Form):
        day = fields.DateField(widget=fields.HiddenInput, error_messages={"required": "Which day?"})
        spare = fields.JSONField(required=False)

    assert Own({}).errors["day"] == ["Which day?"]
    assert 'type="hidden"' in str(Own()["day"])
    assert Own({"day": "2026-03-12", "spare": str(list(range(1000)))}).is_valid()


def test_numbers_and_moments_without_limits_of_their_own_get_some():
    class Loose(forms.Form):
        count = fields.IntegerField()
        amount = fields.DecimalField()
        moment = fields.DateTimeField()

    found = Loose({"count": "9" * 30, "amount": "-1e30", "moment": "1926-01-01 10:00"}).errors
    assert found["count"] == ["This number is too large."]
    assert found["amount"] == ["This number is too small."]
    assert found["moment"] == ["This date is not between 1980 and 2100. Check the year."]
    assert Loose({"count": "1", "amount": "1", "moment": "later"}).errors["moment"] == [
        "Write a date and a time such as 2026-03-12 8:30."
    ]


def test_the_summary_names_each_field_and_leads_to_it():
    form = VisitForm({**GOOD, "name": "", "minutes": "900", "reaction": ""})
    lines = {line.anchor: line.text for line in form.error_lines()}
    assert lines == {
        "id_name": "Horse is missing.",
        "id_minutes": "Minutes: Write 240 or less.",
        "id_reaction_0": "How was it? Choose an answer.",
    }


def test_an_error_of_the_whole_form_stands_in_the_summary_alone():
    form = VisitForm(GOOD)
    form.add_error(None, "That time is taken.")
    assert [(line.anchor, line.text) for line in form.error_lines()] == [("", "That time is taken.")]


@pytest.mark.django_db
def test_numbers_keep_the_limits_of_the_model_in_our_words():
    class DaysForm(forms.ModelForm):
        class Meta:
            model = Business
            fields = ("payment_days", "quote_days")

    found = DaysForm({"payment_days": "366", "quote_days": "0"}).errors
    assert found == {"payment_days": ["Write 365 or less."], "quote_days": ["Write 1 or more."]}


@pytest.mark.django_db
def test_a_form_may_be_stricter_than_the_model_but_not_looser():
    class StrictForm(forms.ModelForm):
        payment_days = fields.IntegerField(max_value=30)
        quote_days = fields.IntegerField(max_value=9999)

        class Meta:
            model = Business
            fields = ("payment_days", "quote_days")

    found = StrictForm({"payment_days": "31", "quote_days": "366"}).errors
    assert found == {"payment_days": ["Write 30 or less."], "quote_days": ["Write 365 or less."]}


@pytest.mark.django_db
def test_an_empty_choice_asks_in_words_instead_of_dashes():
    class ChooseForm(forms.ModelForm):
        person = fields.ModelChoiceField(User.objects.all())
        other = fields.ModelChoiceField(User.objects.all(), required=False, empty_label="Nobody")

        class Meta:
            model = Business
            fields = ("paper",)

    html = str(ChooseForm())
    assert "Choose one" in html
    assert "Nobody" in html
    assert "-----" not in html
