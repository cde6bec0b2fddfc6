"""What is stored."""

from inventory.models.agreements import Consent, Terms
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
from inventory.models.deals import BuyerPayment, Deal
from inventory.models.figures import DrivelineFigures, ElectricFigures, EngineFigures, TyreRecord
from inventory.models.floor import Incident, MarketSale, WorkOrder
from inventory.models.inquiries import Inquiry, Showing
from inventory.models.inspections import CheckResult, IntakeInspection
from inventory.models.jobs import Job, RepeatKey, SalesImport
from inventory.models.ledger import (
    BuildDate,
    ComponentRecord,
    DecoderEntry,
    Modification,
    ModificationComponent,
)
from inventory.models.log import LogEntry
from inventory.models.media import Clip, HiddenMedia, Photo, Upload
from inventory.models.outcomes import Disbursement, SaleOutcome, Settlement, SettlementLine
from inventory.models.people import ApiToken, Consignor, User
from inventory.models.policy import Lot, ScorePolicy
from inventory.models.pricing import ModelFit, PriceOpinion
from inventory.models.receipts import ArrivalReceipt, ReceiptDamage, ReceiptItem
from inventory.models.vehicles import (
    IdentityNumber,
    IdentityResolution,
    TitlePaper,
    Vehicle,
)
from inventory.models.walk import FlagClearance, LateTap, StationVisit, VehicleFeature

__all__ = [
    "ApiToken",
    "ArrivalReceipt",
    "AskChange",
    "BuildDate",
    "BuyerPayment",
    "Charge",
    "CheckResult",
    "Clip",
    "ComponentRecord",
    "Consent",
    "Consignment",
    "Consignor",
    "ConsignorPayment",
    "Deal",
    "DecoderEntry",
    "Disbursement",
    "DrivelineFigures",
    "ElectricFigures",
    "EngineFigures",
    "FlagClearance",
    "HiddenMedia",
    "IdentityNumber",
    "IdentityResolution",
    "Incident",
    "Inquiry",
    "IntakeInspection",
    "Job",
    "LateTap",
    "LogEntry",
    "Lot",
    "MarketSale",
    "ModelFit",
    "Modification",
    "ModificationComponent",
    "Movement",
    "Offer",
    "OfferAnswer",
    "Photo",
    "PriceOpinion",
    "ReceiptDamage",
    "ReceiptItem",
    "RepeatKey",
    "SaleOutcome",
    "SalesImport",
    "ScorePolicy",
    "Settlement",
    "SettlementLine",
    "Showing",
    "StationVisit",
    "StatusLink",
    "Terms",
    "TitlePaper",
    "TyreRecord",
    "Upload",
    "User",
    "Vehicle",
    "VehicleFeature",
    "WorkOrder",
]
