"""The PDF of an issued paper, from what was frozen: alone, or with the e-invoice that says the same."""

from typing import Any

from backoffice.documents.render import render_pdf
from billing.einvoice.hybrid import CARRIED_AS, as_hybrid
from billing.einvoice.pay_code import pay_code
from billing.einvoice.syntax import Syntax, e_invoice
from billing.invoices.frozen import thawed


def printed(template: str, name: str, frozen: dict[str, Any], *, with_data: bool) -> bytes:
    """`name` is what the template calls the paper. With data, refuses what the official rules refuse."""
    context = {name: thawed(frozen), "pay_code": pay_code(frozen)}
    if not with_data:
        return render_pdf(template, context)
    carried = CARRIED_AS(e_invoice(frozen, Syntax.CII))
    return as_hybrid(render_pdf(template, context, carried))
