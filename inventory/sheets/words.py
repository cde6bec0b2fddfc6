"""Fixed choices by their usual wording; a word that is not known is refused with those that are."""

import re
from collections.abc import Mapping

from inventory.errors import Refused
from inventory.rules.floor_words import Premium
from inventory.rules.words import (
    BuildClass,
    OdometerStatus,
    Result,
    SaleChannel,
    TitleBrand,
    WithdrawalReason,
)
from inventory.sheets.cells import Cell, known_text, refuse_not_text, shown, text_of

_Wordings = Mapping[str, str]

CHOICES: dict[str, _Wordings] = {
    "build_class": {
        BuildClass.SURVIVOR: "survivor|unrestored|original|unrestored original|original survivor"
        "|preserved|preservation",
        BuildClass.RESTORED: "restored|restoration|frame off|frame off restoration|concours restoration|fully restored",
        BuildClass.MODIFIED: "modified|custom|customized|customised|restomod|resto mod|hot rod|pro touring|street rod",
        BuildClass.REPLICA: "replica|re bodied|rebodied|replica or re bodied|recreation|kit|kit car"
        "|tribute|clone|continuation",
    },
    "odometer_status": {
        OdometerStatus.ACTUAL: "actual|actual mileage|actual miles|true|true mileage|original miles|verified",
        OdometerStatus.OVER_LIMIT: "over limit|over the limit|over the mechanical limit"
        "|exceeds mechanical limits|exceeds limits|in excess of mechanical limits|rolled over|turned over"
        "|eml",
        OdometerStatus.NOT_ACTUAL: "not actual|not actual mileage|tmu|true mileage unknown"
        "|true miles unknown|odometer discrepancy|discrepancy|inaccurate|odometer replaced"
        "|broken odometer|nam",
        OdometerStatus.NOT_STATED: "not stated|status not stated|exempt|exempt status not stated|unstated"
        "|mileage exempt|exempt mileage",
    },
    "title_brand": {
        TitleBrand.CLEAN: "clean|clear|clean title|no brand|no brands|unbranded",
        TitleBrand.SALVAGE: "salvage|salvaged|salvage title",
        TitleBrand.REBUILT: "rebuilt|reconstructed|rebuilt salvage|rebuilt title|prior salvage",
        TitleBrand.FLOOD: "flood|flood damage|flooded|water damage",
        TitleBrand.LEMON: "lemon|lemon law|lemon law buyback|returned under a lemon law|manufacturer buyback",
        TitleBrand.OTHER: "other|other brand|branded",
    },
    "result": {
        Result.SOLD: "sold|sale|s|yes",
        Result.WITHDRAWN: "withdrawn|withdrew|unsold|not sold|no sale|returned|returned to owner|pulled"
        "|removed|expired|w|no",
    },
    "reason": {
        WithdrawalReason.PRICE: "price|price not agreed|price too low|too low|no agreement on price|reserve not met",
        WithdrawalReason.CHANGED_MIND: "changed mind|owner changed mind|kept|owner kept|keeping it|owner keeping it",
        WithdrawalReason.SOLD_ELSEWHERE: "sold elsewhere|sold privately|private sale|sold by owner|owner sold",
        WithdrawalReason.TITLE: "title|title trouble|title problem|title issue|paperwork",
        WithdrawalReason.DAMAGE: "damage|damaged|accident",
        WithdrawalReason.OTHER: "other|expired|agreement ended",
    },
    "channel": {
        SaleChannel.LOT: "lot|on the lot|at the lot|showroom|walk in|walkin|in person|on site",
        SaleChannel.ONLINE: "online|internet|web|website|web site|email|e mail",
        SaleChannel.PHONE: "phone|by phone|telephone|call|sms|text",
        SaleChannel.EVENT: "event|at an event|show|car show|meet|auction",
        SaleChannel.TRADE_NETWORK: "trade network|to the trade|trade|dealer|wholesale",
        SaleChannel.OTHER: "other|referral",
    },
    "sold": {
        "sold": "sold|sale|s|yes|y|true|sold on the day|sold after",
        "not sold": "not sold|no|n|false|unsold|no sale|bid|high bid|bid to|reserve not met|rnm|not met|passed"
        "|bid not accepted|withdrawn|did not sell",
    },
    "premium": {
        Premium.INCLUDED: "included|inside|inside the price|with premium|incl|incl premium|yes|y|all in|inside price"
        "|fees included|with fees|included in price",
        Premium.ADDED: "added|on top|on top of the price|came on top of the price|plus premium|plus|plus fees"
        "|excl|excluded|not included|without premium|hammer|before premium|before fees",
        Premium.NONE: "none|no premium|there was none|no fees|no fee|private sale|zero|0",
        Premium.NOT_SAID: "not said|not stated|unknown",
    },
}

_ALLOWED: dict[str, tuple[str, ...]] = {column: tuple(choices) for column, choices in CHOICES.items()}
_BY_WORDING: dict[str, dict[str, str]] = {
    column: {wording: str(value) for value, wordings in choices.items() for wording in wordings.split("|")}
    for column, choices in CHOICES.items()
}

_MILEAGE_ONLY = {"unknown": "not_stated", "unk": "not_stated", "mileage unknown": "not_stated"}
_NO_MODIFICATIONS = frozenset({"none", "no", "stock", "no modifications", "none known", "unmodified", "factory"})
_MOST_MODIFICATIONS = 100
MODIFICATION_LENGTH = 200


def plain_words(text: str) -> str:
    """Small letters and figures, single spaces between."""
    return re.sub(r"[^0-9a-z]+", " ", text.casefold()).strip()


def read_choice(cell: Cell, *, field: str) -> str | None:
    """The canonical value of a fixed choice, or None where the cell is blank."""
    text = text_of(cell)
    found = _BY_WORDING[field].get(text) or _BY_WORDING[field].get(plain_words(text))
    if found is not None:
        return found
    text = known_text(cell)
    if not text:
        return None
    raise Refused(
        "sheet.not_a_choice",
        f"{shown(text)} is not one of the choices.",
        field=field,
        got=text,
        mend=f"Use one of {', '.join(_ALLOWED[field])}, or leave the cell empty.",
    )


def status_of_mileage(text: str) -> OdometerStatus | None:
    """The odometer status that a mileage cell states in words, if it does."""
    said = plain_words(text)
    value = _BY_WORDING["odometer_status"].get(said) or _MILEAGE_ONLY.get(said)
    return OdometerStatus(value) if value else None


def read_modifications(cell: Cell, *, field: str) -> tuple[str, ...] | None:
    """Each change as written, parted at semicolons or line breaks, else at commas; () for none."""
    refuse_not_text(cell, field=field)
    if plain_words(text_of(cell)) in _NO_MODIFICATIONS:
        return ()
    if not known_text(cell):
        return None
    raw = cell if isinstance(cell, str) else text_of(cell)
    parts = re.split(r"[;\r\n]", raw) if re.search(r"[;\r\n]", raw.strip()) else raw.split(",")
    found = tuple(part for part in (" ".join(piece.split()) for piece in parts) if part)
    longest = max(map(len, found), default=0)
    if len(found) > _MOST_MODIFICATIONS or longest > MODIFICATION_LENGTH:
        raise Refused(
            "sheet.too_long",
            f"The list has {len(found)} entries, the longest of {longest} characters.",
            field=field,
            got=text_of(cell),
            mend=f"Give at most {_MOST_MODIFICATIONS} entries of at most {MODIFICATION_LENGTH} characters.",
        )
    return found
