"""The hybrid invoice: a PDF/A-3 that carries its e-invoice, and says so in its metadata (XMP)."""

from functools import partial
from io import BytesIO
from typing import Any

from backoffice.documents.render import Carried

FILE_NAME = "factur-x.xml"  # the name that the open specification of hybrid invoices gives it
CARRIED_AS = partial(Carried, FILE_NAME, description="This invoice by EN 16931")
SCHEMA = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
FIELDS = {
    "DocumentType": ("INVOICE", "What the file is"),
    "DocumentFileName": (FILE_NAME, "The name of the file"),
    "Version": ("1.0", "The version of the schema"),
    "ConformanceLevel": ("EN 16931", "How far the file goes"),
}


def as_hybrid(content: bytes) -> bytes:
    """The same PDF with what its metadata must say: the carried file and its schema, and PDF/UA-1 beside PDF/A-3a."""
    from pikepdf import Array, Name, Pdf

    with Pdf.open(BytesIO(content)) as pdf:
        kept = list({item.objgen: item for item in pdf.Root.AF}.values())  # the renderer lists the file twice
        pdf.Root.AF = Array(kept)
        pdf.Root.Names.EmbeddedFiles.Names = Array([FILE_NAME, kept[0]])
        pdf.Root.ViewerPreferences = pdf.Root.get(Name.ViewerPreferences, {})
        pdf.Root.ViewerPreferences.DisplayDocTitle = True
        metadata = pdf.Root.Metadata.read_bytes()
        end = metadata.rindex(b"</rdf:RDF>")
        pdf.Root.Metadata.write(metadata[:end] + _description().encode() + metadata[end:])
        written = BytesIO()
        pdf.save(written, deterministic_id=True)
    return written.getvalue()


def _description() -> str:
    values = "".join(f"<fx:{name}>{value}</fx:{name}>" for name, (value, _) in FIELDS.items())
    told = "".join(_told(name, meaning) for name, (_, meaning) in FIELDS.items())
    schemas = _schema("Hybrid invoice", SCHEMA, "fx", told) + _schema(
        "PDF/UA", "http://www.aiim.org/pdfua/ns/id/", "pdfuaid", _told("part", "The part of ISO 14289", "Integer")
    )
    return (
        f'<rdf:Description rdf:about="" xmlns:fx="{SCHEMA}">{values}</rdf:Description>'
        '<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" pdfuaid:part="1"/>'
        '<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"'
        ' xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"'
        ' xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">'
        f"<pdfaExtension:schemas><rdf:Bag>{schemas}</rdf:Bag></pdfaExtension:schemas></rdf:Description>"
    )


def _schema(title: str, uri: str, prefix: str, told: str) -> str:
    return (
        f'<rdf:li rdf:parseType="Resource"><pdfaSchema:schema>{title}</pdfaSchema:schema>'
        f"<pdfaSchema:namespaceURI>{uri}</pdfaSchema:namespaceURI><pdfaSchema:prefix>{prefix}</pdfaSchema:prefix>"
        f"<pdfaSchema:property><rdf:Seq>{told}</rdf:Seq></pdfaSchema:property></rdf:li>"
    )


def _told(name: str, meaning: str, kind: str = "Text") -> str:
    return (
        f'<rdf:li rdf:parseType="Resource"><pdfaProperty:name>{name}</pdfaProperty:name>'
        f"<pdfaProperty:valueType>{kind}</pdfaProperty:valueType><pdfaProperty:category>external</pdfaProperty:category>"
        f"<pdfaProperty:description>{meaning}</pdfaProperty:description></rdf:li>"
    )


def carried_by(content: bytes) -> Any:
    """The bytes of the e-invoice that a PDF carries, or None."""
    from pikepdf import Pdf

    with Pdf.open(BytesIO(content)) as pdf:
        file = pdf.attachments.get(FILE_NAME)
        return file.get_file().read_bytes() if file is not None else None
