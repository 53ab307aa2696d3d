from typing import Any

from django.http import HttpRequest

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.ui.navigation import places_for


def frame(request: HttpRequest) -> dict[str, Any]:
    """What the frame of every page needs: the business, the places this person may go to, and their powers."""
    user = getattr(request, "user", None)
    if not isinstance(user, User):
        return {"business": getattr(request, "business", None)}
    return {
        "business": getattr(request, "business", None),
        "places": places_for(user),
        "may": {power.value: user.may(power) for power in Power},
    }
