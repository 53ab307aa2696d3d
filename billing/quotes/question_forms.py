from django import forms

from backoffice.ui.forms import Form
from backoffice.ui.spoken import Spoken


class QuestionForm(Form):
    text = forms.CharField(max_length=1000, widget=forms.Textarea(attrs={"rows": 3}), label="Your question")


class AnswerForm(Spoken, Form):
    spoken = ("answer",)

    answer = forms.CharField(
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 6}),
        label="Your answer",
        help_text="It is mailed and stands under the question on the owner's page.",
    )
