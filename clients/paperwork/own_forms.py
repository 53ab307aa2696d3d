from typing import Any

from crispy_forms.layout import Fieldset, Layout
from django import forms

from backoffice.access.models import User
from backoffice.documents.fields import ScanField
from backoffice.ui.forms import Form
from clients.paperwork.own_models import OwnPaper
from clients.paperwork.scan_forms import HOW_TO_SCAN, KeepsNoFile


class RenewalForm(KeepsNoFile, Form):
    """What stands on the new paper; all else is as on the one that it follows."""

    scan = ScanField(label="Scan", help_text=HOW_TO_SCAN, required=False)
    issuer = forms.CharField(label="Who issued it", max_length=120)
    number = forms.CharField(label="Number on it", max_length=60, required=False)
    since = forms.DateField(label="First day")
    until = forms.DateField(label="Last day")

    layout = Layout("issuer", "number", "since", "until", "scan")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        since, until = given.get("since"), given.get("until")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first.")
        return given


class OwnPaperForm(RenewalForm):
    kind = forms.ChoiceField(choices=OwnPaper.Kind.choices, widget=forms.RadioSelect)
    holder = forms.ModelChoiceField(
        User.objects.filter(is_active=True),
        label="Whose it is",
        required=False,
        empty_label="The business as a whole",
        help_text="A paper of one person counts for that person's visits only.",
    )
    uses_machine = forms.TypedChoiceField(
        label="For which work",
        choices=[("", "All work"), ("yes", "Work with a machine"), ("no", "Work by hand")],
        coerce=lambda value: value == "yes",
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )
    place = forms.CharField(
        label="Only for this state or country",
        max_length=80,
        required=False,
        help_text="As under Settings, Business. Empty: everywhere.",
    )

    layout = Layout(
        Fieldset("The paper", "kind", "holder", "issuer", "number"),
        Fieldset("Days on which it holds", "since", "until"),
        Fieldset("What it is for", "uses_machine", "place"),
        Fieldset("A copy of it", "scan"),
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("kind") == OwnPaper.Kind.VEHICLE:
            for name in ("uses_machine", "place"):
                if given.get(name) not in (None, ""):
                    self.add_error(name, "A vehicle's paper counts for every visit: leave this open.")
        return given


class EndForm(Form):
    last_day = forms.DateField(label="Last day on which it holds")
    why = forms.CharField(label="Why, in a few words", max_length=300)


class DropForm(Form):
    is_mistake = forms.TypedChoiceField(
        label="What is it?",
        choices=[("no", "It is not needed any more"), ("yes", "It was written down wrongly")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )
    why = forms.CharField(label="Why, in a few words", max_length=300)
