"""HTML → tagged PDF. The one module to replace for another renderer.

WeasyPrint is imported where it is used: its import takes about a second that no page without a PDF should wait for.
"""

import atexit
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from mimetypes import guess_type
from pathlib import Path
from threading import Lock
from typing import Any
from urllib.parse import unquote, urlsplit

from django.contrib.staticfiles import finders
from django.core.exceptions import SuspiciousFileOperation
from django.template.loader import render_to_string

from backoffice import british
from backoffice.business.queries import the_business

STATIC_HOST = "static.invalid"  # RFC 2606: a name that never resolves; our fetcher maps it to the static folders
STATIC_BASE = f"https://{STATIC_HOST}/documents/"
VARIANT: Any = {"pdf_variant": "pdf/ua-1", "custom_metadata": False}
WITH_FILE: Any = {"pdf_variant": "pdf/a-3a", "custom_metadata": False}  # PDF/A-3, the one that may carry any file
_one_at_a_time = Lock()  # the fonts that documents share are not made for two threads
PAGE_SIZES = {"letter": "Letter", "a4": "A4"}


@dataclass(frozen=True, slots=True)
class Carried:
    """A file that a PDF carries: the same content for a program to read."""

    name: str
    content: bytes
    description: str


def render_pdf(template: str, context: Mapping[str, Any], carried: Carried | None = None) -> bytes:
    """The PDF (PDF/UA-1, fonts embedded) of a template of `documents/`, on the business's paper; with a file to carry
    it is PDF/A-3a.

    `business` is added to the context. A reference to anything but `data:` and our own static files raises
    WeasyPrint's `FatalURLFetchingError`, a `BaseException`: no document is made with a part missing.
    """
    business = the_business()
    british.use(business.words)
    html = render_to_string(template, {**context, "business": business})
    return pdf_of_html(html, paper=business.paper, carried=carried)


def prepare_renderer() -> None:
    """Import the renderer and read the style sheet now, so that a lock taken afterwards is not held for that long."""
    if not _style.cache_info().currsize:
        _style(the_business().paper)


def pdf_of_html(html: str, *, paper: str, carried: Carried | None = None) -> bytes:
    from weasyprint import HTML

    variant = WITH_FILE if carried else VARIANT
    page = HTML(string=html, base_url=STATIC_BASE, url_fetcher=_static_fetcher())
    with _one_at_a_time:
        style = _style(paper)
        # Most paper has one page; the number of several is known only when all are laid out, and that takes twice.
        laid = page.render(stylesheets=[*style.sheets, style.one_page], font_config=style.fonts, **variant)
        if len(laid.pages) > 1:
            laid = page.render(stylesheets=[*style.sheets, style.pages], font_config=style.fonts, **variant)
        laid.metadata.attachments = _attachments(carried)
        written = laid.write_pdf(**variant)
    return bytes(written or b"")


def _attachments(carried: Carried | None) -> list[Any]:
    from weasyprint import Attachment

    if carried is None:
        return []
    file = {"name": carried.name, "description": carried.description, "relationship": "Alternative"}
    return [Attachment(string=carried.content, **file)]


@dataclass(frozen=True, slots=True)
class Style:
    """What every document shares: the sheet, the paper's size, the two ways to say which page it is, the fonts."""

    sheets: list[Any]
    one_page: Any
    pages: Any
    fonts: Any


@cache
def _style(paper: str) -> Style:
    """Read once for each size of paper: it is more than half the cost of a document."""
    from weasyprint import CSS
    from weasyprint.text.fonts import FontConfiguration

    atexit.register(_style.cache_clear)  # the fonts are given back before the interpreter is taken apart
    fonts = FontConfiguration()
    sheet = CSS(url=f"{STATIC_BASE}document.css", url_fetcher=_static_fetcher(), font_config=fonts)
    size = CSS(string=f"@page {{ size: {PAGE_SIZES[paper]} }}")
    return Style(
        [sheet, size], CSS(string=_foot('"1 of 1"')), CSS(string=_foot('counter(page) " of " counter(pages)')), fonts
    )


def _foot(which: str) -> str:
    """CSS that ends the foot of a page with which page it is."""
    return (
        f'.foot-right::after {{ content: " · page " {which} }} .foot-right:empty::after {{ content: "page " {which} }}'
    )


def static_file(url: str) -> Path | None:
    """The static file (ours, or one carried for us) that a document names; None for any other address."""
    parts = urlsplit(url)
    if (parts.scheme, parts.netloc) != ("https", STATIC_HOST):
        return None
    try:
        found = finders.find(unquote(parts.path).lstrip("/"))
    except SuspiciousFileOperation:
        return None
    return Path(found) if isinstance(found, str) else None


@cache
def _static_fetcher() -> Any:
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    class StaticFetcher(URLFetcher):  # type: ignore[misc]
        """`data:` and our own static files. No file of the machine, no network."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            if url.lower().startswith("data:"):
                return super().fetch(url, headers)
            file = static_file(url)
            if file is None:
                raise FatalURLFetchingError(f"A document may not use {url[:200]}")
            kind = guess_type(file.name)[0] or "application/octet-stream"
            return URLFetcherResponse(url, file.read_bytes(), headers={"Content-Type": kind})

    return StaticFetcher(allowed_protocols=["data"])
