from typing import Any

from django.http import HttpRequest

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.ui.navigation import signposts


def frame(request: HttpRequest) -> dict[str, Any]:
    """What the frame of every page needs: the business, the places this person may go to, and their powers."""
    business = getattr(request, "business", None)
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {"business": business}
    return {
        "business": business,
        "places": signposts(user, request.path),
        "may": {power.value: user.may(power) for power in Power},
    }
