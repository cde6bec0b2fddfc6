"""A tyre against its wheel and against its neighbour on the axle: questioned, never blocked."""

from collections.abc import Iterator
from math import isfinite

from inventory.errors import Refused
from inventory.rules.engine_figures import MM_PER_IN
from inventory.rules.plausibility import Question
from inventory.rules.tyres import TyreSize

RimShare = tuple[float, float]

_LOW_PROFILE_BELOW = 50
RIM_SHARE: RimShare = (0.60, 0.92)
LOW_RIM_SHARE: RimShare = (0.72, 1.05)
"""Rim width as a share of section width that raises no question, and the same for an aspect below 50.

A rim is usually about 70 % of the section, 85 % for low profiles (read, second-hand); how far about is our choice.
The tyre maker's table of permitted rims decides.
"""

_SAME_RIM_IN = 0.05
_TAPERED = "A 16 in tyre on a 16.5 in rim can burst while it is inflated: do not inflate it."


def fits_wheel(
    size: TyreSize, *, rim_diameter: float | None, rim_width: float | None, rim_share: RimShare | None = None
) -> list[Question]:
    """What is odd about this tyre on this wheel; an empty list where nothing is, or nothing can be compared.

    Both rim figures in inches, the width between the flanges; None where it was not measured. Unlike diameters are a
    question, and so is a rim outside `rim_share` of the section width (least and most, `RIM_SHARE` by default).
    A letter size does not say its width, so it is not compared. Refused: a rim figure that is no number above zero,
    a share that does not rise.
    """
    for field, value in (("rim_diameter", rim_diameter), ("rim_width", rim_width)):
        if value is not None and not (isfinite(value) and value > 0):
            raise _no_rim(field, value)
    questions = []
    if rim_diameter is not None and abs(size.rim_in - rim_diameter) > _SAME_RIM_IN:
        questions.append(_unlike_diameters(size, rim_diameter=rim_diameter))
    usual = _usual_rim_in(size, share=rim_share)
    if rim_width is not None and usual is not None and not usual[0] <= rim_width <= usual[1]:
        questions.append(_odd_width(size, rim_width=rim_width, usual=usual))
    return questions


def differ_on_axle(left: TyreSize, right: TyreSize) -> list[Question]:
    """What differs between the two tyres of one axle: 49 CFR 570.9(b), size designation, construction, profile.

    Load index, speed symbol and load range are no part of the designation and are not compared. What one of them
    does not say is not held against it, but a designation written differently is. Check local law.
    """
    return list(_differences(left, right))


def _differences(left: TyreSize, right: TyreSize) -> Iterator[Question]:
    mend = "Read both sidewalls again; one axle carries one size, construction and profile (49 CFR 570.9(b))."
    if left.designation != right.designation:
        message = f"One axle carries {left.designation} and {right.designation}."
        yield Question("tyre_match_size", message, mend)
    if left.construction and right.construction and left.construction != right.construction:
        message = f"One axle carries {left.construction} and {right.construction}."
        yield Question("tyre_match_construction", message, mend)
    if left.aspect and right.aspect and left.aspect != right.aspect:
        message = f"One axle carries tyres {left.aspect} % and {right.aspect} % as high as wide."
        yield Question("tyre_match_profile", message, mend)


def _unlike_diameters(size: TyreSize, *, rim_diameter: float) -> Question:
    metric = f" ({size.rim} mm)" if size.rim_is_metric else ""
    half_inch = {size.rim_in, rim_diameter} == {16, 16.5}
    return Question(
        "tyre_rim_diameter",
        f"{size.designation} is for a rim of {size.rim_in:.4g} in{metric}; the wheel is given as {rim_diameter:g} in.",
        f"Read the tyre and the wheel again. {_TAPERED}" if half_inch else "Read the tyre and the wheel again.",
    )


def _odd_width(size: TyreSize, *, rim_width: float, usual: tuple[float, float]) -> Question:
    side = "narrow" if rim_width < usual[0] else "wide"
    return Question(
        "tyre_rim_width",
        f"A rim {rim_width:g} in wide is {side} for {size.designation}; {usual[0]:.1f} to {usual[1]:.1f} in is usual.",
        "Measure the rim between its flanges, and look the size up in the tyre maker's table of permitted rims.",
    )


def _usual_rim_in(size: TyreSize, *, share: RimShare | None) -> tuple[float, float] | None:
    low = size.aspect is not None and size.aspect < _LOW_PROFILE_BELOW
    least, most = share or (LOW_RIM_SHARE if low else RIM_SHARE)
    if not 0 < least < most:
        raise Refused(
            "rim_share",
            f"A rim cannot be {least} to {most} of the tyre's width.",
            field="rim_share",
            got=share,
            mend="Give the least and the most as shares, such as 0.6 and 0.92.",
        )
    width = size.section_width_in
    return None if width is None else (least * width, most * width)


def _no_rim(field: str, value: float) -> Refused:
    return Refused(
        "tyre_rim",
        f"{value} cannot be the {field.replace('_', ' ')}.",
        field=field,
        got=value,
        mend=f"Give it in inches, above zero; a rim marked in millimetres is divided by {MM_PER_IN}.",
    )
