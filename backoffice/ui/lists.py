"""One way to show a list: search, filter, sort, page, export, and what to do next when it is empty."""

from typing import Any, NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.text import slugify
from django_tables2 import RequestConfig
from django_tables2.export.export import TableExport

from backoffice.ui.filters import FilterSet
from backoffice.ui.table_files import EXPORTS
from backoffice.ui.tables import Table

PER_PAGE = 25


class Empty(NamedTuple):
    title: str
    text: str
    label: str = ""
    url: str = ""


def render_list(
    request: HttpRequest,
    *,
    table_class: type[Table],
    filterset: FilterSet,
    heading: str,
    template: str = "ui/list.html",
    context: dict[str, Any] | None = None,
    new: tuple[str, str] | None = None,
    empty: tuple[str, ...] = ("Nothing here yet", ""),
) -> HttpResponse:
    """`filterset` is bound to `request.GET`; `new` is (label, address) of the page that adds a row.

    `empty` is (title, text, label, address): what to say, and the next step, when there is no row at all.
    """
    table = table_class(filterset.qs, request=request)
    RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
    wanted = request.GET.get("_export", "")
    if wanted in EXPORTS:
        name = f"{slugify(heading)}-{timezone.localdate().isoformat()}.{wanted}"
        answer: HttpResponse = TableExport(wanted, table).response(filename=name)
        return answer
    shown = {
        "heading": heading,
        "table": table,
        "filterset": filterset,
        "new": new,
        "empty": Empty(*empty),
        "exports": [(kind.upper(), _with(request, _export=kind)) for kind in EXPORTS],
        "total": table.page.paginator.count,
        **(context or {}),
    }
    htmx = request.htmx  # type: ignore[attr-defined]
    partial = htmx and not htmx.boosted and not htmx.history_restore_request
    response = render(request, "ui/_list.html" if partial else template, shown)
    patch_vary_headers(response, ["HX-Request"])
    return response


def _with(request: HttpRequest, **changes: str) -> str:
    query = request.GET.copy()
    query.pop("page", None)
    for key, value in changes.items():
        query[key] = value
    return f"?{query.urlencode()}"
