"""An index for Django only; code imports the feature's own models."""

from billing.invoices.models import Charge, ChargeShare, Invoice, InvoiceLine
from billing.journal.models import Posting, Transaction
from billing.numbers.models import NumberSeries
from billing.packages.models import MonthlyPart, MonthlyPlan, Package, PackagePart
from billing.payments.models import Allocation, Payment
from billing.prices.models import (
    Break,
    CallOutBand,
    CallOutRule,
    CostRates,
    HireRate,
    MoneyRules,
    PersonTerms,
    Price,
    PriceList,
    TaxRate,
)
from billing.quotes.models import (
    Acceptance,
    AgreedPlan,
    Option,
    OptionPhase,
    OptionSchedule,
    Quote,
    QuoteHorse,
)

__all__ = [
    "Acceptance",
    "AgreedPlan",
    "Allocation",
    "Break",
    "CallOutBand",
    "CallOutRule",
    "Charge",
    "ChargeShare",
    "CostRates",
    "HireRate",
    "Invoice",
    "InvoiceLine",
    "MoneyRules",
    "MonthlyPart",
    "MonthlyPlan",
    "NumberSeries",
    "Option",
    "OptionPhase",
    "OptionSchedule",
    "Package",
    "PackagePart",
    "Payment",
    "PersonTerms",
    "Posting",
    "Price",
    "PriceList",
    "Quote",
    "QuoteHorse",
    "TaxRate",
    "Transaction",
]
