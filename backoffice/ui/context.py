from typing import Any

from django.http import HttpRequest

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.ui.navigation import signposts
from backoffice.ui.views import LOOK, OUTDOOR


def frame(request: HttpRequest) -> dict[str, Any]:
    """What the frame of every page needs: the business, the places this person may go to, and their powers."""
    business = getattr(request, "business", None)
    user = getattr(request, "user", None)
    page = {"business": business, "is_outdoor": request.COOKIES.get(LOOK) == OUTDOOR}
    if not isinstance(user, User):
        return page
    return {
        **page,
        "places": signposts(user, request.path),
        "may": {power.value: user.may(power) for power in Power},
    }
