import base64
import subprocess
from io import BytesIO

import pytest
from pypdf import PdfReader
from weasyprint.urls import FatalURLFetchingError

from backoffice.business.models import Business
from backoffice.documents.render import pdf_of_html, render_pdf, static_file
from tests.pdf_tools import needs_tool

pytestmark = pytest.mark.drawn

PAGE = """<!DOCTYPE html><html lang="en"><head><title>Sample</title><link rel="stylesheet" href="document.css"></head>
<body><h1>Sample</h1><p>{}</p></body></html>"""
DOT = base64.b64encode(
    b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><circle r="4" cx="4" cy="4"/></svg>'
).decode()


def fonts_in(content: bytes) -> set[str]:
    fonts = set()
    for page in PdfReader(BytesIO(content)).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            fonts.add(str(font.get_object()["/BaseFont"]))
    return fonts


@pytest.mark.parametrize(("paper", "size"), [(Business.Paper.LETTER, (612, 792)), (Business.Paper.A4, (595, 842))])
def test_the_paper_is_the_business_s_own(business, paper, size):
    business.paper = paper
    business.save()
    page = PdfReader(BytesIO(render_pdf("documents/base.html", {}))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_the_business_stands_on_every_document(business):
    text = PdfReader(BytesIO(render_pdf("documents/base.html", {}))).pages[0].extract_text()
    assert "Holt-Adair Horse Sessions" in text
    assert "page 1 of 1" in text
    assert "not veterinary care" in text


def test_text_from_people_stays_text(business):
    business.name = "<script>alert(1)</script> & Söhne ليلى"
    business.save()
    text = PdfReader(BytesIO(render_pdf("documents/base.html", {}))).pages[0].extract_text()
    assert "<script>alert(1)</script> & Söhne" in text


def test_the_pdf_is_tagged_titled_and_says_its_language():
    catalog = PdfReader(BytesIO(pdf_of_html(PAGE.format("Text"), paper="letter"))).trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalog
    assert catalog["/Lang"] == "en"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert b"pdfuaid:part" in catalog["/Metadata"].get_object().get_data()


def test_our_own_fonts_are_used_and_embedded():
    fonts = fonts_in(pdf_of_html(PAGE.format("Text"), paper="letter"))
    assert any("Source-Serif-Pro" in name for name in fonts)
    assert any("Source-Sans-Pro" in name for name in fonts)
    assert all("+" in name for name in fonts), "a subset tag shows an embedded font (ISO 32000-1, 9.6.4)"


def test_a_picture_inside_the_page_is_drawn():
    assert pdf_of_html(PAGE.format(f'<img alt="dot" src="data:image/svg+xml;base64,{DOT}">'), paper="a4")


@pytest.mark.parametrize(
    "address",
    [
        "file:///etc/passwd",
        "FILE:///etc/hostname",
        "http://127.0.0.1/secret",
        "https://horses.example/logo.png",
        "ftp://horses.example/logo.png",
        "../../../../../../etc/passwd",
        "/manage.py",
        "../%2e%2e/%2e%2e/settings/base.py",
        "no-such-file.css",
    ],
)
def test_a_document_cannot_read_files_or_the_network(address):
    with pytest.raises(FatalURLFetchingError):
        pdf_of_html(PAGE.format(f'<img alt="" src="{address}">'), paper="letter")


def test_a_style_sheet_cannot_reach_out_either():
    page = PAGE.format('<style>p { background: url("file:///etc/passwd") }</style>text')
    with pytest.raises(FatalURLFetchingError):
        pdf_of_html(page, paper="letter")


def test_only_names_of_static_files_are_found():
    assert static_file("https://static.invalid/documents/document.css").name == "document.css"
    assert static_file("https://elsewhere.invalid/documents/document.css") is None
    assert static_file("https://static.invalid/%2e%2e/%2e%2e/manage.py") is None


@pytest.mark.pdf
@needs_tool("pdffonts", "pdfinfo")
def test_poppler_sees_a_tagged_file_with_all_fonts_inside(tmp_path):
    file = tmp_path / "sample.pdf"
    file.write_bytes(pdf_of_html(PAGE.format("Text"), paper="letter"))
    facts = subprocess.run(["pdfinfo", file], capture_output=True, text=True, check=True).stdout
    assert "Tagged:          yes" in facts
    rows = subprocess.run(["pdffonts", file], capture_output=True, text=True, check=True).stdout.splitlines()[2:]
    assert rows
    assert all(row.split()[-5:-2] == ["yes", "yes", "yes"] for row in rows), "embedded, subset, with Unicode"


@pytest.mark.pdf
@needs_tool("qpdf")
def test_qpdf_finds_no_fault(tmp_path):
    file = tmp_path / "sample.pdf"
    file.write_bytes(pdf_of_html(PAGE.format("Text"), paper="letter"))
    assert subprocess.run(["qpdf", "--check", file], capture_output=True).returncode == 0
