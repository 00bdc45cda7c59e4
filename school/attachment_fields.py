"""Ask for a picture or a PDF of a document, by a file or by the camera of a phone."""

from typing import Any

from django import forms

from school.attachments import CHOOSE_AGAIN, MAX_UPLOAD_BYTES, clean_file, refuse_too_large
from school.errors import Refusal

PICTURES = "image/jpeg,image/png"


class PictureForm(forms.Form):
    """`file` of the cleaned data is the file as it may be stored, or None."""

    file = forms.FileField(
        label="Picture or PDF",
        required=False,
        max_length=200,
        widget=forms.FileInput(attrs={"accept": f"{PICTURES},application/pdf"}),
        help_text=f"JPEG, PNG or PDF, {MAX_UPLOAD_BYTES // 2**20} MB at most. Where and when it was taken is removed.",
    )
    # A page hides it where there is a mouse (app.css): a desk has no camera that looks at a document.
    photo = forms.FileField(
        label="Or take a picture now",
        required=False,
        max_length=200,
        widget=forms.FileInput(attrs={"accept": PICTURES, "capture": "environment"}),
    )

    # After every other check: reading a file costs seconds, and one that must be chosen again is not read.
    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc] # the types leave it out
        given = [self.cleaned_data.pop(name, None) for name in ("photo", "file")]
        self.cleaned_data["file"] = None
        sent = next((row for row in given if row), None)
        if sent is None:
            return
        if self.errors:
            self.add_error("file", CHOOSE_AGAIN)
            return
        try:
            refuse_too_large(sent.size)
            self.cleaned_data["file"] = clean_file(sent.read())
        except Refusal as refusal:
            self.add_error("file", str(refusal))


class AddPictureForm(PictureForm):
    """A picture of a document that is on record already: without one there is nothing to save."""

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors and not (cleaned.get("file") or cleaned.get("photo")):
            self.add_error("file", "Choose a picture or a PDF, or take a picture.")
        return cleaned
