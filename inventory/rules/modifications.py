"""Which kind of modification a spreadsheet's words mean."""

import re

from inventory.rules.words import ModificationKind

# Common practice, no source: the words lots use. The first kind with a word that fits wins.
_WORDS: tuple[tuple[ModificationKind, str], ...] = (
    (ModificationKind.BRAKES, "brake|disc conversion|booster|caliper"),
    (ModificationKind.TRANSMISSION, "transmission|gearbox|overdrive|clutch|axle|rear end|differential|shifter"),
    (ModificationKind.SUSPENSION, "suspension|steering|coil.?over|lowered|lift kit|air ride|sway bar|shock"),
    (ModificationKind.WHEELS, "wheel|rim|tire|tyre"),
    (ModificationKind.PAINT, "paint|respray|repaint|wrap|pinstrip|flames"),
    (ModificationKind.INTERIOR, "interior|seat|upholster|carpet|dash|console"),
    (ModificationKind.ELECTRICAL, "electric|stereo|audio|radio|air con|a/c|wiring|alternator|led|gauge"),
    (ModificationKind.ENGINE, "engine|motor|crate|cam|carb|intake|inject|turbo|supercharg|blower|header|exhaust"),
    (ModificationKind.BODY, "body|hood|bonnet|spoiler|chopped|channeled|fender|bumper|scoop|wing"),
)
_PATTERNS = tuple((kind, re.compile(words, re.IGNORECASE)) for kind, words in _WORDS)


def kind_of(text: str) -> ModificationKind:
    """The kind that a modification's words name; *other* where they name none."""
    plain = text.strip().lower()
    if plain in ModificationKind.values:
        return ModificationKind(plain)
    return next((kind for kind, pattern in _PATTERNS if pattern.search(plain)), ModificationKind.OTHER)
