"""The kinds of rates: for each its form, its list, its words, and the powers to see and to change it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.http import Http404, HttpRequest
from django.urls import reverse

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import Table
from billing.prices import forms, tables
from billing.prices.call_out_form import CallOutForm
from billing.prices.distance import say_distance
from billing.prices.models import CallOutRule, HireRate, PayerCap, PersonTerms, Price, Rate, TaxExemption, TaxRate
from billing.prices.rules import CostRates, FeeRule, MileageRate, MoneyRules


@dataclass(frozen=True, slots=True)
class RateKind:
    """One kind of dated row. `hint` says more on the page of one, from the business."""

    model: type[Rate]
    form: type[forms.RateForm]
    table: type[Table]
    filterset: type[FilterSet]
    heading: str
    one: str
    new: str
    text: str
    see: Power = Power.SEE_MONEY
    change: Power = Power.CHANGE_SETTINGS
    hint: Callable[[Business], str] | None = None
    loads: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    def listed(self) -> QuerySet[Any]:
        """All rows with what their list shows: what they point to by `loads`, rows of their own by `beside`."""
        rows: QuerySet[Any] = self.model._default_manager.select_related(*self.loads)
        return rows.prefetch_related(*self.beside)


NO_TAX = "Nothing recorded means no tax on any invoice. Ask your local tax office whether that is right for you."
KINDS = {
    "prices": RateKind(
        Price,
        forms.PriceForm,
        tables.PriceTable,
        tables.PriceFilter,
        "Prices",
        "price",
        "price-new",
        "What a session costs.",
        beside=("breaks",),
    ),
    "call-outs": RateKind(
        CallOutRule,
        CallOutForm,
        tables.CallOutTable,
        tables.CallOutFilter,
        "Call-outs",
        "call-out rule",
        "call-out-new",
        "What a stop costs, and how its horses share it. Nothing recorded: no call-out is charged.",
        hint=say_distance,
        beside=("bands",),
    ),
    "hire-rates": RateKind(
        HireRate,
        forms.HireRateForm,
        tables.HireRateTable,
        tables.SinceFilter,
        "Hire",
        "hire rate",
        "hire-rate-new",
        "What a hired machine costs, with its visits.",
    ),
    "tax-rates": RateKind(
        TaxRate,
        forms.TaxRateForm,
        tables.TaxRateTable,
        tables.TaxRateFilter,
        "Tax rates",
        "tax rate",
        "tax-rate-new",
        NO_TAX,
    ),
    "money-rules": RateKind(
        MoneyRules,
        forms.MoneyRulesForm,
        tables.MoneyRulesTable,
        tables.SinceFilter,
        "Deposit and rounding",
        "set of rules",
        "money-rules-new",
        "Booking deposit, where tax is rounded, and what a package leaves unused.",
    ),
    "fee-rules": RateKind(
        FeeRule,
        forms.FeeRuleForm,
        tables.FeeRuleTable,
        tables.SinceFilter,
        "Fees without work",
        "fee rule",
        "fee-rule-new",
        "What is proposed when a visit could not be worked or was cancelled late. Nothing recorded: no fee. An unwell "
        "or held horse, the weather and our own cancelling cost nothing in any case.",
    ),
    "cost-rates": RateKind(
        CostRates,
        forms.CostRatesForm,
        tables.CostRatesTable,
        tables.SinceFilter,
        "What work costs you",
        "cost rate",
        "cost-rate-new",
        "Only you see this: it makes “earned per hour” honest.",
        see=Power.SEE_MARGINS,
        change=Power.SEE_MARGINS,
    ),
    "mileage-rates": RateKind(
        MileageRate,
        forms.MileageRateForm,
        tables.MileageRateTable,
        tables.SinceFilter,
        "Mileage rates",
        "mileage rate",
        "mileage-rate-new",
        "What driving is worth for your tax, as your tax office publishes it. Yours to change when it does.",
    ),
    "terms": RateKind(
        PersonTerms,
        forms.PersonTermsForm,
        tables.PersonTermsTable,
        tables.PersonTermsFilter,
        "Who has which price list",
        "agreement",
        "terms-new",
        "Everybody else pays by the default list.",
        change=Power.CHANGE_MONEY,
        loads=("person", "price_list"),
    ),
    "payer-caps": RateKind(
        PayerCap,
        forms.PayerCapForm,
        tables.PayerCapTable,
        tables.PayerCapFilter,
        "Caps of those who pay for owners",
        "cap",
        "payer-cap-new",
        "A trainer who pays in the owners’ place, up to an amount. What does not fit is asked of the owner.",
        change=Power.CHANGE_MONEY,
        loads=("person",),
    ),
    "tax-exemptions": RateKind(
        TaxExemption,
        forms.TaxExemptionForm,
        tables.TaxExemptionTable,
        tables.TaxExemptionFilter,
        "Who pays no tax",
        "exemption",
        "tax-exemption-new",
        "By a certificate of theirs, up to its last day. Everybody else is taxed by the rates.",
        change=Power.CHANGE_MONEY,
        loads=("person",),
    ),
}


def get_kind_or_404(request: HttpRequest, name: str, *, to_change: bool = False) -> RateKind:
    """The door of a kind of rate."""
    if name not in KINDS:
        raise Http404(name)
    kind = KINDS[name]
    demand(request, kind.change if to_change else kind.see)
    return kind


def page_of(name: str, rate: Any = None) -> str:
    """Where the list of a kind is; of a price, its own list."""
    if name == "prices":
        return str(rate.price_list.get_absolute_url()) if rate else reverse("billing:prices")
    return reverse(f"billing:{name}")
