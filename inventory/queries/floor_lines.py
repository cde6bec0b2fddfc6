"""One line of what the floor wants today, as the lot screen shows it."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class FloorLine:
    """What is to be done, and the page where: of one vehicle where `stock_number` is given, else of the whole lot."""

    text: str
    page: str
    stock_number: str = ""
    vehicle: str = ""
    is_urgent: bool = False
