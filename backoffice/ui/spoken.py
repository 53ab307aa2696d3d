"""Forms whose texts reach an owner: promises of outcome are said at their field, and going on takes one tick."""

from typing import Any, ClassVar

from django import forms

from backoffice.promises.rules import promises_in
from backoffice.ui.forms import Prepared

TICK = "words_read"


class Spoken(Prepared):
    """Mixed in before `Form` or `ModelForm`. The tick appears with the first warning; the words are never changed."""

    spoken: ClassVar[tuple[str, ...]] = ()

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        warnings = {name: found for name in self.spoken if (found := promises_in(str(cleaned.get(name) or "")))}
        if not warnings:
            return cleaned
        self.fields[TICK] = forms.BooleanField(required=False, label="I have looked at these words. Go on with them.")
        if self.layout is None:  # a form with a layout of its own draws what the layout does not name
            self.helper.layout.append(TICK)
        if self.data.get(self.add_prefix(TICK)):
            return cleaned
        for name, promises in warnings.items():
            for promise in promises:
                self.add_error(name, f"“{promise.words}” promises an outcome. Better: {promise.instead}.")
        return cleaned
