"""Whom the form of an arrival or a prospect offers to choose from."""

from django.http import QueryDict

from inventory.queries.directory import consignor_choices


def choices_of(sent: QueryDict) -> list[tuple[int, str]]:
    return consignor_choices(text=sent.get("known", ""), chosen=sent.get("consignor_id", ""))
