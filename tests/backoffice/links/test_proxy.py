import pytest
from django.http import HttpResponse

from backoffice.links.proxy import BehindProxyMiddleware


@pytest.mark.parametrize(
    ("behind", "sent", "seen"),
    [
        (True, "203.0.113.9", "203.0.113.9"),
        (True, "1.1.1.1, 203.0.113.9", "203.0.113.9"),
        (True, "2001:db8::1", "2001:db8::1"),
        (True, "nonsense", "127.0.0.1"),
        (True, "", "127.0.0.1"),
        (False, "203.0.113.9", "127.0.0.1"),
    ],
)
def test_the_address_is_the_one_that_our_proxy_wrote(rf, settings, behind, sent, seen):
    settings.BEHIND_PROXY = behind
    request = rf.get("/", headers={"x-forwarded-for": sent} if sent else {})
    answered = BehindProxyMiddleware(lambda asked: HttpResponse(asked.META["REMOTE_ADDR"]))(request)
    assert answered.content.decode() == seen
