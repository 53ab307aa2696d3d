"""What holds on a day: of dated rows, the one with the latest start that is not after the day."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Protocol, TypeVar

from django.db.models import Prefetch, QuerySet

from billing.prices.models import Break, CallOutRule, HireRate, PersonTerms, Price, PriceList, TaxExemption, TaxRate
from billing.prices.rules import CostRates, FeeRule, MoneyRules
from clients.people.models import Barn, Person
from clients.plans.models import Service


class Dated(Protocol):
    since: date


D = TypeVar("D", bound=Dated)


def latest(rows: Iterable[D], on: date) -> D | None:
    return max((row for row in rows if row.since <= on), key=lambda row: row.since, default=None)


@dataclass(frozen=True, slots=True)
class PriceBook:
    """Every dated price, call-out rule, tax rate and term, read once, for work of many days and payers."""

    prices: dict[tuple[int, int], list[Price]]
    call_outs: dict[str, list[CallOutRule]]
    tax_rates: dict[str, list[TaxRate]]
    terms: dict[int, list[PersonTerms]]
    exemptions: dict[int, list[TaxExemption]]
    rules: list[MoneyRules]
    fees: list[FeeRule]
    default: PriceList | None

    def price_of(self, service_pk: int, price_list: PriceList | None, on: date) -> Price | None:
        """The price in the list, or in the default list where this one says nothing about the service."""
        own = latest(self.prices[price_list.pk, service_pk], on) if price_list else None
        if own is not None or self.default is None:
            return own
        return latest(self.prices[self.default.pk, service_pk], on)

    def call_out_for(self, zone: str, on: date) -> CallOutRule | None:
        return (latest(self.call_outs[zone], on) if zone else None) or latest(self.call_outs[""], on)

    @property
    def counts_distance(self) -> bool:
        return any(rule.way != CallOutRule.Way.FLAT for rules in self.call_outs.values() for rule in rules)

    def tax_rate_of(self, category: str, payer_pk: int, on: date) -> TaxRate | None:
        return _less_exemption(latest(self.tax_rates[category], on), latest(self.exemptions[payer_pk], on), on)

    def is_outside(self, category: str, payer_pk: int, on: date) -> bool:
        """No rate is recorded: outside of tax."""
        return self.tax_rate_of(category, payer_pk, on) is None

    def rules_on(self, on: date) -> MoneyRules:
        return latest(self.rules, on) or MoneyRules()

    def fee_rule_on(self, on: date) -> FeeRule:
        return latest(self.fees, on) or FeeRule()

    def price_list_of(self, person_pk: int | None, on: date) -> PriceList | None:
        terms = latest(self.terms[person_pk], on) if person_pk is not None else None
        return terms.price_list if terms else self.default


def tax_book() -> PriceBook:
    """Only what taxes a line: the rates, who is exempt, and where tax is rounded."""
    rates: dict[str, list[TaxRate]] = defaultdict(list)
    exemptions: dict[int, list[TaxExemption]] = defaultdict(list)
    for rate in TaxRate.objects.all():
        rates[rate.category].append(rate)
    for exemption in TaxExemption.objects.all():
        exemptions[exemption.person_id].append(exemption)
    rules = list(MoneyRules.objects.all())
    return PriceBook(defaultdict(list), defaultdict(list), rates, defaultdict(list), exemptions, rules, [], None)


def _less_exemption(rate: TaxRate | None, exemption: TaxExemption | None, on: date) -> TaxRate | None:
    """The rate, or one of nothing with the certificate as its reason. A price that holds tax stays what it is."""
    if rate is None or not rate.percent or exemption is None or not exemption.holds_on(on):
        return rate
    return TaxRate(category=rate.category, percent=Decimal(0), text=str(exemption), since=exemption.since)


def price_book() -> PriceBook:
    taxes = tax_book()
    book = PriceBook(
        prices=defaultdict(list),
        call_outs=defaultdict(list),
        tax_rates=taxes.tax_rates,
        terms=defaultdict(list),
        exemptions=taxes.exemptions,
        rules=taxes.rules,
        fees=list(FeeRule.objects.all()),
        default=default_price_list(),
    )
    for price in priced():
        book.prices[price.price_list_id, price.service_id].append(price)
    for rule in CallOutRule.objects.prefetch_related("bands"):
        book.call_outs[rule.zone].append(rule)
    for terms in PersonTerms.objects.select_related("price_list"):
        book.terms[terms.person_id].append(terms)
    return book


def priced() -> QuerySet[Price]:
    return Price.objects.select_related("price_list", "service").prefetch_related(
        Prefetch("breaks", queryset=Break.objects.order_by("count"))
    )


def default_price_list() -> PriceList | None:
    return PriceList.objects.filter(is_default=True).first()


def price_list_of(person: Person, on: date) -> PriceList | None:
    terms = latest(PersonTerms.objects.filter(person=person).select_related("price_list"), on)
    return terms.price_list if terms else default_price_list()


def price_of(service: Service, price_list: PriceList, on: date) -> Price | None:
    """The price in the list, or in the default list where this one says nothing about the service."""
    own = latest(priced().filter(service=service, price_list=price_list), on)
    return own or latest(priced().filter(service=service, price_list__is_default=True), on)


def call_out_for(barn: Barn, on: date) -> CallOutRule | None:
    """The rule of the barn's zone, or the general one."""
    rules = CallOutRule.objects.filter(zone__in={barn.call_out_zone, ""}).prefetch_related("bands")
    zoned = latest((rule for rule in rules if rule.zone), on)
    return zoned or latest((rule for rule in rules if not rule.zone), on)


def tax_rate_of(category: str, payer: Person, on: date) -> TaxRate | None:
    exemption = latest(TaxExemption.objects.filter(person=payer), on)
    return _less_exemption(latest(TaxRate.objects.filter(category=category), on), exemption, on)


def hire_rate_on(on: date) -> HireRate | None:
    return latest(HireRate.objects.all(), on)


def cost_rates_on(on: date) -> CostRates | None:
    return latest(CostRates.objects.all(), on)


def money_rules_on(on: date) -> MoneyRules:
    """What is recorded, or the defaults: tax rounded once for each invoice, no deposit, nothing kept."""
    return latest(MoneyRules.objects.all(), on) or MoneyRules()


def fee_rule_on(on: date) -> FeeRule:
    """What is recorded, or no fee for anything."""
    return latest(FeeRule.objects.all(), on) or FeeRule()
