"""The sentence for a statement by its basis, and the sentence for each kind of log entry."""

from collections.abc import Mapping
from typing import Any

from inventory.rules.words import Basis

# No published sentence may be stronger than what it rests on.
BY_BASIS: dict[str, str] = {
    Basis.MEASURED: "{what}.",
    Basis.SEEN: "{what}.",
    Basis.DOCUMENTED: "{what}, per the papers or plate.",
    Basis.TOLD: "The owner reports: {what}.",
    Basis.PRESUMED: "Believed to be: {what}.",
    Basis.NOT_ESTABLISHED: "Not established: {what}.",
}

LOG_SENTENCES: dict[str, str] = {
    "vehicle.logged": "logged {stock_number}, {vehicle}",
    "vehicle.corrected": "corrected {fields}",
    "vehicle.serial_overridden": "accepted identity number {serial} although {finding}; reason: {reason}",
    "consignor.added": "added consignor {name}",
    "consignor.corrected": "corrected {fields} of consignor {name}",
    "consignment.moved": "moved from {was} to {now}{because}",
    "consignment.corrected": "corrected {fields}",
    "consignment.title_sent": "sent the title{to} on {on}{way}",
    "consignment.released": "released the vehicle to {signed_for_by} on {on}",
    "release.signed": "made the release receipt, collected by {name} ({collector}), handed over by {giver}",
    "terms.agreed": "recorded terms version {number}, signed by {signed_by} on {signed_on}",
    "inspection.begun": "began inspection {number}",
    "inspection.regrade": "began inspection {number} of what was worked on, {what}; {carried} answers kept from {was}",
    "inspection.check": "graded {check}: {verdict}",
    "inspection.feature": "says of {feature}: {present}",
    "inspection.visit": "stood at {station}, engine {engine}",
    "inspection.late": "sent {said} after inspection {number} was finished: kept, not counted",
    "flag.cleared": "cleared the safety flag on {check} ({section}); reason: {reason}",
    "inspection.component": "recorded {component}: {standing} ({basis})",
    "inspection.finished": "finished inspection {number}: condition {condition}, originality {originality}",
    "vehicle.build_date": "recorded that it was built {span} ({basis}): {source}",
    "inspection.tyre": "recorded the tyre, {position}: {what} ({basis})",
    "inspection.engine": "recorded engine figures: {what} ({basis})",
    "inspection.driveline": "recorded driveline figures: {what} ({basis})",
    "inspection.electric": "recorded electrics and fluid: {what} ({basis})",
    "modification.added": "recorded modification: {what}",
    "identity.recorded": "recorded {kind} number {value}",
    "identity.resolved": "resolved a question about the identity: {question}{because}",
    "title.recorded": "recorded {kind} {number}",
    "title.sent": "sent {kind} {number} to {to} on {on}{way}",
    "receipt.signed": "made arrival receipt {number}{replacing}, handed over by {giver}, taken in by {taker}{unsigned}",
    "photo.added": "added photo {caption}",
    "photo.placed": "put a photo to {station}",
    "photo.hidden": "hid photo {caption}; reason: {reason}",
    "clip.added": "added a clip of the {kind} {caption}",
    "clip.hidden": "hid a clip of the {kind} {caption}; reason: {reason}",
    "uploads.cleared": "cleared {count} uploads that were never finished",
    "movement.recorded": "moved it to {place}; keys: {keys}{for_sale}",
    "ask.set": "set the ask to {amount}{because}",
    "listing.written": "kept version {number} of the description; sentences questioned: {questioned}",
    "listing.published": "published version {number} of the description",
    "prospect.logged": "logged {vehicle} of {name}, which may come",
    "prospect.changed": "changed {fields}",
    "prospect.photo": "kept a photo that the owner sent: {caption}",
    "prospect.priced": "priced it by what is told, at {likely}, from {low} to {high}",
    "prospect.offered": "proposed terms: {plan}",
    "prospect.declined": "recorded that it was declined {who}; reason: {reason}",
    "prospect.opened": "opened it again{because}",
    "prospect.booked": "booked what was told of it as {stock_number}, for {consignor}",
    "contact.added": "added contact {name}",
    "inquiry.logged": "logged an inquiry of {on}, {way}",
    "inquiry.followed_up": "followed up the inquiry of {on}{again}",
    "showing.logged": "logged a showing of {on}",
    "test_drive.out": "let it out on a test drive, odometer {odometer}",
    "test_drive.back": "took it back from a test drive, odometer {odometer}",
    "test_drive.refused": "was refused a test drive: {why}",
    "test_drive.copy_deleted": "deleted the copy of a driving licence that was kept until {until}",
    "publication.shown": "recorded that {place} shows it, ask {ask}",
    "publication.set_right": "recorded that {place} now shows the ask {ask}",
    "publication.taken_down": "recorded that {place} shows it no more",
    "offer.logged": "logged an offer of {amount} from {bidder}",
    "offer.answered": "answered the offer of {amount} from {bidder}: {answer}",
    "deal.opened": "took a deposit of {deposit} from {buyer} at {price}, held until {hold_until}",
    "deal.buyer_corrected": "corrected the buyer of the deal: {buyer}, before {was}",
    "deal.ended": "ended the deal with {buyer}: {how}{because}",
    "consent.recorded": "recorded the consent of {name} to a sale down to {amount}: {text}",
    "consent.asked": "asked the consignor: {text}",
    "consent.answered": "{name} {result} ({how}): {text}",
    "lien.quoted": "recorded the payoff {holder} quoted on {on}: {amount}",
    "deal.conceded": "gave {amount} off after the sale, borne by {borne_by}: {reason}",
    "deal.extra": "added {kind} of {amount} to what the buyer pays{label}",
    "deal.extra_aside": "set aside {kind} of {amount}",
    "deal.trade_logged": "logged the vehicle taken in trade as {stock_number}, the lot's own",
    "work.opened": "opened a work order: {what}; {estimate}, borne by {borne_by}",
    "work.changed": "changed the work order {what}: {estimate}, borne by {borne_by}{vendor}",
    "work.out": "began the work {what}, at {place}",
    "work.back": "ended the work {what}; it stands at {place}",
    "work.invoiced": "recorded the invoice of {amount} for {what}{number}",
    "work.closed": "closed the work order {what} at {amount}",
    "work.called_off": "called off the work order {what}{because}",
    "own.cost": "recorded a cost of {amount} of the lot's own vehicle: {what}{to}",
    "own.cost_aside": "set aside the cost of {amount}: {what}{because}",
    "trust.moved": "recorded {amount} {kind}{because}",
    "trust.balance": "entered the bank's balance of {on}: {amount}",
    "question.asked": "asked: {text}",
    "question.answered": "answered the consignor's question: {text}",
    "payment.received": "received {amount} from the buyer by {method}",
    "payment.cleared": "says that {amount} from the buyer cleared on {on}",
    "payment.bounced": "says that {amount} from the buyer bounced on {on}",
    "payment.returned": "returned {amount} to the buyer on {on}",
    "payment.from_consignor": "received {amount} from the consignor towards charges",
    "outcome.sold": "marked sold at {price} on {on}",
    "outcome.withdrawn": "marked withdrawn on {on}: {reason}",
    "outcome.void": "set aside the sale at {price}: {reason}",
    "charge.added": "added a charge of {amount} for {what}, borne by {borne_by}",
    "charge.set_aside": "set aside the charge of {amount} for {what}: {reason}",
    "settlement.approved": "approved settlement {number}: {due} due to the consignor",
    "settlement.reversed": "took back settlement {wrong} by {number}{because}",
    "settlement.paid": "recorded {amount} paid to {payee} by {method}",
    "link.made": "made a private link",
    "link.revoked": "revoked a private link",
    "link.used": "opened the status page",
    "opinion.suggested": "set the ask beside a suggestion of {amount}, {objective}: {why}",
    "opinion.given": "priced at {likely}, from {low} to {high}",
    "fit.made": "fitted the price band to {sales} sales{flagged}",
    "stock.priced": "priced all stock: {priced} vehicles, {thin} without enough evidence",
    "import.uploaded": "uploaded {name} for import",
    "elsewhere.recorded": "recorded a sale elsewhere: {vehicle} at {price}, told by {source}",
    "elsewhere.corrected": "corrected a sale elsewhere: {vehicle} at {price}, told by {source}; reason: {reason}",
    "elsewhere.dropped": "took out a sale elsewhere: {vehicle} at {price}, told by {source}; reason: {reason}",
    "elsewhere.imported": "imported {imported} sales elsewhere from {name}; {already} known, {rejected} rejected",
    "stock.imported": "imported {imported} vehicles from {name}; {already} there already, {rejected} rejected",
    "import.finished": "imported {imported} sales from {name}; {already} there already, {rejected} rejected",
    "job.started": "started {kind}",
    "staff.added": "added {username} as {role}",
    "staff.changed": "changed {username}: {fields}",
    "token.made": "made token {prefix} with the rights of {role}",
    "token.revoked": "revoked token {prefix}",
    "decoder.added": "added to the decoder table: {make} {component} {written} means {meaning}",
    "decoder.corrected": "corrected the decoder table: {make} {component} {written} means {meaning}",
    "decoder.retired": "retired from the decoder table: {make} {component} {written}",
    "policy.changed": "changed the scoring policy to version {number}{because}",
    "message.again": "asked to send the mail about {kind} once more",
    "message.text": "changed the text of mails about {kind}, version {number}",
    "message.choice": "turned mails about {kind} {way} for {name}",
    "lot.changed": "changed the lot's settings: {fields}",
    "demo.loaded": "loaded the invented demo lot",
}


def statement(what: str, *, basis: str) -> str:
    """The published sentence for one statement, worded by what it rests on."""
    return BY_BASIS[basis].format(what=what.strip().rstrip("."))


def log_sentence(action: str, *, data: Mapping[str, Any]) -> str:
    """What the log page says for one entry. An action without a sentence cannot be logged at all."""
    return LOG_SENTENCES[action].format_map(_Shown(data))


class _Shown(dict[str, Any]):
    def __missing__(self, key: str) -> str:
        return ""


PART_NAMES: dict[str, str] = {
    "base": "A typical sale of the lot",
    "together": "What the inputs do in combination",
    "make": "Make",
    "model": "Model within the make",
    "trim": "Trim",
    "year": "Year",
    "body": "Body",
    "engine": "Engine",
    "transmission": "Transmission",
    "build_class": "Build class",
    "color": "Colour",
    "mileage": "Mileage",
    "odometer_status": "Odometer status",
    "condition": "Condition",
    "originality": "Originality",
    "originality_modified": "Originality of a modified vehicle",
    "title_brand": "Title brand",
    "channel": "Sale channel",
    "ended_on": "The market on the day",
}


def part_name(name: str) -> str:
    """What the pricing desk calls one part of the band."""
    if name.startswith("mods_"):
        return f"Modifications: {name.removeprefix('mods_').replace('_', ' ')}"
    return PART_NAMES.get(name, name.replace("_", " ").capitalize())
