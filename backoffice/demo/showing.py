"""What the demo prints and writes when it is built."""

from collections.abc import Iterator
from pathlib import Path

from django.urls import reverse

from backoffice.demo.scenario import Made, Scenario
from backoffice.documents.models import Document
from clients.paperwork.models import Form, Wording


def addresses(scenario: Scenario, made: Made, *, host: str) -> Iterator[str]:
    """Where to go and as whom, line by line."""
    yield f"The back office: {host}/"
    for account in scenario.story["accounts"]:
        role = account["role"].replace("_", "-")
        yield f"  sign in as {account['username']} ({role}), password: {scenario.story['password']}"
    if "owner" in made.tokens:
        yield f"An owner's private link: {host}{reverse('billing:owner-quote', args=[made.tokens['owner']])}"
    if "vet" in made.tokens:
        yield f"A vet's private link: {host}{reverse('clients:vet-referral', args=[made.tokens['vet']])}"


FORM_NAMES = {Wording.Kind.AUTHORITY: "agents-authority", Wording.Kind.HIRE: "hire-agreement"}
NAMES = {Document.Kind.REFERRAL: "vets-answer", Document.Kind.HISTORY: "history-file"}


def write_documents(folder: Path) -> list[Path]:
    """One PDF of every kind there is, the latest of each, into the folder; of signed forms one of each wording."""
    folder.mkdir(parents=True, exist_ok=True)
    return [_written(document, folder / f"{name}.pdf") for name, document in _latest()]


def _latest() -> Iterator[tuple[str, Document]]:
    for kind in Document.Kind:
        rows = Document.objects.filter(kind=kind, erased_at__isnull=True, content_type=Document.ContentType.PDF)
        document = rows.order_by("-is_sealed", "-made_at", "-pk").first()
        if document is not None and kind != Document.Kind.FORM:
            yield NAMES.get(kind, kind.value.replace("_", "-")), document
    for wording in Wording.Kind:
        signed = Form.objects.filter(wording_version__wording__kind=wording, document__erased_at__isnull=True)
        form = signed.exclude(document=None).select_related("document").order_by("-document__made_at", "-pk").first()
        if form is not None and form.document is not None:
            yield FORM_NAMES.get(wording, wording.value), form.document


def _written(document: Document, path: Path) -> Path:
    with document.file.open() as stored:
        path.write_bytes(stored.read())
    return path
