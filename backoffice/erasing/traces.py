"""Where a name still stands after an erasure: in every column of every table, and by which rule it is there."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

from backoffice.documents.models import Document
from backoffice.keeping.kinds import BY_NAME

# The kind of record that each table belongs to. A table that is not named here may hold nobody's name after an erasure.
RULE_OF = {
    "clients.signature": "form",
    "clients.animal": "horse",
    "clients.caution": "health",
    "clients.healthfact": "health",
    "clients.measure": "health",
    "clients.stopnote": "health",
    "clients.incident": "incident",
    "clients.addition": "incident",
    "clients.vetcall": "health",
    "clients.vetreferral": "health",
    "clients.visit": "visit",
    "clients.earlierwork": "visit",
    "clients.visitphoto": "visit",
    "clients.barnevent": "visit",
    "clients.handmoney": "books",
    "clients.session": "visit",
    "clients.calllater": "visit",
    "clients.hire": "form",
    "clients.handover": "form",
    "clients.decision": "visit",
    "clients.dayround": "visit",
    "billing.acceptance": "agreement",
    "billing.charge": "books",
    "billing.invoice": "books",
    "billing.invoiceline": "books",
    "billing.creditnote": "books",
    "billing.payment": "books",
    "billing.refund": "books",
    "billing.writeoff": "books",
    "billing.invoicerun": "books",
    "billing.bankline": "books",
    "billing.securitydeposit": "books",
    "billing.taxexemption": "books",
    "billing.voucher": "books",
    "billing.expense": "books",
    "billing.reminder": "books",
    "billing.moneyquestion": "books",
}
RULE_OF_PAPER = {
    Document.Kind.FORM: "form",
    Document.Kind.HANDOVER: "form",
    Document.Kind.REFERRAL: "health",
    Document.Kind.PHOTO: "horse",
    Document.Kind.ROUND_SHEET: "visit",
    Document.Kind.VISIT_REPORT: "visit",
    Document.Kind.HISTORY: "history",
    Document.Kind.INCIDENT: "incident",
    Document.Kind.INVOICE: "books",
    Document.Kind.CREDIT_NOTE: "books",
    Document.Kind.RECEIPT: "books",
    Document.Kind.VOUCHER: "books",
    Document.Kind.DEPOSIT_SLIP: "books",
    Document.Kind.BILL: "books",
}
WORDS = (models.CharField, models.TextField, models.JSONField)


@dataclass(frozen=True, slots=True)
class Trace:
    """One place in the database: the row, the column, and the rule that keeps it there ("" where there is none)."""

    table: str
    pk: object
    column: str
    rule: str

    def __str__(self) -> str:
        why = f"kept as: {BY_NAME[self.rule].label.lower()}" if self.rule else "BY NO RULE"
        return f"{self.table} {self.pk}, {self.column}: {why}"


def traces_of(name: str) -> Iterator[Trace]:
    """Every row that holds the name, whatever its case."""
    wanted = name.casefold()
    for model in apps.get_models():
        columns = [field.attname for field in model._meta.concrete_fields if isinstance(field, WORDS)]
        if not columns:
            continue
        for pk, *values in model._default_manager.values_list("pk", *columns).iterator():
            for column, value in zip(columns, values, strict=True):
                if wanted in _text(value).casefold():
                    yield Trace(model._meta.label_lower, pk, column, _rule(model, pk))


def _text(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _rule(model: type[models.Model], pk: object) -> str:
    label = model._meta.label_lower
    row = model._default_manager.get(pk=pk)
    if label == "billing.quote":
        return "agreement" if hasattr(row, "acceptance") else "quote"
    if isinstance(row, Document):
        return RULE_OF_PAPER.get(Document.Kind(row.kind), "") if row.erased_at is None else ""
    return RULE_OF.get(label, "")
