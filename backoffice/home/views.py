from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.home.attention import WATCHES, attention_for
from backoffice.home.care import COMING_DAYS
from backoffice.home.queries import outlook
from backoffice.home.search import LONGEST, search
from backoffice.home.today import first_steps, round_today


@require_safe
@needs(Power.SEE_CARE)
def today(request: StaffRequest) -> HttpResponse:
    on = timezone.localdate()
    left = round_today(request.user, on)
    ahead = outlook(on, COMING_DAYS if request.user.may(Power.SEE_HEALTH) else 0, also=left.visits)
    blocks = attention_for(request.user, on, ahead)
    context = {
        **left.shown(ahead.permissions),
        "today": on,
        "left": left,
        "round": left.round,
        "steps": [] if left.visits else first_steps(request.user),
        "blocks": blocks,
        "matters": sum(block.count for block in blocks),
    }
    return render(request, "backoffice/home/today.html", context)


@require_safe
@needs(Power.SEE_CARE)
def attention(request: StaffRequest, key: str) -> HttpResponse:
    """One kind of what needs attention, all of it."""
    if key not in WATCHES:
        raise Http404(key)
    demand(request, WATCHES[key].power)
    block = WATCHES[key].block(timezone.localdate())
    return render(request, "backoffice/home/attention.html", {"watched": block, "heading": block.title})


@require_safe
@needs(Power.SEE_CARE)
def search_page(request: StaffRequest) -> HttpResponse:
    text = request.GET.get("q", "").strip()[:LONGEST]
    found = search(text, request.user)
    return render(request, "backoffice/home/search.html", {"text": text, "found": found, "longest": LONGEST})


@require_safe
def help_page(request: StaffRequest) -> HttpResponse:
    """The words of the trade, how a job goes, keys and cautions: for everybody who signs in."""
    return render(request, "backoffice/home/help.html")
