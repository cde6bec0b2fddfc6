"""Chances in words."""


def chance_said(chance: float) -> str:
    """A chance in whole percent; neither none nor certain where it is not."""
    percent = int(chance * 100 + 0.5)
    if percent == 0:
        return "0 %" if chance == 0 else "under 1 %"
    if percent == 100:
        return "100 %" if chance == 1 else "over 99 %"
    return f"{percent} %"
