"""The picture that a banking app reads to fill in a transfer in EUR (EPC069-12)."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

LEAST, MOST = Decimal("0.01"), Decimal("999999999.99")
LONGEST_NAME = 70


def pay_code(paper: Mapping[str, Any]) -> str:
    """An SVG as a data address; an empty string where the paper has no reference, no IBAN, or another currency."""
    seller, total = paper["seller"], Decimal(paper["total"])
    is_transfer = paper["currency"] == "EUR" and seller["iban"] and paper.get("reference")
    if not is_transfer or not LEAST <= total <= MOST:
        return ""
    from segno.helpers import make_epc_qr

    code = make_epc_qr(
        name=seller["name"][:LONGEST_NAME],
        iban=seller["iban"],
        amount=total,
        reference=paper["reference"],
        bic=seller["bic"] or None,
    )
    return str(code.svg_data_uri(scale=3, border=2))
