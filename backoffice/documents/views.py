from django.http import HttpRequest, HttpResponse
from django.utils.cache import add_never_cache_headers
from django.utils.http import content_disposition_header
from django.utils.text import get_valid_filename
from django.views.decorators.http import require_safe

from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of, get_document_or_404


@require_safe
def document(request: HttpRequest, pk: int) -> HttpResponse:
    return answer_with(get_document_or_404(request, pk), request)


def answer_with(document: Document, request: HttpRequest | None = None) -> HttpResponse:
    """The stored bytes, shown in the browser, kept by no cache. The caller has already checked who asks."""
    response = HttpResponse(bytes_of(document), content_type="application/pdf")
    name = get_valid_filename(f"{document.title[:80]}.pdf")
    response["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=name) or "inline"
    response["X-Content-Type-Options"] = "nosniff"
    add_never_cache_headers(response)
    return response
