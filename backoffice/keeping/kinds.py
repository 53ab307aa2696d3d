"""Every kind of record that holds something about a person: one table, with the periods to start with.

The years are starting values, not law: the periods differ by place, so each is a dated setting with its reason.
"""

from typing import NamedTuple


class Kind(NamedTuple):
    """`counted_from` says in words which day the years count from; no years: nothing keeps it once it is asked for."""

    name: str
    label: str
    counted_from: str
    years: int
    why: str


INSURER = "What was done and agreed may be asked about for years: ask your insurer and a lawyer for the period here."
TAX = "Tax law asks for the books: 3 to 6 years in many places, more in some. Ask your tax office."

KINDS = (
    Kind("contact", "Name and how to reach them", "the day of the request", 0, "Nothing open needs it any more."),
    Kind("letter", "Letters by mail", "the day it was written", 0, "What it told stands in the record it is about."),
    Kind("unsigned", "Forms never signed", "the day they were asked for", 0, "Nothing was agreed with them."),
    Kind("form", "Signed forms and how they were signed", "the last day the form held", 6, INSURER),
    Kind("horse", "A horse's identity and handling", "the last visit or question", 6, INSURER),
    Kind("health", "Health answers, cautions, vet's answers, stop notes", "the day they were written", 6, INSURER),
    Kind("incident", "Incident notes", "the day it happened", 6, INSURER),
    Kind("visit", "Visits, sessions, reports and permission decisions", "the day of the visit", 6, INSURER),
    Kind("history", "History files handed over", "the day they were made", 1, "To show what was handed over."),
    Kind("quote", "Quotes that were not accepted", "the day of the last word on them", 1, "For when they ask again."),
    Kind("agreement", "Accepted quotes and how they were signed", "the day of the yes", 6, INSURER),
    Kind("books", "Invoices, receipts, payments and the books", "the end of the year", 7, TAX),
)
BY_NAME = {kind.name: kind for kind in KINDS}
