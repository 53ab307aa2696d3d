from django import forms

from backoffice.ui.forms import Form


class SettleForm(Form):
    reason = forms.CharField(max_length=300, required=False, help_text="Kept with your name.")
