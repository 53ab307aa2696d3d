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
    return _shown(bytes_of(document), document.content_type, document.file_name)


def answer_with_pdf(content: bytes, *, name: str) -> HttpResponse:
    """A PDF that is not stored, such as one to print and sign."""
    return _shown(content, Document.ContentType.PDF, get_valid_filename(f"{name[:80]}.pdf"))


def _shown(content: bytes, content_type: str, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type=content_type)
    response["Content-Disposition"] = content_disposition_header(as_attachment=False, filename=name) or "inline"
    response["X-Content-Type-Options"] = "nosniff"
    add_never_cache_headers(response)
    return response
