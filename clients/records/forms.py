from typing import Any

from django import forms

from backoffice.ui.forms import Form
from clients.records.models import HistoryFile


class HistoryForm(Form):
    reader = forms.ChoiceField(label="For whom", choices=HistoryFile.Reader.choices, widget=forms.RadioSelect)
    shape = forms.ChoiceField(
        label="As",
        choices=[("pdf", "One PDF"), ("zip", "One ZIP: the PDF, JSON for a program, a plain index")],
        initial="pdf",
        widget=forms.RadioSelect,
    )
    with_earlier = forms.BooleanField(
        label="The earlier owner said yes: take their days along",
        required=False,
        help_text="Without it the file begins with the owners of today.",
    )

    def __init__(self, *args: Any, has_earlier: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_earlier:
            del self.fields["with_earlier"]
