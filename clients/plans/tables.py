import django_tables2 as tables

from backoffice.ui.filters import FilterSet
from backoffice.ui.tables import MinutesColumn, NameColumn, Table
from clients.plans.models import Guideline, GuidelineVersion, Service


class ServiceTable(Table):
    name = NameColumn(linkify=("clients:service-edit", {"pk": tables.A("pk")}))
    minutes = MinutesColumn(verbose_name="Hands-on")
    uses_machine = tables.Column(verbose_name="Machine")
    is_offered = tables.Column(verbose_name="Offered")

    class Meta(Table.Meta):
        model = Service
        fields = ["name", "kind", "minutes", "uses_machine", "is_offered"]

    def render_uses_machine(self, value: bool) -> str:
        return "Yes" if value else "No"

    def render_is_offered(self, value: bool) -> str:
        return "Yes" if value else "No"


class ServiceFilter(FilterSet):
    search_in = ("name",)
    search_label = "Search services"

    class Meta:
        model = Service
        fields = ["kind", "is_offered"]


class GuidelineTable(Table):
    name = NameColumn()
    goal = tables.Column()
    version = tables.Column(empty_values=(), orderable=False)
    source = tables.Column(empty_values=(), orderable=False, verbose_name="Where it comes from")
    vet = tables.Column(empty_values=(), orderable=False, verbose_name="Vet")

    class Meta(Table.Meta):
        model = Guideline
        fields = ["name", "goal", "version", "vet", "source"]

    def render_version(self, record: Guideline) -> str:
        version = _newest(record)
        return str(version.number) if version else "–"

    def render_source(self, record: Guideline) -> str:
        version = _newest(record)
        return version.source if version else "–"

    def render_vet(self, record: Guideline) -> str:
        newest = _newest(record)
        return "Needs the vet" if record.needs_vet or (newest and newest.asks_vet) else "–"


class GuidelineFilter(FilterSet):
    search_in = ("name", "versions__source")
    search_label = "Search guidelines"

    class Meta:
        model = Guideline
        fields = ["goal"]

    def search(self, queryset, name, value):  # type: ignore[no-untyped-def]
        return super().search(queryset, name, value).distinct()


def _newest(guideline: Guideline) -> GuidelineVersion | None:
    """The first of the prefetched versions, newest first."""
    versions = list(guideline.versions.all())
    return versions[0] if versions else None
