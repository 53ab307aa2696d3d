"""Form fields for files from outside; what they give was checked."""

from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from backoffice.documents.uploads import Given, checked, refuse_size

PHOTOS = "image/jpeg,image/png,image/webp"


class FilesInput(forms.FileInput):
    """Opens the camera, the photos or the files of a phone."""

    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[Any]:
        return list(files.getlist(name)) if hasattr(files, "getlist") else [files[name]] if name in files else []


class ScanField(forms.Field):
    """A scan as one file or several photos: a list of `Given`, in the order in which they were chosen."""

    widget = FilesInput(attrs={"accept": f"{PHOTOS},application/pdf", "multiple": True})

    def clean(self, value: Any) -> list[Given]:
        files: list[Any] = value or []
        self.validate(files)
        if len(files) > settings.UPLOAD_MOST_PAGES:
            raise ValidationError(f"At most {settings.UPLOAD_MOST_PAGES} files are taken at once.")
        several = len(files) > 1
        given = [_given(file, f"File {number}: " if several else "") for number, file in enumerate(files, start=1)]
        if sum(one.pages for one in given) > settings.UPLOAD_MOST_PAGES:
            raise ValidationError(f"All together have more than {settings.UPLOAD_MOST_PAGES} pages.")
        return given


class PhotoField(forms.Field):
    widget = forms.FileInput(attrs={"accept": PHOTOS})

    def clean(self, value: Any) -> Given | None:
        self.validate(value)
        return _given(value, "", photos_only=True) if value else None


def _given(file: Any, before: str, *, photos_only: bool = False) -> Given:
    try:
        refuse_size(file.size or 0)
        return checked(file.read(), photos_only=photos_only)
    except ValueError as fault:
        raise ValidationError(f"{before}{fault}") from None
