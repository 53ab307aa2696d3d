"""The quote on paper: the same rows as on screen."""

from datetime import date

from backoffice.documents.render import render_pdf
from billing.quotes.models import Quote
from billing.quotes.queries import comparison_of, horses_of


def quote_pdf(quote: Quote, *, on: date) -> bytes:
    return render_pdf(
        "documents/quote.html",
        {"quote": quote, "horses": horses_of(quote), "shown": comparison_of(quote, on=on), "on": on},
    )
