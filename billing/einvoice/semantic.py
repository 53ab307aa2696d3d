"""An issued paper, as it was frozen, in the terms of EN 16931-1: BT-1 is the number, BG-25 the lines. Pure."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from stdnum import exceptions
from stdnum.eu import vat as eu_vat
from stdnum.gb import vat as gb_vat

from backoffice.refusal import Refused
from billing.einvoice.categories import EXEMPT, OUTSIDE, STANDARD

TYPE_CODES = {"invoice": "380", "credit note": "381", "prepayment": "386"}  # UNTDID 1001
ONE = "C62"  # UN/ECE Recommendation 20: one
CREDIT_TRANSFER, AS_AGREED = "30", "1"  # UNTDID 4461
CREDITED = "Credited to your account."
NO_TAX = "No tax is charged on this."
Terms = dict[str, Any]


def terms_of(paper: Mapping[str, Any]) -> Terms:
    """The terms of a frozen invoice or credit note; amounts are strings, as frozen. Refuses what cannot be an e-invoice
    and names what to mend."""
    refuse_gaps(paper)
    groups, is_outside = _groups(paper["tax_groups"]), _is_outside(paper)
    return {
        "BT-1": paper["number"],
        "BT-2": paper["issued_on"],
        "BT-3": TYPE_CODES[paper["kind"]],
        "BT-5": paper["currency"],
        **_when(paper),
        **_how_to_pay(paper),
        "BG-4": _party(paper["seller"], is_outside=is_outside),
        "BG-7": _party(paper["payer"], is_outside=is_outside),
        "BG-23": [_breakdown(group) for group in groups],
        "BG-25": [_line(line, number) for number, line in enumerate(paper["lines"], start=1)],
        "BT-106": paper["net"],
        "BT-109": paper["net"],
        "BT-110": paper["tax"],
        "BT-112": paper["total"],
        "BT-115": paper["total"],
    }


def refuse_gaps(paper: Mapping[str, Any]) -> None:
    """What the official rules would refuse, in the practitioner's words and with the place to mend it."""
    seller = paper["seller"]
    if not seller["registration"] and not seller["tax_identity"]:
        raise Refused(
            "An e-invoice names you by a number (BR-CO-26): write your tax number or your registration number under "
            "Settings, Business."
        )
    if not _is_outside(paper) and not seller["tax_identity"]:
        raise Refused("An e-invoice with tax names your tax number (BR-S-02): write it under Settings, Business.")
    if not _is_outside(paper) and any(group["category"] == OUTSIDE for group in paper["tax_groups"]):
        untaxed = next(line["text"] for line in paper["lines"] if line["tax_category"] == OUTSIDE)
        raise Refused(
            f"“{untaxed}” has no tax rate on its day, other lines have (BR-O-11): record one under Settings, Tax; "
            "0 with its reason where nothing is charged."
        )


def _is_outside(paper: Mapping[str, Any]) -> bool:
    return all(group["category"] == OUTSIDE for group in paper["tax_groups"])


def _when(paper: Mapping[str, Any]) -> Terms:
    worked = {"BT-72": max(line["day"] for line in paper["lines"])}
    if paper["kind"] == "credit note":
        preceding = [{"BT-25": paper["invoice"], "BT-26": paper["invoice_day"]}]
        return {**worked, "BG-3": preceding, "BG-1": [{"BT-22": paper["reason"]}], "BT-20": CREDITED}
    return {**worked, "BT-9": paper["due_on"], "BT-73": paper["work_from"], "BT-74": paper["work_to"]}


def _how_to_pay(paper: Mapping[str, Any]) -> Terms:
    seller, reference = paper["seller"], paper.get("reference", "")
    if not seller["iban"] or paper["kind"] == "credit note":
        return {"BT-81": AS_AGREED, "BT-83": reference}
    return {
        "BT-81": CREDIT_TRANSFER,
        "BT-83": reference,
        "BT-84": seller["iban"],
        "BT-85": seller["name"],
        "BT-86": seller["bic"],
    }


def _party(party: Mapping[str, str], *, is_outside: bool) -> Terms:
    """A VAT number stands where one is known, except on what is outside the scope of tax (BR-O-02)."""
    number = vat_number(party.get("tax_identity", ""))
    known = party.get("registration") or ("" if number and not is_outside else party.get("tax_identity", ""))
    contact = {"name": party["name"], "phone": party.get("phone", ""), "email": party.get("email", "")}
    return {
        "name": party["name"],
        "legal_identifier": known,
        "vat_identifier": "" if is_outside else number,
        "tax_identifier": "" if number or is_outside else party.get("tax_identity", ""),
        "contacts": [contact] if contact["phone"] or contact["email"] else [],
        **_address(party["address"]),
        "country_code": party["country"],
    }


def vat_number(text: str) -> str:
    """The number with its country in front where it is a VAT number of the EU or the UK, else an empty string."""
    try:
        return str(eu_vat.validate(text))
    except exceptions.ValidationError:
        pass
    try:
        return f"GB{gb_vat.validate(text)}"
    except exceptions.ValidationError:
        return ""


def _address(text: str) -> Terms:
    """Three lines at most; what is over stands in the third."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return dict(zip(("addr_l1", "addr_l2", "addr_l3"), [*lines[:2], ", ".join(lines[2:])], strict=False))


def _groups(groups: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """One for each category and rate, as BG-23 has them; reasons of one category stand together."""
    merged: dict[tuple[str, str], dict[str, Any]] = {}
    for group in groups:
        key = (group["category"], group["percent"])
        kept = merged.setdefault(key, {**group, "base": Decimal(0), "tax": Decimal(0), "texts": []})
        kept["base"] += Decimal(group["base"])
        kept["tax"] += Decimal(group["tax"])
        kept["texts"] = [*dict.fromkeys([*kept["texts"], *filter(None, [group["text"]])])]
    return list(merged.values())


def _breakdown(group: Mapping[str, Any]) -> Terms:
    category = group["category"]
    terms = {
        "BT-116": f"{group['base']:f}",
        "BT-117": f"{group['tax']:f}",
        "BT-118": category,
        **_rate(category, group["percent"], "BT-119"),
    }
    if category in {EXEMPT, OUTSIDE}:
        terms["BT-120"] = "; ".join(group["texts"]) or NO_TAX
    return terms


def _rate(category: str, percent: str, term: str) -> Terms:
    """What is outside the scope has no rate (BR-O-05); exempt and zero have one of 0."""
    return {} if category == OUTSIDE else {term: percent if category == STANDARD else "0"}


def _line(line: Mapping[str, Any], number: int) -> Terms:
    """A line below zero is a quantity below zero: a price never is (BR-27)."""
    net = Decimal(line["net"])
    more = [line["place"], line.get("owner") and f"for {line['owner']}", line.get("share"), line.get("reason")]
    return {
        "BT-126": str(number),
        "BT-129": "-1" if net < 0 else "1",
        "BT-130": ONE,
        "BT-131": line["net"],
        "BT-134": line["day"],
        "BT-135": line["day"],
        "BT-146": f"{abs(net):f}",
        "BT-151": line["tax_category"],
        **_rate(line["tax_category"], line["tax_percent"], "BT-152"),
        "BT-153": line["text"],
        "BT-154": ". ".join(filter(None, more)),
    }
