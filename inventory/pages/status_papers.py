"""The consignor's papers under the private link, each made from the record when it is asked for."""

import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.pages import serving
from inventory.pages.access import link_page
from inventory.papers.agreement import agreement as agreement_pdf
from inventory.papers.statement import statement as statement_pdf
from inventory.queries.agreement_paper import agreement_paper, terms_by_number
from inventory.queries.releases import file_name, release_of_stay
from inventory.queries.statement_paper import statement_by_number, statement_paper
from inventory.rules.roles import Act


@require_safe
@link_page(Act.SEE_STATUS)
def agreement(request: HttpRequest, *, link: Any, number: int) -> HttpResponseBase:
    """One version of the terms, without the lot's price band."""
    terms = terms_by_number(link.consignment, number=number)
    paper = agreement_paper(terms, today=timezone.localdate(), with_band=False)
    return _pdf(agreement_pdf(paper), name=f"agreement-{link.consignment.stock_number}-{number}.pdf")


@require_safe
@link_page(Act.SEE_STATUS)
def statement(request: HttpRequest, *, link: Any, number: str) -> HttpResponseBase:
    row = statement_by_number(link.consignment, number=number)
    return _pdf(statement_pdf(statement_paper(row)), name=f"statement-{number}.pdf")


@require_safe
@link_page(Act.SEE_STATUS)
def release(request: HttpRequest, *, link: Any, release: uuid.UUID) -> HttpResponseBase:
    row, content = release_of_stay(release, stay=link.consignment)
    return _pdf(content, name=file_name(row))


def _pdf(content: bytes, *, name: str) -> HttpResponse:
    headers = {"Content-Disposition": serving.disposition(name)}
    return HttpResponse(content, content_type="application/pdf", headers=headers)
