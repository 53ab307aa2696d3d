from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.table_files import EXPORTS, table_file
from backoffice.ui.words import METERS_IN
from billing.reports import earned
from billing.reports import shown as drawn
from billing.reports.forms import ReportForm, spans
from billing.reports.index import REPORTS, Asked, Shown, reports_for
from billing.reports.report import Kind, Report, plain
from billing.reports.work import work_between


@require_GET
@needs(Power.SEE_CARE)
def reports(request: StaffRequest) -> HttpResponse:
    """Every report that this person may read."""
    shown = [(name, each) for name, each in reports_for(request.user).items()]
    return render(request, "billing/reports/reports.html", {"reports": shown})


@require_GET
@needs(Power.SEE_CARE)
def report(request: StaffRequest, name: str) -> HttpResponse:
    if name not in REPORTS:
        raise Http404(name)
    shown = REPORTS[name]
    demand(request, shown.power)
    asked, form = _asked(request, shown)
    title, found = shown.title, None
    if name == "earned" and "of" in request.GET:
        work = work_between(asked.since, asked.until)
        label, found = earned.visits_of(work, asked.by, request.GET["of"], asked.business.currency)
        title = f"{shown.title}: {label}" if label else shown.title
    found = found or shown.make(asked)
    wanted = request.GET.get("_export", "")
    if wanted in EXPORTS:
        return _file(found, name, wanted, asked)
    context = {
        "title": title,
        "shown": shown,
        "report": found,
        "heads": drawn.heads(found),
        "lines": drawn.lines(found, asked.business),
        "sums": drawn.sums(found, asked.business),
        "picture": drawn.picture_of(found, asked.business),
        "facts": drawn.facts(found, asked.business),
        "form": form,
        "spans": _spans(request, asked) if shown.span else [],
        "exports": [(kind.upper(), _with(request, _export=kind)) for kind in EXPORTS],
        "whole": _with(request, of="") if "of" in request.GET else "",
    }
    return render(request, "billing/reports/report.html", context)


def _asked(request: StaffRequest, shown: Shown) -> tuple[Asked, ReportForm]:
    on = timezone.localdate()
    _, since, until = spans(on)[shown.span or "month"]
    start: dict[str, Any] = {"since": since, "until": until, **({"by": shown.ways[0][0]} if shown.ways else {})}
    form = ReportForm({**start, **request.GET.dict()}, ways=shown.ways)
    said = form.cleaned_data if form.is_valid() else start
    business = request.business  # type: ignore[attr-defined]
    return Asked(said["since"], said["until"], said.get("by", ""), on, business, request.user), form


def _spans(request: StaffRequest, asked: Asked) -> list[tuple[str, str, bool]]:
    """Words, address, and whether it is the one shown."""
    return [
        (words, _with(request, since=str(since), until=str(until), of=""), (since, until) == (asked.since, asked.until))
        for words, since, until in spans(asked.on).values()
    ]


def _with(request: StaffRequest, **changes: str) -> str:
    query = request.GET.copy()
    query.pop("_export", None)
    for key, value in changes.items():
        query.pop(key, None)
        if value:
            query[key] = value
    return f"?{query.urlencode()}"


def _file(report: Report, name: str, wanted: str, asked: Asked) -> HttpResponse:
    """Hours in minutes and distances in the unit of the business, so that a spreadsheet can go on with them."""
    unit = asked.business.distance_unit
    units = {Kind.MINUTES: "minutes", Kind.DISTANCE: unit, Kind.MONEY: asked.business.currency, Kind.PERCENT: "%"}
    headers = [
        f"{column.label}, {units[column.kind]}" if column.kind in units else column.label for column in report.columns
    ]
    rows = [row.cells for row in report.rows] + ([report.sums] if report.sums else [])
    kinds = [column.kind for column in report.columns]
    values = [[plain(cell, kind, METERS_IN[unit]) for cell, kind in zip(row, kinds, strict=True)] for row in rows]
    return table_file(f"{name}-{asked.since}-{asked.until}", wanted, headers, values)
