"""Questions of consignors and their answers."""

from django.db.models import QuerySet

from inventory.models import Consignment, ConsignorQuestion


def questions_of(stay: Consignment) -> QuerySet[ConsignorQuestion]:
    """Every question of one stay, the latest first."""
    return ConsignorQuestion.objects.filter(consignment=stay).select_related("answer").order_by("-pk")


def unanswered() -> QuerySet[ConsignorQuestion]:
    rows = ConsignorQuestion.objects.filter(answer__isnull=True).select_related("consignment__vehicle")
    return rows.order_by("pk")
