"""The payment reference and the picture for a banking app, against their standards."""

import io
from decimal import Decimal
from urllib.parse import unquote

import pytest
import segno.helpers
import zxingcpp
from PIL import Image
from stdnum import iban, iso11649

from billing.einvoice.pay_code import pay_code
from billing.money.reference import creditor_reference

PAPER = {
    "currency": "EUR",
    "reference": "RF18539007547034",
    "total": "125.05",
    "seller": {"name": "Holt-Adair Horse Sessions", "iban": "DE89370400440532013000", "bic": "TESTDE12"},
}


def test_the_check_digits_are_those_of_the_published_example():
    """ISO 11649: RF18539007547034 is valid, RF17539007547034 is not (python-stdnum, from the standard's own text)."""
    assert creditor_reference("539007547034") == "RF18539007547034"
    assert iso11649.is_valid("RF18539007547034")
    assert not iso11649.is_valid("RF17539007547034")


def test_an_invoice_number_keeps_its_letters_and_digits():
    assert creditor_reference("2026-0017").endswith("20260017")
    assert iso11649.is_valid(creditor_reference("2026-C0003"))


def test_a_number_too_long_for_the_standard_is_an_error():
    with pytest.raises(Exception, match="invalid length"):
        creditor_reference("9" * 22)


def test_the_check_of_an_iban_is_that_of_its_standard():
    """ISO 13616, mod 97 = 1; the example of the German registry entry."""
    assert iban.is_valid("DE89370400440532013000")
    assert not iban.is_valid("DE88370400440532013000")


def decoded(address: str) -> list[str]:
    """Reads the picture as a banking app would, by the code that the SVG is drawn from."""
    drawn = unquote(address.removeprefix("data:image/svg+xml;charset=utf-8,"))
    assert drawn.startswith("<svg")
    code = segno.helpers.make_epc_qr(
        name=PAPER["seller"]["name"],
        iban=PAPER["seller"]["iban"],
        bic=PAPER["seller"]["bic"],
        amount=Decimal(PAPER["total"]),
        reference=PAPER["reference"],
    )
    assert str(code.svg_data_uri(scale=3, border=2)) == address
    out = io.BytesIO()
    code.save(out, kind="png", scale=4, border=4)
    (found,) = zxingcpp.read_barcodes(Image.open(out))
    assert (found.ec_level, code.version <= 13) == ("M", True)
    return found.text.splitlines()


def test_the_picture_says_the_transfer_line_by_line():
    """EPC069-12: BCD, version, characters, SCT, BIC, name, IBAN, amount, purpose, reference; error level M, size 13."""
    lines = decoded(pay_code(PAPER))
    assert lines[0] == "BCD"
    assert lines[3:8] == ["SCT", "TESTDE12", "Holt-Adair Horse Sessions", "DE89370400440532013000", "EUR125.05"]
    assert lines[9] == "RF18539007547034"


@pytest.mark.parametrize(
    "changes",
    [{"currency": "USD"}, {"reference": ""}, {"seller": PAPER["seller"] | {"iban": ""}}, {"total": "0.00"}],
)
def test_without_all_of_it_there_is_no_picture(changes):
    assert pay_code(PAPER | changes) == ""
