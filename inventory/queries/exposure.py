"""When nobody could buy: the closed spans of many stays, in three queries however many there are."""

from collections import defaultdict
from datetime import date

from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import Consignment, Deal, Movement, SaleOutcome
from inventory.rules.exposure import Closed, Exposure, away, exposure_of, held, sold_for_a_while
from inventory.rules.words import DealEnd, Result


def closed_spans(stays: QuerySet[Consignment]) -> dict[int, list[Closed]]:
    """The closed spans of each stay that has some: deposits, sales that were unwound, and places not for sale.

    The deal that ended in the sale that stands closes nothing: its stay ended on the day that deal began.
    """
    found: dict[int, list[Closed]] = defaultdict(list)
    for stay_id, began_on, ended_on in (
        Deal.objects.filter(consignment__in=stays)
        .exclude(end=DealEnd.SOLD)
        .values_list("consignment_id", "began_on", "ended_on")
    ):
        found[stay_id].append(held(began_on=began_on, ended_on=ended_on))
    for stay_id, sold_on, unwound_on in SaleOutcome.objects.filter(
        consignment__in=stays, result=Result.SOLD, followed_by__result=Result.VOID
    ).values_list("consignment_id", "ended_on", "followed_by__ended_on"):
        found[stay_id].append(sold_for_a_while(sold_on=sold_on, unwound_on=unwound_on))
    for stay_id, moves in _moves(stays).items():
        found[stay_id] += away(moves)
    return found


def _moves(stays: QuerySet[Consignment]) -> dict[int, list[tuple[date, bool]]]:
    """Each movement with its day at the lot, in the order they were recorded."""
    rows = Movement.objects.filter(consignment__in=stays).order_by("pk")
    found: dict[int, list[tuple[date, bool]]] = defaultdict(list)
    for stay_id, at, not_for_sale in rows.values_list("consignment_id", "at", "not_for_sale"):
        found[stay_id].append((timezone.localdate(at), not_for_sale))
    return found


def exposure_of_stay(stay: Consignment) -> Exposure | None:
    """The exposed days of one stay; None where it was never listed."""
    if stay.listed_on is None:
        return None
    spans = closed_spans(Consignment.objects.filter(pk=stay.pk))
    return exposure_of(stay.listed_on, closed=spans.get(stay.pk, ()))
