"""Send a picture of a document, and work on the pictures of one: what the pages of documents share."""

import uuid as uuids
from typing import Any

from csp.decorators import csp_update
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET

from school.attachment_fields import AddPictureForm
from school.attachments import attach, may_attach, may_open, withdraw_attachment
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import AircraftPaper, Attachment, Paper

# How many pictures a document has; of either table.
PICTURES = Count("attachments", filter=Q(attachments__withdrawn_at=None))


# It was made by a stranger. Drawn again it should hold nothing that runs, and nothing that it holds may run.
@csp_update({"sandbox": True})
@require_GET
def attachment(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Send a picture to be shown, and a PDF to be saved: a browser opens it outside the pages of the school."""
    found = get_object_or_404(Attachment.objects.select_related("paper", "aircraft_paper"), uid=uid)
    if not may_open(request.user, found):
        raise Http404("There is no such picture.")
    shown = found.media_type != Attachment.MediaType.PDF
    name = content_disposition(found.file_name, inline=shown)
    headers = {
        "Content-Disposition": name,
        "X-Content-Type-Options": "nosniff",
        "Cross-Origin-Resource-Policy": "same-origin",
        # A tablet or a shared computer keeps no copy.
        "Cache-Control": "private, no-store",
    }
    return HttpResponse(bytes(found.content), content_type=found.media_type, headers=headers)


def work_on_pictures(request: HttpRequest, document: Paper | AircraftPaper) -> tuple[dict[str, Any], bool]:
    """Add or withdraw a picture as posted; return what the page shows, and whether something was done."""
    person, now = request.user, timezone.now()
    may = may_attach(person, document)
    if request.method == "POST" and not may:
        raise PermissionDenied("You may not change the pictures of this document.")
    form, shown = AddPictureForm(), {}
    try:
        if "withdraw" in request.POST:
            uid, reason = request.POST["withdraw"], request.POST.get("reason", "")
            shown = {"withdrawing": uid, "withdraw_reason": reason}
            withdraw_attachment(attachment=_find(document, uid), reason=reason, by=person, at=now)
            messages.info(request, "The picture is withdrawn.")
            return {}, True
        if request.method == "POST":
            form = AddPictureForm(request.POST, request.FILES)
            if form.is_valid():
                attach(document=document, file=form.cleaned_data["file"], by=person, at=now)
                messages.info(request, "The picture is stored with the document.")
                return {}, True
    except Refusal as refusal:
        shown["refused"] = str(refusal)
    rows = document.attachments.defer("content").select_related("recorded_by", "withdrawn_by").order_by("pk")
    context = {"pictures": list(rows), "may_attach": may, "picture_form": form, **shown}
    return {**context, "wrong": bool(form.errors or "refused" in shown)}, False


def _find(document: Paper | AircraftPaper, uid: str) -> Attachment:
    try:
        return get_object_or_404(document.attachments.defer("content"), uid=uuids.UUID(uid))
    except ValueError as bad:
        raise Http404("There is no such picture.") from bad
