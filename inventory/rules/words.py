"""The enumerations of the trade, as this house writes them. Values are stored; labels are shown."""

from django.db.models import IntegerChoices, TextChoices


class Grade(IntegerChoices):
    """What one check found. *Not seen* is not a grade: it is the absence of one."""

    NO_FAULT = 4, "no fault found"
    LIGHT_WEAR = 3, "light wear"
    SERVICEABLE = 2, "worn or marked, serviceable"
    NEEDS_REPAIR = 1, "needs repair"
    FAILED = 0, "failed, or missing though it belongs there"


GRADE_SHORT: dict[int, str] = {4: "no fault", 3: "light wear", 2: "worn", 1: "repair", 0: "failed"}
"""On a button, where the whole words have no room."""


class Verdict(TextChoices):
    GRADED = "graded", "graded"
    NOT_SEEN = "not_seen", "not seen"
    DELETED_ON_PURPOSE = "deleted", "deleted on purpose"
    NOT_FITTED_WHEN_NEW = "not_fitted", "not fitted when new"


class EngineState(TextChoices):
    """How warm the engine was when somebody stood at a station."""

    COLD = "cold", "cold"
    WARM = "warm", "warm"
    OFF = "off", "not running"


class Basis(TextChoices):
    MEASURED = "measured", "measured"
    SEEN = "seen", "seen"
    DOCUMENTED = "documented", "documented"
    TOLD = "told", "told by the consignor"
    PRESUMED = "presumed", "presumed"
    NOT_ESTABLISHED = "not_established", "not established"


class Standing(TextChoices):
    ORIGINAL = "original", "original"
    SERVICE_REPLACEMENT = "service_replacement", "service replacement"
    PERIOD_CORRECT = "period_correct", "period-correct"
    REPRODUCTION = "reproduction", "reproduction"
    NON_ORIGINAL = "non_original", "non-original"
    MISSING = "missing", "missing"
    NOT_ESTABLISHED = "not_established", "not established"


class PaperStanding(TextChoices):
    READ = "read", "read"
    COPIED = "copied", "copy only"
    DOUBTED = "doubted", "doubted"


class BuildClass(TextChoices):
    SURVIVOR = "survivor", "survivor"
    RESTORED = "restored", "restored"
    MODIFIED = "modified", "modified"
    REPLICA = "replica", "replica or re-bodied"


class OdometerStatus(TextChoices):
    ACTUAL = "actual", "actual"
    OVER_LIMIT = "over_limit", "over the mechanical limit"
    NOT_ACTUAL = "not_actual", "not actual"
    NOT_STATED = "not_stated", "status not stated"


class Fuel(TextChoices):
    """What the gauge shows, or what was seen."""

    EMPTY = "empty", "empty"
    QUARTER = "quarter", "a quarter"
    HALF = "half", "half"
    THREE_QUARTERS = "three_quarters", "three quarters"
    FULL = "full", "full"
    NOT_KNOWN = "not_known", "not known"


class SignsAs(TextChoices):
    """In what capacity somebody hands a vehicle over."""

    OWNER = "owner", "owner"
    AGENT = "agent", "agent of the owner"
    CARRIER = "carrier", "carrier or driver"


class SignedBy(TextChoices):
    """How a signature came onto the paper."""

    DRAWN = "drawn", "drawn on the screen"
    TYPED = "typed", "by typing the name"
    NOT_SIGNED = "not_signed", "not signed"


class TitleBrand(TextChoices):
    CLEAN = "clean", "clean"
    SALVAGE = "salvage", "salvage"
    REBUILT = "rebuilt", "rebuilt"
    FLOOD = "flood", "flood"
    LEMON = "lemon", "returned under a lemon law"
    OTHER = "other", "other brand"


class ModificationKind(TextChoices):
    ENGINE = "engine", "engine, induction and exhaust"
    TRANSMISSION = "transmission", "transmission and axle"
    SUSPENSION = "suspension", "suspension and steering"
    BRAKES = "brakes", "brakes"
    WHEELS = "wheels", "wheels and tyres"
    BODY = "body", "body"
    PAINT = "paint", "paint"
    INTERIOR = "interior", "interior"
    ELECTRICAL = "electrical", "electrical, audio and comfort"
    OTHER = "other", "other"


class Fitting(TextChoices):
    BOLT_ON = "bolt_on", "bolt-on"
    CUT_OR_WELDED = "cut_or_welded", "cut or welded"


class Era(TextChoices):
    """Of a modification: done in the vehicle's own time, or later."""

    PERIOD = "period", "period"
    MODERN = "modern", "modern"
    NOT_KNOWN = "not_known", "not known"


class Judgement(TextChoices):
    """What the date of a part says against the date the vehicle was built."""

    NOT_FACTORY = "not_factory", "cannot have been fitted at the factory"
    EXPECTED = "expected", "made shortly before, as is usual"
    ASK = "ask", "made long before: ask"
    QUESTION = "question", "questioned"
    CANNOT_TELL = "cannot_tell", "the dates cannot tell"


class CodeMatch(TextChoices):
    """How an entry of the decoder table is held against a code."""

    EXACT = "exact", "the whole code"
    PREFIX = "prefix", "the beginning of the code"


class SaleChannel(TextChoices):
    LOT = "lot", "on the lot"
    ONLINE = "online", "online"
    PHONE = "phone", "by phone"
    EVENT = "event", "at an event"
    TRADE_NETWORK = "trade_network", "to the trade"
    OTHER = "other", "other"


class InquiryWay(TextChoices):
    PHONE = "phone", "by phone"
    EMAIL = "email", "by e-mail"
    IN_PERSON = "in_person", "in person"
    ONLINE = "online", "online"
    OTHER = "other", "other"


class Result(TextChoices):
    SOLD = "sold", "sold"
    WITHDRAWN = "withdrawn", "withdrawn"
    VOID = "void", "set aside"


class WithdrawalReason(TextChoices):
    PRICE = "price", "price not agreed"
    CHANGED_MIND = "changed_mind", "changed mind"
    SOLD_ELSEWHERE = "sold_elsewhere", "sold elsewhere"
    TITLE = "title", "title trouble"
    DAMAGE = "damage", "damage"
    OTHER = "other", "other"


class IdentityKind(TextChoices):
    TITLE = "title", "title"
    DASH_PLATE = "dash_plate", "dash or windshield plate"
    DOOR_LABEL = "door_label", "door label or plate"
    DATA_PLATE = "data_plate", "body data plate"
    FRAME_STAMP = "frame_stamp", "frame stamp"
    BODY_STAMP = "body_stamp", "body stamp"
    ASSIGNED_NUMBER = "assigned_number", "number assigned by an authority"
    ENGINE_STAMP = "engine_stamp", "engine stamp"
    OTHER = "other", "other"


class SerialKind(TextChoices):
    VIN = "vin", "17-character VIN"
    SERIAL = "serial", "earlier serial"
    NONE = "none", "none seen"


class TitleKind(TextChoices):
    TITLE = "title", "title"
    REGISTRATION = "registration", "registration"
    BILL_OF_SALE = "bill_of_sale", "bill of sale"
    LIEN_RELEASE = "lien_release", "lien release"
    POWER_OF_ATTORNEY = "power_of_attorney", "power of attorney"
    OTHER = "other", "other paper"


class TitleProtection(TextChoices):
    """How the consignor's own title is protected while the lot holds the vehicle. Check local law."""

    NONE = "none", "nothing recorded"
    FILING = "filing", "financing statement filed"
    SIGN = "sign", "sign at the lot"
    TRUST_ACCOUNT = "trust_account", "sale money held in trust"


class FloorKind(TextChoices):
    PRICE = "price", "a price"
    NET = "net", "a net in hand"


class PlanKind(TextChoices):
    """The commission plans; `rules/terms.py` computes them."""

    PERCENT = "percent", "percentage"
    PERCENT_WITH_MINIMUM = "percent_with_minimum", "percentage with a minimum"
    TIERED = "tiered", "tiered percentage"
    FLAT = "flat", "flat fee"
    GUARANTEED_NET = "guaranteed_net", "guaranteed net"


class ChargeKind(TextChoices):
    TRANSPORT = "transport", "transport"
    DETAIL = "detail", "cleaning and detail"
    REPAIR = "repair", "repair"
    STORAGE = "storage", "storage"
    PHOTOGRAPHY = "photography", "photography"
    PAPERWORK = "paperwork", "paperwork"
    WITHDRAWAL = "withdrawal", "early withdrawal"
    PROTECTION = "protection", "commission on a sale in the protection period"
    OTHER = "other", "other"


class BornBy(TextChoices):
    CONSIGNOR = "consignor", "the consignor"
    LOT = "lot", "the lot"


class Answer(TextChoices):
    ACCEPTED = "accepted", "accepted"
    COUNTERED = "countered", "countered"
    REFUSED = "refused", "refused"
    TAKEN_BACK = "taken_back", "taken back by the buyer"


class DealEnd(TextChoices):
    SOLD = "sold", "sold"
    FALLEN_THROUGH = "fallen_through", "fallen through"
    UNWOUND = "unwound", "unwound"


class DepositFate(TextChoices):
    RETURNED = "returned", "returned to the buyer"
    KEPT = "kept", "kept as the terms allow"


class PaymentEvent(TextChoices):
    RECEIVED = "received", "received"
    CLEARED = "cleared", "cleared"
    BOUNCED = "bounced", "bounced"
    RETURNED = "returned", "returned"


class PaymentMethod(TextChoices):
    WIRE = "wire", "bank transfer"
    CHEQUE = "cheque", "cheque"
    CASH = "cash", "cash"
    CARD = "card", "card"
    LENDER = "lender", "buyer's lender"
    DRAFT = "draft", "cashier's cheque, bank draft or money order"
    OTHER = "other", "other"


class Payee(TextChoices):
    CONSIGNOR = "consignor", "the consignor"
    LIEN_HOLDER = "lien_holder", "the lien holder"
    VENDOR = "vendor", "a vendor"


class TyrePosition(TextChoices):
    """In walking order; *other* is an inner rear, a second spare, a wheel in the trunk."""

    LEFT_FRONT = "left_front", "left front"
    RIGHT_FRONT = "right_front", "right front"
    LEFT_REAR = "left_rear", "left rear"
    RIGHT_REAR = "right_rear", "right rear"
    SPARE = "spare", "spare"
    OTHER = "other", "other"


class DisplacementUnit(TextChoices):
    CU_IN = "cu_in", "cu in"
    CC = "cc", "cc"
    LITRE = "litre", "L"


class DrivenAxle(TextChoices):
    REAR = "rear", "rear"
    FRONT = "front", "front"
    BOTH = "both", "both"


class FluidKind(TextChoices):
    """What cap, label or papers say is in the brakes."""

    DOT_3 = "dot_3", "DOT 3"
    DOT_4 = "dot_4", "DOT 4"
    DOT_5 = "dot_5", "DOT 5"
    OTHER = "other", "another one"


class FluidColour(TextChoices):
    """What the fluid looks like in the reservoir."""

    CLEAR_TO_AMBER = "clear_to_amber", "colourless to amber"
    PURPLE = "purple", "purple"
    DARK = "dark", "dark or cloudy"
    OTHER = "other", "another colour"


class JobStatus(TextChoices):
    QUEUED = "queued", "waiting for the worker"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class Objective(TextChoices):
    """What the owner wants of an ask."""

    CONSIGNOR_NET = "consignor_net", "most for the consignor"
    LOT_GROSS = "lot_gross", "most for the lot"
    SELL_BY = "sell_by", "sold by the date"


class CommissionBase(TextChoices):
    """What a percentage is taken of."""

    PRICE = "price", "the price agreed"
    EFFECTIVE = "effective", "the price less concessions and over-allowance"


class Exclusivity(TextChoices):
    EXCLUSIVE = "exclusive", "only the lot may sell it"
    OPEN = "open", "the consignor may sell it too"


class ConsentKind(TextChoices):
    """What a consignor is asked to agree to. Nothing of it takes effect before."""

    FLOOR = "floor", "a sale below the floor"
    TERMS = "terms", "new terms"
    CHARGE = "charge", "a charge"
    ASK = "ask", "an asking price"
    CONCESSION = "concession", "money off after the sale"


class ConsentResult(TextChoices):
    AGREED = "agreed", "agreed"
    DECLINED = "declined", "declined"
    TAKEN_BACK = "taken_back", "taken back by the lot"


class ExtraKind(TextChoices):
    """What a buyer pays beside the price. It never stands on the consignor's statement."""

    SALES_TAX = "sales_tax", "sales tax"
    TITLE_FEE = "title_fee", "title fee"
    REGISTRATION = "registration", "registration"
    LOT_FEE = "lot_fee", "fee of the lot"


class TrustKind(TextChoices):
    """Money between the trust account and the lot's own, and taxes passed on."""

    TO_LOT = "to_lot", "paid out to the lot"
    FROM_LOT = "from_lot", "paid in by the lot"
    TO_AUTHORITY = "to_authority", "taxes and fees passed on"


class NameJoin(TextChoices):
    """How the names on a title are joined. What each means differs by place: check local law."""

    ONE = "one", "one name"
    AND = "and", "AND: all of them sign"
    OR = "or", "OR: any of them signs"
    NOT_SAID = "not_said", "several names, nothing between them"


class OwnerKind(TextChoices):
    PERSON = "person", "a person"
    ESTATE = "estate", "an estate"
    TRUST = "trust", "a trust"
    COMPANY = "company", "a company"


class SigningRight(TextChoices):
    """By what right somebody signs for the names on the title."""

    OWNER = "owner", "is named on the title"
    EXECUTOR = "executor", "executor or administrator of the estate"
    TRUSTEE = "trustee", "trustee"
    OFFICER = "officer", "officer of the company"
    ATTORNEY = "attorney", "holds a power of attorney"


class Collector(TextChoices):
    """Who took a vehicle away."""

    BUYER = "buyer", "the buyer"
    CONSIGNOR = "consignor", "the consignor"
    AGENT = "agent", "somebody sent by them"
    CARRIER = "carrier", "a carrier"


class PayClock(TextChoices):
    """What starts the days within which a consignor is paid. Check local law."""

    SOLD = "sold", "the sale"
    CLEARED = "cleared", "the buyer's money clearing in full"
    TITLE = "title", "the title going to the buyer"


class MessageKind(TextChoices):
    ARRIVED = "arrived", "arrival"
    INSPECTED = "inspected", "inspection"
    LISTED = "listed", "offered for sale"
    PRICE_CHANGE = "price_change", "price change"
    OFFER = "offer", "offers"
    DEPOSIT = "deposit", "deposits"
    FELL_THROUGH = "fell_through", "deals that fell through"
    SOLD = "sold", "sale"
    SETTLED = "settled", "settlement"
    PAID = "paid", "payments to you"
    ENDING = "ending", "agreement ending"
    CONSENT = "consent", "questions that need your agreement"
    ANSWER = "answer", "answers to your questions"
    SUMMARY = "summary", "weekly summary"


class MessageStatus(TextChoices):
    QUEUED = "queued", "waiting to be sent"
    SENDING = "sending", "being sent"
    SENT = "sent", "sent"
    FAILED = "failed", "given up"
    UNCLEAR = "unclear", "cut off while it was being sent"
    NOT_WANTED = "not_wanted", "not sent: turned off"
    NO_ADDRESS = "no_address", "not sent: no e-mail address"


class ListingTone(TextChoices):
    PLAIN = "plain", "short and plain"
    TELLING = "telling", "in full sentences"
