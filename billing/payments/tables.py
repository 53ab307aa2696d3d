import django_filters
import django_tables2 as tables
from django.urls import reverse

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import DayColumn, MoneyColumn, NameColumn, Table
from billing.payments.models import Payment
from clients.people.models import Person


class PaymentTable(Table):
    number = NameColumn(verbose_name="Receipt")
    payer = NameColumn(accessor="payer__name", linkify=False, verbose_name="From")
    received_on = DayColumn(verbose_name="Received")
    method = tables.Column(verbose_name="How")
    reference = tables.Column()
    amount = MoneyColumn()
    credit = MoneyColumn(verbose_name="Of it, credit")

    class Meta(Table.Meta):
        model = Payment
        fields = ["number", "payer", "received_on", "method", "reference", "amount", "credit"]


class PaymentFilter(FilterSet):
    search_in = ("payer__name", "reference", "number")
    search_label = "Name, reference or number"

    method = django_filters.ChoiceFilter(choices=Payment.Method.choices, label="How it was paid")
    received_from = django_filters.DateFilter(field_name="received_on", lookup_expr="gte", label="Received from")
    received_to = django_filters.DateFilter(field_name="received_on", lookup_expr="lte", label="Received to")


class PayerTable(Table):
    name = NameColumn(linkify=lambda record: reverse("billing:payer", args=[record.pk]), verbose_name="Payer")
    owes = MoneyColumn()
    credit = MoneyColumn(verbose_name="Credit on account")

    class Meta(Table.Meta):
        model = Person
        fields = ["name", "owes", "credit"]


class PayerFilter(FilterSet):
    search_in = ("name", "email")

    owing = django_filters.ChoiceFilter(
        field_name="owes", lookup_expr="gt", choices=[("0", "owes something")], label="Balance"
    )
