import django_filters
from django.urls import reverse

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import ChipColumn, DayColumn, MoneyColumn, NameColumn, Table
from billing.vouchers.models import Voucher

STATES = {
    "open": ("ready", ""),
    "not in force": ("info", ""),
    "used up": ("plain", ""),
    "lapsed": ("ask", ""),
}


class VoucherTable(Table):
    shown_code = NameColumn(
        verbose_name="Code",
        order_by="code",
        linkify=lambda record: reverse("backoffice:document", args=[record.paper_id]),
    )
    payer = NameColumn(accessor="payer__name", verbose_name="Bought by", linkify=False)
    for_whom = NameColumn(verbose_name="For", linkify=False)
    rest = MoneyColumn(verbose_name="Left")
    amount = MoneyColumn()
    state = ChipColumn(tones=STATES, verbose_name="State")
    ends_on = DayColumn(verbose_name="Until")
    sold_on = DayColumn(verbose_name="Sold")

    class Meta(Table.Meta):
        model = Voucher
        fields = ["shown_code", "payer", "for_whom", "rest", "amount", "state", "ends_on", "sold_on"]


class VoucherFilter(FilterSet):
    search_in = ("code", "payer__name", "for_whom")

    state = django_filters.ChoiceFilter(choices=[(state, state) for state in STATES], label="State")
