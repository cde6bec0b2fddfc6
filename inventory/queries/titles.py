"""The title papers of one stay: what was recorded, where they went, and what is still open."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from inventory.models import Consignment, LienQuote, Terms, TitlePaper, TitleSending
from inventory.rules import titles
from inventory.rules.titles import PaperSeen


@dataclass(frozen=True, kw_only=True)
class TitlePapers:
    """What the file shows of them, newest first."""

    rows: list[TitlePaper]
    sendings: list[TitleSending]
    question: str
    nameless: bool  # the paper that counts has no name recorded: not asked about, but shown
    lien_open: bool  # there was a lien, and no release of it is in hand


def papers_of_stay(stay: Consignment) -> list[TitlePaper]:
    """In order of recording: those recorded since the stay was booked, else what the last stay left."""
    rows = list(TitlePaper.objects.filter(vehicle=stay.vehicle_id).order_by("pk"))
    own = [row for row in rows if timezone.localdate(row.at) >= stay.booked_on]
    return own if any(_seen(row).is_read_ownership for row in own) else rows


def papers_seen(stay: Consignment) -> list[PaperSeen]:
    return [_seen(row) for row in papers_of_stay(stay)]


def title_papers_of(stay: Consignment, *, today: date) -> TitlePapers:
    terms = Terms.objects.filter(consignment=stay).order_by("-number").first()
    papers = papers_seen(stay)
    counting = titles.ownership_paper(papers)
    sendings = TitleSending.objects.filter(consignment=stay).select_related("paper").order_by("-pk")
    return TitlePapers(
        rows=list(TitlePaper.objects.filter(vehicle=stay.vehicle_id).order_by("-pk")),
        sendings=list(sendings),
        question=titles.names_question(
            papers, consignor=stay.consignor.name, signed_by=terms.signed_by if terms else ""
        ),
        nameless=counting is not None and not counting.names,
        lien_open=had_lien(stay) and not titles.lien_release_in_hand(papers, on=today),
    )


def had_lien(stay: Consignment) -> bool:
    """Whether terms or a lender's quote ever said that something was owed on it during this stay."""
    by_terms = Terms.objects.filter(consignment=stay, lien_amount__gt=0)
    return by_terms.exists() or LienQuote.objects.filter(consignment=stay, amount__gt=0).exists()


def counting_paper(stay: Consignment) -> TitlePaper | None:
    """The latest paper of ownership that was read and not set aside since: the one that goes to the buyer."""
    rows = papers_of_stay(stay)
    counting = titles.ownership_paper([_seen(row) for row in rows])
    return next((row for row in reversed(rows) if _seen(row) == counting), None)


def _seen(row: TitlePaper) -> PaperSeen:
    return PaperSeen(
        kind=row.kind, standing=row.standing, number=row.number, name=row.name_on_paper, more_names=row.more_names,
        names_joined=row.names_joined, owner_kind=row.owner_kind, signer=row.signer, signs_by=row.signs_by,
        in_hand_since=row.in_hand_since,
    )  # fmt: skip
