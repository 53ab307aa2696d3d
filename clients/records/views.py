from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form
from clients.animals.queries import get_animal_or_404
from clients.records.actions import make_history, zip_of
from clients.records.forms import HistoryForm
from clients.records.queries import has_earlier_owner


@require_http_methods(["GET", "POST"])
def animal_history(request: StaffRequest, pk: int) -> HttpResponse:
    """Make the history file of a horse, and the ones made before."""
    animal = get_animal_or_404(request, pk, Power.SEE_HEALTH)
    form = HistoryForm(request.POST or None, has_earlier=has_earlier_owner(animal, timezone.localdate()))
    if request.method == "POST" and form.is_valid():
        file, told = make_history(
            animal=animal,
            reader=form.cleaned_data["reader"],
            with_earlier=form.cleaned_data.get("with_earlier", False),
            at=timezone.now(),
            by=request.user,
        )
        if form.cleaned_data["shape"] == "zip":
            return zip_answer(zip_of(file, told), f"history-{slugify(animal.name) or 'horse'}.zip")
        return redirect("backoffice:document", file.document_id)
    return render_form(
        request,
        form,
        heading="History file",
        submit="Make the file",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro="Visits, sessions, health answers, cautions, measures, vet’s answers, stop notes, forms and decisions."
        " It holds no price, and people around the horse are named by their role. Free notes are printed as they were"
        " written: read the file before you hand it over.",
        template="clients/records/history.html",
        context={"files": animal.history_files.select_related("document")[:20]},
    )


def zip_answer(content: bytes, name: str) -> HttpResponse:
    """A file to keep, stored by no cache."""
    response = HttpResponse(content, content_type="application/zip")
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or "attachment"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "no-store"
    return response
