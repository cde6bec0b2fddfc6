"""Who may do what: one table. Actions call `require`, templates and pages ask `may`."""

from dataclasses import dataclass

from django.db.models import TextChoices

from inventory.errors import NotAllowed


class Role(TextChoices):
    INTAKE = "intake", "intake staff"
    SALES = "sales", "sales staff"
    OWNER = "owner", "owner"
    CONSIGNOR = "consignor", "consignor, by private link"


STAFF_ROLES = (Role.INTAKE, Role.SALES, Role.OWNER)


class ActorKind(TextChoices):
    STAFF = "staff", "staff"
    TOKEN = "token", "office program"
    LINK = "link", "private link"
    COMMAND = "command", "command line"


class Act(TextChoices):
    SEE_LOT = "see_lot", "see the lot and its vehicles"
    LOG_VEHICLE = "log_vehicle", "log a vehicle"
    INSPECT = "inspect", "inspect a vehicle"
    CLEAR_FLAG = "clear_flag", "clear a safety flag"
    RECORD_FACTS = "record_facts", "record papers, numbers, modifications, photos and clips"
    SEE_ORIGINALS = "see_originals", "download the originals of photos"
    RESOLVE_IDENTITY = "resolve_identity", "resolve a question about the identity of a vehicle"
    AGREE_TERMS = "agree_terms", "agree terms"
    SEE_MONEY = "see_money", "see terms, charges and settlements"
    SEE_PRICE = "see_price", "see the price band"
    SET_ASK = "set_ask", "set the ask"
    LIST = "list", "list a vehicle for sale"
    WRITE_LISTING = "write_listing", "write and publish the description of a vehicle"
    LOG_INQUIRY = "log_inquiry", "log inquiries and showings"
    LOG_OFFER = "log_offer", "log an offer"
    ANSWER_OFFER = "answer_offer", "answer an offer"
    TAKE_DEPOSIT = "take_deposit", "take a deposit"
    MARK_SOLD = "mark_sold", "mark a vehicle sold"
    END_DEAL = "end_deal", "mark a deal fallen through"
    RECORD_PAYMENT = "record_payment", "record the buyer's payments"
    CLEAR_PAYMENT = "clear_payment", "say that a payment has cleared or bounced"
    WITHDRAW = "withdraw", "withdraw a vehicle"
    RELEASE = "release", "release a vehicle"
    UNWIND = "unwind", "unwind a sale"
    ADD_CHARGE = "add_charge", "add a charge"
    APPROVE_SETTLEMENT = "approve_settlement", "approve a settlement"
    PAY = "pay", "record what was paid out"
    MAKE_LINK = "make_link", "make a private link"
    ASK_CONSENT = "ask_consent", "ask the consignor to agree"
    RECORD_ANSWER = "record_answer", "record what the consignor answered"
    ANSWER_QUESTION = "answer_question", "answer a consignor's question"
    CONCEDE = "concede", "give money off after a sale"
    SEE_TRUST = "see_trust", "see the trust report"
    MOVE_TRUST = "move_trust", "record money moved between trust account and lot"
    IMPORT_SALES = "import_sales", "import past sales"
    FIT_PRICES = "fit_prices", "fit the price band"
    MANAGE_STAFF = "manage_staff", "manage staff and tokens"
    SET_POLICY = "set_policy", "change the weights of condition and originality"
    SEE_MESSAGES = "see_messages", "see the mail to consignors and send it again"
    EDIT_MESSAGES = "edit_messages", "change the texts of the mail to consignors"
    SET_UP_FLOOR = "set_up_floor", "set up places and the care rota"
    LOG_INCIDENT = "log_incident", "log an incident and what was done about it"
    CLOSE_INCIDENT = "close_incident", "close an incident"
    LOG_TEST_DRIVE = "log_test_drive", "log a test drive"
    SEE_LICENCE = "see_licence", "look at the copy of a driving licence"
    RECORD_SHOWN = "record_shown", "record where a vehicle is shown"
    ORDER_WORK = "order_work", "open work orders and say how they go"
    OWN_STOCK = "own_stock", "buy vehicles for the lot and record what they cost"
    KEEP_PROSPECTS = "keep_prospects", "keep vehicles that may come, and book them"
    RECORD_ELSEWHERE = "record_elsewhere", "record sales elsewhere"
    IMPORT_STOCK = "import_stock", "import the vehicles that are here"
    SEE_PEOPLE = "see_people", "see the directory of people and note what was said"
    MERGE_PEOPLE = "merge_people", "merge doubles, export and erase a person's data"
    SHARE_COMMISSION = "share_commission", "say who shares in a commission, and see the pay report"
    SEE_STATUS = "see_status", "see the status page of one consignment"
    ANSWER_CONSENT = "answer_consent", "agree to or decline what the lot asks"
    ASK_QUESTION = "ask_question", "ask the lot a question"
    CHOOSE_MAIL = "choose_mail", "choose which mail to get"


_ALL = frozenset(STAFF_ROLES)
_SELLING = frozenset({Role.SALES, Role.OWNER})
_WALKING = frozenset({Role.INTAKE, Role.OWNER})
_OWNER = frozenset({Role.OWNER})
_CONSIGNOR = frozenset({Role.CONSIGNOR})

GRANTS: dict[Act, frozenset[Role]] = {
    Act.SEE_LOT: _ALL,
    Act.LOG_VEHICLE: _WALKING,
    Act.INSPECT: _WALKING,
    Act.CLEAR_FLAG: _OWNER,
    Act.RECORD_FACTS: _WALKING,
    Act.SEE_ORIGINALS: _OWNER,
    Act.RESOLVE_IDENTITY: _OWNER,
    Act.AGREE_TERMS: _OWNER,
    Act.SEE_MONEY: _SELLING,
    Act.SEE_PRICE: _SELLING,
    Act.SET_ASK: _OWNER,
    Act.LIST: _OWNER,
    Act.WRITE_LISTING: _SELLING,
    Act.LOG_INQUIRY: _SELLING,
    Act.LOG_OFFER: _SELLING,
    Act.ANSWER_OFFER: _OWNER,
    Act.TAKE_DEPOSIT: _SELLING,
    Act.MARK_SOLD: _SELLING,
    Act.END_DEAL: _SELLING,
    Act.RECORD_PAYMENT: _SELLING,
    Act.CLEAR_PAYMENT: _OWNER,
    Act.WITHDRAW: _SELLING,
    Act.RELEASE: _SELLING,
    Act.UNWIND: _OWNER,
    Act.ADD_CHARGE: _OWNER,
    Act.APPROVE_SETTLEMENT: _OWNER,
    Act.PAY: _OWNER,
    Act.MAKE_LINK: _SELLING,
    Act.ASK_CONSENT: _OWNER,
    Act.RECORD_ANSWER: _SELLING,
    Act.ANSWER_QUESTION: _SELLING,
    Act.CONCEDE: _OWNER,
    Act.SEE_TRUST: _OWNER,
    Act.MOVE_TRUST: _OWNER,
    Act.IMPORT_SALES: _OWNER,
    Act.FIT_PRICES: _OWNER,
    Act.MANAGE_STAFF: _OWNER,
    Act.SET_POLICY: _OWNER,
    Act.SET_UP_FLOOR: _WALKING,
    Act.LOG_INCIDENT: _ALL,
    Act.CLOSE_INCIDENT: _OWNER,
    Act.LOG_TEST_DRIVE: _SELLING,
    Act.SEE_LICENCE: _OWNER,
    Act.RECORD_SHOWN: _SELLING,
    Act.ORDER_WORK: _WALKING,
    Act.OWN_STOCK: _OWNER,
    Act.KEEP_PROSPECTS: _SELLING,
    Act.RECORD_ELSEWHERE: _SELLING,
    Act.IMPORT_STOCK: _OWNER,
    Act.SEE_PEOPLE: _SELLING,
    Act.MERGE_PEOPLE: _OWNER,
    Act.SHARE_COMMISSION: _OWNER,
    Act.SEE_STATUS: _CONSIGNOR,
    Act.ANSWER_CONSENT: _CONSIGNOR,
    Act.ASK_QUESTION: _CONSIGNOR,
    Act.CHOOSE_MAIL: _CONSIGNOR,
    Act.SEE_MESSAGES: _SELLING,
    Act.EDIT_MESSAGES: _OWNER,
}


@dataclass(frozen=True)
class Actor:
    """Whoever acts: a member of staff, an office program's token, a consignor's link or a command."""

    kind: ActorKind
    role: Role
    name: str
    id: int | None = None
    consignment_id: int | None = None  # the one consignment that a private link opens
    reads_only: bool = False  # an office program that asks and never writes


def command(name: str) -> Actor:
    """The actor of a management command: whoever has the shell has the owner's rights."""
    return Actor(kind=ActorKind.COMMAND, role=Role.OWNER, name=name)


def may(actor: Actor, act: Act) -> bool:
    return actor.role in GRANTS[act]


def require(actor: Actor, act: Act) -> None:
    if not may(actor, act):
        allowed = " or ".join(Role(role).label for role in Role if role in GRANTS[act])
        raise NotAllowed(
            "not_allowed",
            f"{Role(actor.role).label.capitalize()} may not {act.label}.",
            got=actor.role,
            mend=f"Ask {allowed}.",
        )
