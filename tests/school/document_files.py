"""Pictures and PDF of documents as a phone or an office program writes them, with what nobody should pass on."""

import io
from typing import Any

import pikepdf
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image


def photograph(width: int = 640, height: int = 480, form: str = "JPEG", mode: str = "RGB") -> bytes:
    """A picture with a place, a comment and a profile, turned on its side as a phone stores it."""
    picture, exif, out = Image.linear_gradient("L").resize((width, height)).convert(mode), Image.Exif(), io.BytesIO()
    exif[0x0112] = 6  # to be turned a quarter
    exif.get_ifd(0x8825)[0x001D] = "Secret place"
    more: dict[str, Any] = {"comment": b"Secret comment"} if form == "JPEG" else {}
    picture.save(out, form, exif=exif, icc_profile=b"Secret profile", **more)
    return out.getvalue()


def document(pages: int = 1, password: str = "") -> bytes:
    """A PDF with a title, an author, a script that runs on opening, an attached file, and a photograph."""
    made, out, picture = pikepdf.new(), io.BytesIO(), photograph()
    for _ in range(pages):
        made.add_blank_page(page_size=(200, 200))
    image = made.make_stream(picture, Width=640, Height=480, BitsPerComponent=8)
    image.Type, image.Subtype = pikepdf.Name.XObject, pikepdf.Name.Image
    image.ColorSpace, image.Filter = pikepdf.Name.DeviceRGB, pikepdf.Name.DCTDecode
    made.pages[0].Resources = pikepdf.Dictionary(XObject=pikepdf.Dictionary(Photo=image))
    made.pages[0].Contents = made.make_stream(b"q 200 0 0 200 0 0 cm /Photo Do Q")
    made.docinfo["/Author"] = "Secret author"
    with made.open_metadata() as metadata:
        metadata["dc:title"] = "Secret title"
    made.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert('Secret script')")
    made.attachments["hidden.exe"] = b"MZ hidden"
    made.save(out, encryption=pikepdf.Encryption(user=password, owner=password) if password else False)
    return out.getvalue()


def upload(content: bytes, name: str = "../x.html") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="text/html")
