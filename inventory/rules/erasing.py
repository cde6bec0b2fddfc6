"""What is emptied where a person is erased, and what is kept and why. The one list of it.

Columns stand as "model.column". A column of text that stands nowhere here must hold no name of a person.
"""

import re
from collections.abc import Iterable, Sequence
from typing import Any

GONE = "Emptied when the person was erased."

NAMED_WITHIN: tuple[str, ...] = (
    "consignment.note", "consignor.note", "contact.note", "followup.said", "incident.what", "incident.where",
    "inquiry.about", "inquiry.who", "job.message", "job.result", "logentry.data", "offer.bidder", "offer.conditions",
    "offer.contact", "offer.note", "outmessage.last_error", "outmessage.subject", "outmessage.text",
    "personnote.text", "photo.caption", "prospect.declined_because", "prospect.story", "prospect.terms",
    "prospectphoto.caption", "repeatkey.answer", "showing.note", "showing.who", "testdrive.accompanied_by",
    "testdrive.driver", "testdrive.note_back", "testdrive.waiver", "workorder.called_off", "workorder.found",
    "workorder.what",
)  # fmt: skip
"""Where name, e-mail and phone are taken out of whatever text they stand in, whoever the row is of."""

_TERMS = "terms and consent: what was agreed must be provable"
_MONEY = "kept as law asks for money records; check local law"
_PAPERS = "signed receipts and papers: who handed over, who collected"
_FACTS = "a fact of the vehicle's stay that is never edited"
_FILE = "a file as it was sent in; delete the file itself where the law asks for it"

KEPT: dict[str, str] = {
    "terms.signed_by": _TERMS, "terms.payees": _TERMS, "terms.title_protection_note": _TERMS,
    "terms.insurance": _TERMS, "terms.lien_holder": _TERMS, "lienquote.holder": _TERMS,
    "consentrequest.text": _TERMS, "consentrequest.what": _TERMS, "consentrequest.vendor": _TERMS,
    "consentanswer.given_by": _TERMS, "consentanswer.how": _TERMS, "consentanswer.text": _TERMS,
    "consent.given_by": _TERMS, "consent.how": _TERMS, "consent.text": _TERMS,
    "consignorquestion.text": _TERMS, "questionanswer.text": _TERMS,
    "deal.buyer": _MONEY, "deal.address": _MONEY, "deal.contact": _MONEY, "deal.trade_note": _MONEY,
    "deal.end_reason": _MONEY, "offer.bidder": f"of an offer that a deal followed: {_MONEY}",
    "offer.contact": f"of an offer that a deal followed: {_MONEY}",
    "offeranswer.note": _MONEY, "buyerpayment.reference": _MONEY, "concession.reason": _MONEY,
    "dealextra.label": _MONEY, "trustmovement.reference": _MONEY, "trustmovement.note": _MONEY,
    "consignorpayment.reference": _MONEY, "charge.what": _MONEY, "charge.agreed_by": _MONEY, "charge.vendor": _MONEY,
    "settlement.reason": _MONEY, "settlementline.label": _MONEY, "settlementline.vendor": _MONEY,
    "settlementpayee.name": _MONEY, "disbursement.payee": _MONEY, "disbursement.reference": _MONEY,
    "owncost.what": _MONEY, "owncost.paid_to": _MONEY, "saleoutcome.detail": _MONEY,
    "arrivalreceipt.handed_over_by": _PAPERS, "arrivalreceipt.note": _PAPERS, "arrivalreceipt.giver_strokes": _PAPERS,
    "arrivalreceipt.unsigned_reason": _PAPERS, "release.collected_by": _PAPERS, "release.note": _PAPERS,
    "release.strokes": _PAPERS, "consignment.signed_for_by": _PAPERS, "titlesending.to_whom": _PAPERS,
    "titlesending.way": _PAPERS, "titlepaper.name_on_paper": _PAPERS, "titlepaper.more_names": _PAPERS,
    "titlepaper.signer": _PAPERS, "titlepaper.place": _PAPERS,
    "movement.place": _FACTS, "movement.keys": _FACTS, "movement.note": _FACTS, "askchange.reason": _FACTS,
    "incidentstep.text": _FACTS, "listing.sections": _FACTS, "flagclearance.reason": _FACTS,
    "checkresult.note": _FACTS, "intakeinspection.note": _FACTS, "componentrecord.note": _FACTS,
    "tyrerecord.note": _FACTS, "enginefigures.note": _FACTS, "drivelinefigures.note": _FACTS,
    "electricfigures.note": _FACTS, "caredone.note": _FACTS, "clip.caption": _FACTS, "hiddenmedia.reason": _FACTS,
    "receiptdamage.what": _PAPERS, "receiptitem.what": _PAPERS, "latetap.said": _FACTS, "bankbalance.note": _MONEY,
    "marketsale.note": _FACTS, "marketsale.reason": _FACTS, "scorepolicy.reason": _FACTS, "upload.caption": _FILE,
    "modification.what": _FACTS, "identitynumber.note": _FACTS, "identityresolution.reason": _FACTS,
    "salesimport.name": _FILE, "salesimport.report": _FILE,
}  # fmt: skip
"""What stays, and why; the same table stands on the page that asks whether to erase."""

EMPTIED_SAID: tuple[tuple[str, str], ...] = (
    ("people", "name, e-mail, phone, address and internal note"),
    ("notes", "what was said in calls and messages"),
    ("inquiries", "who asked, and what about"),
    ("follow_ups", "what came of inquiries"),
    ("showings", "who came, and the note"),
    ("offers", "who offered, contact and notes, where no deal followed"),
    ("drives", "driver, licence, its copy and the signature of test drives"),
    ("prospects", "what was told about vehicles that may come"),
    ("mails", "address and text of every mail"),
    ("links", "private links are revoked"),
)
"""What is emptied, in words; beside each stands how many rows of this person it is."""

KEPT_SAID: tuple[tuple[str, str], ...] = (
    ("Terms, consents, questions and answers", _TERMS),
    ("Deals, payments, offers that a deal followed, settlements, payees, what was paid out", _MONEY),
    ("Receipts of arrival and release, title papers, sent titles", _PAPERS),
    ("Where a vehicle stood, asks, incidents, descriptions", _FACTS),
    ("Files that were imported, and paper copies", _FILE),
)


def label_of(number: int) -> str:
    return f"Erased person {number}"


def without(text: str, *, marks: Sequence[str], label: str) -> str:
    """The text with every name, address or number of the person as whole words replaced, whatever their case.

    A name of one word only where it is the whole text: within a sentence it may be any word.
    """
    for mark in sorted(filter(None, map(str.strip, marks)), key=len, reverse=True):
        if mark.isalpha():
            text = label if text.strip().casefold() == mark.casefold() else text
            continue
        spaced = r"\s+".join(re.escape(part) for part in mark.split())
        text = re.sub(rf"(?<!\w){spaced}(?!\w)", label, text, flags=re.IGNORECASE)
    return text


def data_without(data: Any, *, marks: Sequence[str], label: str) -> Any:
    """The same within lists and tables of text; everything else stays as it is."""
    if isinstance(data, str):
        return without(data, marks=marks, label=label)
    if isinstance(data, dict):
        return {key: data_without(value, marks=marks, label=label) for key, value in data.items()}
    if isinstance(data, list):
        return [data_without(value, marks=marks, label=label) for value in data]
    return data


def names(data: Any, *, marks: Iterable[str]) -> bool:
    """Whether the text, or a text within it, says one of the marks."""
    return bool(data_without(data, marks=list(marks), label="\0") != data)
