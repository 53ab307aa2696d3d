from datetime import date
from typing import Any

from crispy_forms.layout import Fieldset, Layout
from django import forms

from backoffice.documents.fields import ScanField
from clients.paperwork.forms import SignerForm, VetForm
from clients.paperwork.models import VetReferral
from clients.paperwork.referring import Letter

AGAIN = "Choose the scan once more: the browser does not keep it."
HOW_TO_SCAN = "A photo of each page, or one PDF. What is in the file is checked; its name does not matter."


class KeepsNoFile(forms.BaseForm):
    """A form with a scan: come back with an error elsewhere, it says that the file has to be chosen again.

    The scan is the first of its fields, so that its own fault is known before the others.
    """

    def add_error(self, field: str | None, error: Any) -> None:
        super().add_error(field, error)
        if field != "scan" and "scan" not in self.errors and self.files.get("scan"):
            super().add_error("scan", AGAIN)


class PaperForm(KeepsNoFile, SignerForm):
    scan = ScanField(label="Scan of the signed paper", help_text=HOW_TO_SCAN)
    signed_on = forms.DateField(label="Day on the paper")
    until = forms.DateField(
        label="Holds until", required=False, help_text="Only if the paper ends before the wording would."
    )
    says_the_same = forms.BooleanField(
        label="It is older than our wording; I read it, and it says the same",
        required=False,
        help_text="For paper from before you began here. What was signed is then the scan. Have your lawyer or insurer "
        "look where you are not sure.",
    )
    field_order = ["scan", "capacity", "name_typed", "signed_on", "until", "says_the_same"]

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, **kwargs)
        self.fields["capacity"].label = "They signed as"
        self.fields["name_typed"].label = "Name on the paper"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("signed_on") and cleaned["signed_on"] > self.today:
            self.add_error("signed_on", "This day is still to come.")
        signed_on, until = cleaned.get("signed_on"), cleaned.get("until")
        if signed_on and until and until < signed_on:
            self.add_error("until", "It ends before the day on the paper.")
        return cleaned


class LetterForm(KeepsNoFile, VetForm):
    """What the vet's letter says, in the fields of the vet's own page, and how we made sure of it."""

    scan = ScanField(label="Scan of the letter", help_text=HOW_TO_SCAN)
    confirmed = forms.ChoiceField(
        label="How did you make sure that it is the vet’s?",
        choices=VetReferral.Confirmed.choices,
        widget=forms.RadioSelect,
    )
    confirmed_note = forms.CharField(label="With whom, when, or in which other way", max_length=300, required=False)
    field_order = ["scan"]

    layout = Layout(
        "scan",
        "answer",
        Fieldset("Limits", "service_kinds", "places", "max_minutes", "conditions"),
        Fieldset("Days on which a yes holds", "since", "until"),
        Fieldset("Who wrote it", "vet_name", "registration_number", "examined_on"),
        Fieldset("How you made sure", "confirmed", "confirmed_note"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["is_vet"]
        self.fields["answer"].label = "What does the letter say?"
        self.fields["conditions"].label = "Conditions, in the vet’s words"
        self.fields["vet_name"].label = "Vet"
        self.fields["examined_on"].label = "Day the horse was examined"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("confirmed") == VetReferral.Confirmed.OTHER and not cleaned.get("confirmed_note"):
            self.add_error("confirmed_note", "Write in which other way you made sure.")
        return cleaned

    def letter(self) -> Letter:
        given = self.cleaned_data
        return Letter(scan=given["scan"], confirmed=given["confirmed"], confirmed_note=given["confirmed_note"])
