"""The letters about quotes."""

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse

from backoffice.business.queries import the_business
from backoffice.links.actions import full_address
from billing.quotes.models import Quote


def send_offer(quote_pk: int, token: str) -> None:
    """Mail the private link to the person the quote is for; nothing is sent where no address is known."""
    quote = Quote.objects.select_related("person").get(pk=quote_pk)
    if not quote.person.email:
        return
    business = the_business()
    context = {
        "quote": quote,
        "business": business,
        "address": full_address(reverse("billing:owner-quote", args=[token])),
    }
    letter = EmailMultiAlternatives(
        subject=f"{quote.title}: a quote from {business.name}",
        body=render_to_string("emails/quote_offered.txt", context),
        to=[quote.person.email],
        reply_to=[business.email] if business.email else None,
    )
    letter.attach_alternative(render_to_string("emails/quote_offered.html", context), "text/html")
    letter.send()
