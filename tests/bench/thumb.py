"""A thumb on a phone that counts what it does, by part of the work. Nothing here knows the house."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Locator, Page

PLACE = "[scrollY, innerHeight]"


@dataclass
class Count:
    taps: int = 0
    characters: int = 0
    screens: float = 0.0
    seconds: float = 0.0


class Thumb:
    """The only way in which a walk touches its page, so that no touch goes uncounted."""

    def __init__(self, page: Page, *, parts: Sequence[str]) -> None:
        self.page = page
        self.counts = {part: Count() for part in parts}
        self._now = self.counts[parts[0]]
        self._since = time.perf_counter()

    def turn_to(self, part: str) -> None:
        """What is done from here on belongs to this part of the work."""
        now = time.perf_counter()
        self._now.seconds += now - self._since
        self._now, self._since = self.counts[part], now

    def tap(self, what: Locator) -> None:
        self._reach(what)
        what.click()

    def choose(self, what: Locator, value: str) -> None:
        """From a list: one tap opens it, one chooses."""
        self._reach(what, taps=2)
        what.select_option(value)

    def type(self, what: Locator, text: str) -> None:
        """One tap to be in the field, then each character; leaving it costs nothing, the next tap does that."""
        self._reach(what)
        what.fill(text)
        what.blur()
        self._now.characters += len(text)

    def pick(self, what: Locator, files: Sequence[Path]) -> None:
        """One tap opens the picker or the camera, and one takes or ticks each picture."""
        self._reach(what, taps=1 + len(files))
        what.set_input_files([str(file) for file in files])

    def table(self) -> str:
        """The counts in columns, with their sum."""
        self.turn_to(next(iter(self.counts)))
        rows = [*self.counts.items(), ("together", self._sum())]
        lines = [f"{'part':<14} {'taps':>5} {'characters':>11} {'screens':>8} {'seconds':>8}"]
        lines += [
            f"{part:<14} {one.taps:>5} {one.characters:>11} {one.screens:>8.1f} {one.seconds:>8.1f}"
            for part, one in rows
        ]
        return "\n".join(lines)

    def _sum(self) -> Count:
        every = self.counts.values()
        return Count(
            sum(one.taps for one in every), sum(one.characters for one in every),
            sum(one.screens for one in every), sum(one.seconds for one in every),
        )  # fmt: skip

    def _reach(self, what: Locator, *, taps: int = 1) -> None:
        """Counts the taps, and how far the page has to move until the thing is on the screen."""
        self._now.taps += taps
        what.wait_for()
        before, height = self.page.evaluate(PLACE)
        what.scroll_into_view_if_needed()
        self._now.screens += abs(self.page.evaluate(PLACE)[0] - before) / height
