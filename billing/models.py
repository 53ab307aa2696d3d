"""An index for Django only; code imports the feature's own models."""

from billing.invoices.models import Charge, ChargeShare, Invoice, InvoiceLine
from billing.journal.models import Posting, Transaction
from billing.numbers.models import NumberSeries
from billing.packages.models import MonthlyPart, MonthlyPlan, Package, PackagePart
from billing.packages.sold import (
    Deduction,
    MonthlyRun,
    MonthlyRunPart,
    PackageSold,
    PackageSoldPart,
    PlanMonth,
    Use,
)
from billing.payments.models import Allocation, Payment
from billing.prices.models import (
    Break,
    CallOutBand,
    CallOutRule,
    CostRates,
    HireRate,
    MileageRate,
    MoneyRules,
    PersonTerms,
    Price,
    PriceList,
    TaxRate,
)
from billing.quotes.models import (
    Acceptance,
    AgreedHire,
    AgreedHireHorse,
    AgreedPlan,
    Option,
    OptionPhase,
    OptionSchedule,
    Quote,
    QuoteHorse,
)

__all__ = [
    "Acceptance",
    "AgreedHire",
    "AgreedHireHorse",
    "AgreedPlan",
    "Allocation",
    "Break",
    "CallOutBand",
    "CallOutRule",
    "Charge",
    "ChargeShare",
    "CostRates",
    "Deduction",
    "HireRate",
    "Invoice",
    "InvoiceLine",
    "MileageRate",
    "MoneyRules",
    "MonthlyPart",
    "MonthlyPlan",
    "MonthlyRun",
    "MonthlyRunPart",
    "NumberSeries",
    "Option",
    "OptionPhase",
    "OptionSchedule",
    "Package",
    "PackagePart",
    "PackageSold",
    "PackageSoldPart",
    "Payment",
    "PersonTerms",
    "PlanMonth",
    "Posting",
    "Price",
    "PriceList",
    "Quote",
    "QuoteHorse",
    "TaxRate",
    "Transaction",
    "Use",
]
