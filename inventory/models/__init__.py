"""What is stored."""

from inventory.models.agreements import Consent, ConsentAnswer, ConsentRequest, LienQuote, Terms
from inventory.models.consignments import (
    AskChange,
    Charge,
    Consignment,
    ConsignorPayment,
    Movement,
    Offer,
    OfferAnswer,
    StatusLink,
)
from inventory.models.contacts import Contact, PersonNote
from inventory.models.deals import BankBalance, BuyerPayment, Concession, Deal, DealExtra, TrustMovement
from inventory.models.elsewhere import MarketSale
from inventory.models.figures import DrivelineFigures, ElectricFigures, EngineFigures, TyreRecord
from inventory.models.incidents import Incident, IncidentPhoto, IncidentStep
from inventory.models.inquiries import FollowUp, Inquiry, Showing, TestDrive
from inventory.models.inspections import CheckResult, IntakeInspection
from inventory.models.jobs import Job, RepeatKey, SalesImport
from inventory.models.ledger import (
    BuildDate,
    ComponentRecord,
    DecoderEntry,
    Modification,
    ModificationComponent,
)
from inventory.models.listings import Listing
from inventory.models.log import LogEntry
from inventory.models.media import Clip, HiddenMedia, Photo, Upload, UploadPiece
from inventory.models.messages import ConsignorQuestion, MailChoice, MailText, OutMessage, QuestionAnswer
from inventory.models.outcomes import Disbursement, SaleOutcome, Settlement, SettlementLine, SettlementPayee
from inventory.models.people import ApiToken, Consignor, StaffSession, User
from inventory.models.places import CareDone, CareRule, Place
from inventory.models.policy import Lot, ScorePolicy
from inventory.models.pricing import ModelFit, PriceOpinion
from inventory.models.prospects import Prospect, ProspectPhoto
from inventory.models.publications import Publication, ShownAsk
from inventory.models.receipts import ArrivalReceipt, ReceiptDamage, ReceiptItem
from inventory.models.releases import Release, TitleSending
from inventory.models.shares import OwnCost, StaffShare
from inventory.models.vehicles import (
    IdentityNumber,
    IdentityResolution,
    TitlePaper,
    Vehicle,
)
from inventory.models.walk import FlagClearance, LateTap, StationVisit, VehicleFeature
from inventory.models.work import WorkOrder

__all__ = [
    "ApiToken",
    "ArrivalReceipt",
    "AskChange",
    "BankBalance",
    "BuildDate",
    "BuyerPayment",
    "CareDone",
    "CareRule",
    "Charge",
    "CheckResult",
    "Clip",
    "ComponentRecord",
    "Concession",
    "Consent",
    "ConsentAnswer",
    "ConsentRequest",
    "Consignment",
    "Consignor",
    "ConsignorPayment",
    "ConsignorQuestion",
    "Contact",
    "Deal",
    "DealExtra",
    "DecoderEntry",
    "Disbursement",
    "DrivelineFigures",
    "ElectricFigures",
    "EngineFigures",
    "FlagClearance",
    "FollowUp",
    "HiddenMedia",
    "IdentityNumber",
    "IdentityResolution",
    "Incident",
    "IncidentPhoto",
    "IncidentStep",
    "Inquiry",
    "IntakeInspection",
    "Job",
    "LateTap",
    "LienQuote",
    "Listing",
    "LogEntry",
    "Lot",
    "MailChoice",
    "MailText",
    "MarketSale",
    "ModelFit",
    "Modification",
    "ModificationComponent",
    "Movement",
    "Offer",
    "OfferAnswer",
    "OutMessage",
    "OwnCost",
    "PersonNote",
    "Photo",
    "Place",
    "PriceOpinion",
    "Prospect",
    "ProspectPhoto",
    "Publication",
    "QuestionAnswer",
    "ReceiptDamage",
    "ReceiptItem",
    "Release",
    "RepeatKey",
    "SaleOutcome",
    "SalesImport",
    "ScorePolicy",
    "Settlement",
    "SettlementLine",
    "SettlementPayee",
    "Showing",
    "ShownAsk",
    "StaffSession",
    "StaffShare",
    "StationVisit",
    "StatusLink",
    "Terms",
    "TestDrive",
    "TitlePaper",
    "TitleSending",
    "TrustMovement",
    "TyreRecord",
    "Upload",
    "UploadPiece",
    "User",
    "Vehicle",
    "VehicleFeature",
    "WorkOrder",
]
