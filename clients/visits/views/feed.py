"""The private address of one's own calendar, and what a calendar program gets there."""

import hashlib
from datetime import timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_http_methods, require_safe

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.links.actions import full_address, issue_link, revoke_links
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink
from clients.visits.feed import feed_of

GOOD_FOR = timedelta(days=2 * 365)


@require_http_methods(["GET", "POST"])
@needs(Power.SEE_CARE)
def calendar(request: StaffRequest) -> HttpResponse:
    """One's own address: made, made anew or closed by a button; it is shown once, when it is made."""
    made = None
    if request.method == "POST":
        at = timezone.now()
        closed = revoke_links(purpose=PrivateLink.Purpose.CALENDAR, target=request.user, at=at, by=request.user)
        if "close" in request.POST:
            messages.success(request, "The address is closed." if closed else "There was no address.")
            return redirect("clients:calendar")
        _, token = issue_link(
            purpose=PrivateLink.Purpose.CALENDAR, target=request.user, at=at, valid_for=GOOD_FOR, by=request.user
        )
        made = full_address(reverse("clients:calendar-feed", args=[token]))
    links = PrivateLink.objects.filter(purpose=PrivateLink.Purpose.CALENDAR, target_pk=request.user.pk)
    link = links.filter(revoked_at=None, expires_at__gt=timezone.now()).order_by("-pk").first()
    return render(request, "clients/visits/calendar.html", {"made": made, "link": link})


@require_safe
@by_link(PrivateLink.Purpose.CALENDAR)
def calendar_feed(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    """The calendar of whoever made the link, for as long as they work here. Answers 304 when nothing changed."""
    practitioner = User.objects.filter(pk=link.target_pk, is_active=True).first()
    if practitioner is None:
        raise Http404("Nobody.")
    content = feed_of(practitioner, the_business(), at=timezone.now())
    etag = quote_etag(hashlib.sha256(content).hexdigest()[:32])
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8", headers={"ETag": etag})
    response["Content-Disposition"] = 'inline; filename="diary.ics"'
    return get_conditional_response(request, etag=etag, response=response) or response
