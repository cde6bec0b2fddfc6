"""What the paper of one version of the terms says: parties, vehicle, the terms in words, and what they would leave."""

from collections.abc import Sequence
from datetime import date

from inventory.errors import NotFound
from inventory.models import ConsentAnswer, Consignment, Lot, Terms, TitlePaper
from inventory.papers.agreement import AgreementPaper
from inventory.queries import facts, paper_facts
from inventory.queries.consents import said_in
from inventory.queries.settlements import Net
from inventory.queries.terms import net_sheet
from inventory.queries.titles import counting_paper
from inventory.rules import paper_words
from inventory.rules.money import show
from inventory.rules.terms_words import in_words
from inventory.rules.words import ConsentResult


def terms_by_number(stay: Consignment, *, number: int) -> Terms:
    row = Terms.objects.filter(consignment=stay, number=number).select_related(*_READ).first()
    if row is None:
        raise NotFound("not_found", f"There is no version {number} of the terms.", field="number", got=number)
    return row


_READ = ("consignment__vehicle", "consignment__consignor")


def agreement_paper(terms: Terms, *, today: date, with_band: bool = True) -> AgreementPaper:
    """One version. The net sheet is of `today`: the lien and the charges as they stand then.

    Without the band where it is never shown, as on the consignor's status page.
    """
    stay, lot = terms.consignment, facts.the_lot()
    title, answer = counting_paper(stay), _answer(terms)
    nets = net_sheet(stay, terms=terms, charges=facts.live_charges(stay), today=today, with_band=with_band)
    return AgreementPaper(
        **paper_facts.lot_head(lot), stock_number=stay.stock_number, version=terms.number,
        standing=_standing(terms), made=f"Made {today}", caution=paper_words.LAWYER,
        parties=_parties(stay, lot=lot), vehicle=_vehicle(stay), title=_title(stay, terms=terms, paper=title),
        points=_points(terms), net_head=f"What a sale would leave, worked out for {today}",
        net_note=paper_words.NET_SHEET, nets=[_net(net) for net in nets if net.statement is not None],
        net_questions=[f"{net.label}: {net.question}" for net in nets if net.statement is None],
        signed=_signed(terms), accepted=_accepted(answer), accepted_text=answer.text if answer else "",
        sides=_sides(stay, lot=lot, paper=title),
    )  # fmt: skip


def _points(terms: Terms) -> list[tuple[str, str]]:
    """The terms in words. That nothing is said of insurance is said too: it is asked about when damage is done."""
    uninsured = [] if terms.insurance.strip() else [("Insurance", paper_words.NO_INSURANCE)]
    return [*in_words(said_in(terms)), *uninsured]


def _answer(terms: Terms) -> ConsentAnswer | None:
    rows = ConsentAnswer.objects.filter(request__terms=terms, result=ConsentResult.AGREED)
    return rows.order_by("pk").first()


def _standing(terms: Terms) -> str:
    """Whether this is the version that counts; a proposal must not pass for an agreement."""
    in_effect = facts.terms_of(terms.consignment)
    if not facts.is_accepted(terms):
        return "A proposal: nobody has accepted this version yet."
    if in_effect is not None and in_effect.pk != terms.pk:
        return f"Not in effect any more: version {in_effect.number} of {in_effect.starts_on} counts."
    return ""


def _parties(stay: Consignment, *, lot: Lot) -> list[tuple[str, str]]:
    consignor = stay.consignor
    reached = " · ".join(filter(None, (consignor.phone.strip(), consignor.email.strip())))
    return [
        ("The lot", "\n".join(filter(None, (lot.name, lot.address.strip(), paper_facts.contact_of(lot))))),
        ("The consignor", "\n".join(filter(None, (consignor.name, consignor.address.strip(), reached)))),
    ]


def _vehicle(stay: Consignment) -> list[tuple[str, str]]:
    vehicle = stay.vehicle
    named = [("Body", vehicle.body), ("Engine", vehicle.engine), ("Colour", vehicle.color)]
    return [
        ("Stock number", stay.stock_number),
        ("Vehicle", str(vehicle)),
        ("Year", paper_facts.year_told(stay)),
        *((name, paper_words.as_entered(value)) for name, value in named if value),
        ("VIN or serial", paper_facts.serial_told(stay)),
        ("Odometer", paper_words.odometer_said(stay.mileage, status=stay.odometer_status)),
    ]


def _title(stay: Consignment, *, terms: Terms, paper: TitlePaper | None) -> list[tuple[str, str]]:
    lien = facts.lien_of(terms)
    lien_told = f"{show(lien.amount)} to {lien.holder}, quoted {lien.quoted_on}" if lien else "None is recorded."
    until = f", good until {lien.good_until}" if lien and lien.good_until else ""
    return [
        ("Title brand", paper_facts.title_told(stay)),
        ("Paper", _paper_told(paper) if paper else "None has been read yet."),
        ("Lien", f"{lien_told}{until}"),
    ]


def _paper_told(paper: TitlePaper) -> str:
    joined = f" ({paper.get_names_joined_display()})" if paper.names_joined else ""
    names = "; ".join(_names(paper)) or "no name recorded"
    hand = f"in the lot's hands since {paper.in_hand_since}" if paper.in_hand_since else "not in the lot's hands"
    kind = f"{paper}"
    return f"{kind[:1].upper()}{kind[1:]}, in the name of {names}{joined}; {hand}."


def _names(paper: TitlePaper) -> list[str]:
    return [name.strip() for name in (paper.name_on_paper, paper.more_names) if name.strip()]


def _net(net: Net) -> Sequence[str]:
    amounts = (net.price, net.commission, net.top_up, net.charges, net.lien, net.due)
    return (net.label, *("" if amount is None else show(amount) for amount in amounts))


def _signed(terms: Terms) -> str:
    if not terms.signed_by:
        return ""
    return f"Recorded as signed by {terms.signed_by} on {terms.signed_on}. {paper_words.SIGNED_COPY}"


def _accepted(answer: ConsentAnswer | None) -> str:
    if answer is None:
        return ""
    return paper_words.accepted_told(answer.given_by, on=paper_facts.day_of(answer.at), how=answer.how)


def _sides(stay: Consignment, *, lot: Lot, paper: TitlePaper | None) -> list[str]:
    """The lot, the consignor, every other name on the title, and whoever signs for them."""
    told = [f"For the lot: {lot.name}", f"Consignor: {stay.consignor.name}"]
    if paper is None:
        return told
    known = stay.consignor.name.strip().casefold()
    told += [f"Named on the title: {name}" for name in _names(paper) if name.casefold() != known]
    if paper.signer and paper.signer.strip().casefold() != known:
        told.append(f"For them: {paper.signer}, {paper.get_signs_by_display()}")
    return told
