"""Our totals engine against the official example invoices of EN 16931 in UBL syntax (CEN and Peppol, one release).

Source: the examples and their totals in ConnectingEurope/eInvoicing-EN16931, release 1.3.16. Rules: BR-CO-10 (sum of
lines), BR-CO-14 (sum of category taxes), BR-CO-15 (total with tax), BR-CO-17 (category tax, rounded to two decimals),
BR-S-08 (base of a rate).
"""

import json
import os
from collections import defaultdict
from decimal import Decimal
from pathlib import Path

import pytest

from billing.money.tax import Tax, apply_tax

SHARED = Path(os.environ.get("SHARED_DATA", Path(__file__).resolve().parents[3] / "shared" / "data"))
TOTALS = SHARED / "en16931" / "expected_totals.json"


def tax_of(base: str, rate: str, currency: str = "EUR") -> Decimal:
    return apply_tax([Decimal(base)], Tax(rate=Decimal(rate)), currency).tax


@pytest.mark.parametrize(
    ("example", "base", "rate", "tax"),
    [
        ("ubl-tc434-example1", "183.23", "6", "10.99"),
        ("ubl-tc434-example1", "46.37", "21", "9.74"),
        ("ubl-tc434-example2", "1460.50", "25", "365.13"),
        ("ubl-tc434-example2", "1.00", "15", "0.15"),
        ("ubl-tc434-example5", "1500", "25", "375.00"),
        ("ubl-tc434-example5", "2500", "12", "300.00"),
        ("ubl-tc434-example8", "908.91", "21", "190.87"),
        ("BIS3_Invoice_positive", "625743.54", "25", "156435.89"),
        ("BIS3_Invoice_negativ", "-625743.54", "25", "-156435.89"),
    ],
)
def test_the_tax_of_a_category_is_its_base_at_its_rate_half_up(example, base, rate, tax):
    assert tax_of(base, rate) == Decimal(tax), example


@pytest.mark.parametrize(
    ("example", "groups", "payable"),
    [
        ("ubl-tc434-example1", [("183.23", "6"), ("46.37", "21")], "250.33"),
        ("ubl-tc434-example2, before 1000.00 paid", [("1460.50", "25"), ("1.00", "15"), ("-25.00", "0")], "1801.78"),
        ("ubl-tc434-example5, before 2337.50 paid", [("1500", "25"), ("2500", "12")], "4675.00"),
        ("ubl-tc434-example8", [("908.91", "21")], "1099.78"),
    ],
)
def test_the_total_is_all_bases_and_all_taxes(example, groups, payable):
    whole = sum(apply_tax([Decimal(base)], Tax(rate=Decimal(rate)), "EUR").gross for base, rate in groups)
    assert whole == Decimal(payable), example


is_here = pytest.mark.skipif(not TOTALS.exists(), reason="the official totals of ../shared are not here")


def examples() -> list[dict]:
    return json.loads(TOTALS.read_text())


def cases() -> list:
    return [pytest.param(each, id=name_of(each)) for each in examples()] if TOTALS.exists() else [None]


def name_of(example: dict) -> str:
    return f"{example['kind']} {Path(example['file']).stem}"


@is_here
def test_all_27_official_examples_are_read():
    assert len(examples()) == 27


@is_here
@pytest.mark.parametrize("example", cases())
def test_our_engine_reproduces_the_official_totals(example):
    lines: dict[tuple[str, str], list[Decimal]] = defaultdict(list)
    for line in example["lines"]:
        lines[line["cat"], rate_of(line["rate"])].append(Decimal(line["net"]))
    for extra in example["doc_allow_charge"]:
        sign = 1 if extra["charge"] in ("true", "1") else -1
        lines[extra["cat"], rate_of(extra["rate"])].append(sign * Decimal(extra["amount"]))
    currency = example["currency"]
    counted = {group: apply_tax(nets, Tax(rate=Decimal(group[1])), currency) for group, nets in lines.items()}
    for official in example["vat"]:
        ours = counted[official["cat"], rate_of(official["rate"])]
        assert (ours.net, ours.tax) == (Decimal(official["taxable"]), Decimal(official["tax"]))
    totals = example["totals"]
    assert sum(taxed.net for taxed in counted.values()) == Decimal(totals["BT109"])
    assert sum(taxed.gross for taxed in counted.values()) == Decimal(totals["BT112"])


def rate_of(text: str | None) -> str:
    return f"{Decimal(text or 0).normalize():f}"
