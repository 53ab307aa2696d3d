"""What the demo prints and writes when it is built."""

from collections.abc import Iterator
from pathlib import Path

from django.urls import reverse

from backoffice.demo.scenario import Made, Scenario
from backoffice.documents.models import Document


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


def write_documents(folder: Path) -> list[Path]:
    """One PDF of every kind there is, the latest of each, into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for kind in Document.Kind:
        document = Document.objects.filter(kind=kind).order_by("-made_at", "-pk").first()
        if document is not None:
            path = folder / f"{kind.value}.pdf"
            with document.file.open() as stored:
                path.write_bytes(stored.read())
            written.append(path)
    return written
