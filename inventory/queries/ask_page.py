"""The asks as the pricing desk shows them: pictures, offers and net sheet around the curve, or why there is none."""

from dataclasses import dataclass

from inventory.queries.ask_desk import Curve, Situation, View, curve_of
from inventory.queries.ask_drawings import Drawing, bands, draw
from inventory.queries.ask_offers import InHand, net_sheet, offers_in_hand
from inventory.queries.drawn_bands import Drawn
from inventory.queries.settlements import Net


@dataclass(frozen=True, kw_only=True)
class AskPage:
    here: Situation
    curve: Curve | None = None
    bands: tuple[Drawn, ...] = ()
    drawing: Drawing | None = None
    offers: tuple[InHand, ...] = ()
    nets: tuple[Net, ...] = ()

    @property
    def problem(self) -> str:
        return "" if self.here.refused is None else str(self.here.refused)


def page_of(here: Situation, *, view: View) -> AskPage:
    if here.refused is not None:
        return AskPage(here=here)
    curve = curve_of(here, view=view)
    return AskPage(
        here=here, curve=curve, bands=bands(curve), drawing=draw(curve), offers=offers_in_hand(curve),
        nets=net_sheet(curve),
    )  # fmt: skip
