"""A QR code drawn on the page as black squares, so that it stays sharp at any size."""

from itertools import groupby

import segno
from reportlab.lib.colors import black
from reportlab.platypus import Flowable

QUIET = 4  # modules left white on each side: ISO/IEC 18004


class QRCode(Flowable):  # type: ignore[misc]
    """The text as a code with its quiet zone, `size` wide and high. It is read with up to 15 % of it lost."""

    def __init__(self, text: str, *, size: float) -> None:
        super().__init__()
        self.rows = [list(row) for row in segno.make(text, error="m", micro=False, boost_error=False).matrix]
        self.width = self.height = size

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        """Dark modules beside each other are one bar, so that no hairline shows between them."""
        module = self.width / (len(self.rows) + 2 * QUIET)
        self.canv.setFillColor(black)
        for down, row in enumerate(self.rows):
            y = self.height - (QUIET + down + 1) * module
            across = 0
            for is_dark, run in groupby(row):
                count = len(list(run))
                if is_dark:
                    x = (QUIET + across) * module
                    self.canv.rect(x, y, count * module, module, stroke=0, fill=1)
                across += count
