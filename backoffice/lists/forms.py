from collections.abc import Mapping
from typing import Any

from crispy_forms.layout import Layout
from django import forms

from backoffice.lists.kinds import KINDS, Kind
from backoffice.lists.reading import guessed
from backoffice.ui.forms import Form

LARGEST = 5 * 1024 * 1024


class ReadForm(Form):
    kind = forms.ChoiceField(
        choices=[(name, kind.title) for name, kind in KINDS.items()], label="What is in it", widget=forms.RadioSelect
    )
    file = forms.FileField(
        label="Your list",
        help_text="CSV or XLSX, the first row says what the columns are. Barns and people first, then horses.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.xlsx"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST:
            raise forms.ValidationError("This file is larger than 5 MB. Bring a part of it at a time.")
        return file


class ColumnsForm(Form):
    """What each thing that we ask for is called in the list."""

    def __init__(self, *args: Any, kind: Kind, heading: list[str], problems: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "Not in the list"), *((name, name) for name in heading)]
        for column in kind.columns:
            self.fields[column.key] = forms.ChoiceField(
                choices=choices,
                label=column.label,
                required=column.is_needed,
                initial=guessed(heading, column.names),
                error_messages={
                    "required": f"{column.label}: choose its column.",
                    "invalid_choice": "Choose one from the list.",
                },
            )
        if problems:
            self.fields["leave_out"] = forms.BooleanField(
                required=False, label=f"Leave {'this row' if problems == 1 else f'these {problems} rows'} out"
            )
        self.helper.layout = Layout(*self.fields)

    @property
    def columns(self) -> Mapping[str, str]:
        return {key: name for key, name in self.cleaned_data.items() if key != "leave_out" and name}
