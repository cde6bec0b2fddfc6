"""The enumerations of the floor: places, care, people, work, sales elsewhere. Values are stored; labels are shown."""

from django.db.models import TextChoices


class PlaceKind(TextChoices):
    """What kind of place a vehicle stands in."""

    BAY = "bay", "bay of the lot"
    INDOORS = "indoors", "indoors"
    SHOP = "shop", "shop"
    DETAIL = "detail", "cleaning and detail"
    EVENT = "event", "event"
    HOME = "home", "at home with the owner"
    ROAD = "road", "on the road"
    OTHER = "other", "elsewhere"


class CareKind(TextChoices):
    """What a standing vehicle wants from time to time."""

    BATTERY = "battery", "battery"
    START_UP = "start_up", "start-up"
    TYRE_PRESSURE = "tyre_pressure", "tyre pressure"
    COVER = "cover", "cover"
    OTHER = "other", "other care"


class InquiryAim(TextChoices):
    """What somebody who asks wants."""

    QUESTION = "question", "a question"
    SEE = "see", "to see it"
    DRIVE = "drive", "to drive it"
    OFFER = "offer", "to make an offer"
    TRADE = "trade", "to trade something in"
    OTHER = "other", "something else"


class NoteWay(TextChoices):
    """How people and the lot spoke with each other."""

    PHONE = "phone", "by phone"
    MESSAGE = "message", "by text message"
    EMAIL = "email", "by e-mail"
    LETTER = "letter", "by letter"
    IN_PERSON = "in_person", "in person"


class Direction(TextChoices):
    FROM_THEM = "from_them", "from them"
    TO_THEM = "to_them", "to them"


class ProspectStage(TextChoices):
    """How far a vehicle has come that is not here yet."""

    OPEN = "open", "being talked about"
    OFFERED = "offered", "terms proposed"
    DECLINED = "declined", "declined"
    BOOKED = "booked", "booked"


class Declined(TextChoices):
    BY_LOT = "by_lot", "by the lot"
    BY_OWNER = "by_owner", "by its owner"


class Premium(TextChoices):
    """Whether a buyer's premium is inside the price of a sale elsewhere."""

    INCLUDED = "included", "inside the price"
    ADDED = "added", "came on top of the price"
    NONE = "none", "there was none"
    NOT_SAID = "not_said", "not said"


class StaffPart(TextChoices):
    """What a member of staff did for a stay, where the commission is shared."""

    BROUGHT_IN = "brought_in", "brought it in"
    SOLD = "sold", "sold it"


class OwnCostKind(TextChoices):
    """What a vehicle of the lot's own has cost."""

    PURCHASE = "purchase", "purchase"
    TRADE = "trade", "taken in trade at"
    TRANSPORT = "transport", "transport"
    REPAIR = "repair", "repair"
    DETAIL = "detail", "cleaning and detail"
    PAPERWORK = "paperwork", "paperwork"
    OTHER = "other", "other"


class IncidentKind(TextChoices):
    DAMAGE = "damage", "damage"
    THEFT = "theft", "theft"
    LOSS = "loss", "loss"
    INJURY = "injury", "injury"
    OTHER = "other", "other"


class IncidentStepKind(TextChoices):
    """What was done about an incident."""

    INSURER_TOLD = "insurer_told", "insurer told"
    CONSIGNOR_TOLD = "consignor_told", "consignor told"
    POLICE_TOLD = "police_told", "police told"
    NOTE = "note", "note"
    CLOSED = "closed", "closed"
    OPENED_AGAIN = "opened_again", "opened again"


class ImportKind(TextChoices):
    """What a spreadsheet holds."""

    PAST_SALES = "past_sales", "past sales"
    STOCK = "stock", "vehicles that are here now"
    ELSEWHERE = "elsewhere", "sales elsewhere"
