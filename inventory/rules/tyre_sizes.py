"""Reading a tyre size from what stands on a sidewall or was typed; `tyres.py` says what it means.

Four forms are read: metric (P235/75R15, LT235/85R16, 205/75R15 97S, 165SR13), flotation (31x10.50R15LT), letters
from 1968 on (FR78-15) and numbers (7.75-14). Case, spaces, dashes and the like carry nothing. A text that does not
fit is refused rather than read halfway.
"""

import re
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules.tyres import LOAD_INDEX_KG, SPEED_KMH, Construction, Form, Service, TyreSize

FIELD = "tyre_size"
EXAMPLES = "P235/75R15, 205/75R15 97S, LT235/85R16, 31x10.50R15LT, FR78-15 or 7.75-14"
LONGEST = 60

# Only ASCII letters are raised: full case mapping would turn foreign letters into ones a size may hold.
_RAISED = str.maketrans("abcdefghijklmnopqrstuvwxyz×*", "ABCDEFGHIJKLMNOPQRSTUVWXYZXX")
_DASHES = re.compile(r"[\u2010-\u2015\u2212]")
_HALF = re.compile(r"(?<=[0-9])(?: ?\u00bd| 1/2(?![0-9]))")
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")
_INCH_MARKS = re.compile("[\"\u201d\u2033]|''")

_GAP = r"[ /X-]+"
_RIM = r"(?P<rim>[12][0-9](?:\.[05]0?)?)(?![0-9.])"
_MM_RIM = r"(?P<rim>[12][0-9](?:\.[05]0?)?|[34][0-9]{2})(?![0-9.])"
_JOIN = rf"(?:[ /X-]*(?P<speed>[QSTHVZ]?)(?P<mark>[RDB])[ /X-]*|{_GAP})"
_SUFFIX = r"(?: *(?P<suffix>LT)(?![A-Z]))?"
_FORMS = (
    (Form.LETTER, rf"(?P<letter>[A-HJ-N])(?P<mark>R)?[ /-]*(?P<aspect>[0-9]{{2}}){_GAP}{_RIM}{_SUFFIX}"),
    (
        Form.METRIC,
        rf"(?P<prefix>P|LT|T)?[ -]*(?P<width>[0-9]{{3}}){_GAP}(?P<aspect>[2-9][0-9]){_JOIN}{_MM_RIM}{_SUFFIX}",
    ),
    # Early radials give no profile. Kept narrow: 440-21 is 4.40-21, and in 185/14 a figure is missing.
    (Form.METRIC, rf"(?P<width>1[0-9]{{2}}|2[0-4][0-9])(?! ?/){_JOIN}{_RIM}"),
    (
        Form.FLOTATION,
        rf"(?P<prefix>LT)?[ -]*(?P<overall>[2-5][0-9](?:\.[0-9]{{1,2}})?){_GAP}"
        rf"(?P<width>[0-9]{{1,2}}\.[0-9]{{1,2}}|[0-9]{{1,4}}){_JOIN}{_RIM}{_SUFFIX}",
    ),
    (
        Form.NUMERIC,
        rf"(?P<width>[0-9]{{1,2}}\.[0-9]{{1,2}}|4[5-9][0-9]|[5-9][0-9]{{2}}|1[0-4][0-9]{{2}}){_JOIN}{_RIM}{_SUFFIX}",
    ),
)
_HEADS = tuple((form, re.compile(pattern)) for form, pattern in _FORMS)
_PLY = r"[0-9]{1,2}[ -]?(?:PR|PLY)"
_TAIL = re.compile(
    rf"[ /-]*(?:(?!{_PLY})\(?(?P<index>[0-9]{{2,3}})(?:/(?P<dual>[0-9]{{2,3}}))? ?(?P<symbol>[H-Z](?![A-Z]))?\)?)?"
    r"[ /-]*(?:(?:LOAD RANGE|LR)[ -]*(?P<range>[A-H])|(?P<extra>XL|SL)|(?P<lone>[A-Z])(?![A-Z]))?"
    r"[ /-]*(?:(?P<ply>[0-9]{1,2})[ -]?(?:PR|PLY))?[ ]*"
)
_MARKS = {"R": Construction.RADIAL, "D": Construction.BIAS, "B": Construction.BELTED}
_LOAD_RANGES = "ABCDEFG"

# Bounds to catch slips, wider than anything known to be made for the road: our choice.
_WIDTH_MM = (105, 445)
_WIDTH_IN = (Decimal("3.5"), Decimal(20))
_ASPECT = (20, 95)
_RIM_IN = (Decimal(10), Decimal(26))
_RIM_MM = (315, 415)
_LEAST_SIDEWALL_IN = Decimal(1)
_PLIES = (2, 20)


def parse_size(text: str) -> TyreSize:
    """The tyre size a text gives: form, construction, rim, width, aspect, and load and speed where they are given.

    Units are those of the form (millimetres and percent, or inches); see `TyreSize`. Refused, for the field
    `tyre_size`: a text that is no size in one of the forms above, has something after it that cannot be read, a
    figure no road tyre has, a load index outside 60 to 130 or a speed symbol outside the table of UN Regulation 30.
    """
    written = _normal(text)
    if not written or len(written) > LONGEST:
        raise _refused(text, "No tyre size was given." if not written else "That is too long for a tyre size.")
    for form, head in _HEADS:
        found = head.match(written)
        if found is not None:
            return _sized(text, form=form, head=found.groupdict(), rest=written[found.end() :])
    raise _refused(text, f"“{text.strip()}” cannot be read as a tyre size.")


def _normal(text: str) -> str:
    raised = " ".join(text.translate(_RAISED).split())
    raised = _INCH_MARKS.sub("", _DASHES.sub("-", raised))
    return _HALF.sub(".5", _COMMA.sub(".", raised))


Groups = dict[str, str | None]


def _sized(text: str, *, form: Form, head: Groups, rest: str) -> TyreSize:
    service = _service(text, head)
    # A light-duty metric size ends in C for commercial; set apart by a space it is a load range.
    if form is Form.METRIC and service is None and re.match("C(?![A-Z0-9])", rest):
        service, rest = Service.COMMERCIAL, rest[1:]
    tail = _TAIL.fullmatch(rest)
    if tail is None:
        raise _refused(text, f"“{rest.strip()}” after the size cannot be read.", mend=_TAIL_MEND)
    load = _loads(text, tail.groupdict())
    size = TyreSize(
        form=form,
        rim=_plain(Decimal(head["rim"] or 0)),
        construction=_construction(form, head.get("mark")),
        service=service,
        width=_width(form, head.get("width")),
        aspect=_whole(head.get("aspect")),
        letter=head.get("letter"),
        overall=_plain(Decimal(overall)) if (overall := head.get("overall")) else None,
        size_speed=head.get("speed") or None,
        load_index=load[0],
        dual_load_index=load[1],
        speed_symbol=_symbol(text, tail.groupdict()),
        load_range=_load_range(tail.groupdict()),
        ply_rating=_whole(tail["ply"]),
    )
    _check(size, text=text)
    return size


_TAIL_MEND = "After the size give only load index, speed symbol, load range or ply, such as 105S, load range C or 6PR."


def _service(text: str, head: Groups) -> Service | None:
    prefix, suffix = head.get("prefix") or "", head.get("suffix") or ""
    if prefix and suffix and prefix != suffix:
        raise _refused(text, f"“{text.strip()}” has both {prefix} and {suffix}.", mend="Give the one on the sidewall.")
    named = prefix or suffix
    return Service(named) if named else None


def _construction(form: Form, mark: str | None) -> Construction | None:
    """A metric size without its letter says nothing; the other forms have one only for radials."""
    if mark is not None:
        return _MARKS[mark]
    return None if form is Form.METRIC else Construction.NOT_RADIAL


def _width(form: Form, written: str | None) -> Decimal | None:
    """Inches written without their point, 775 or 1050, are hundredths; no inch width is as high."""
    if written is None:
        return None
    width = Decimal(written)
    return width / 100 if form is not Form.METRIC and len(written) > 2 and "." not in written else width


def _loads(text: str, tail: Groups) -> tuple[int | None, int | None]:
    single, dual = _whole(tail["index"]), _whole(tail["dual"])
    for index in (single, dual):
        if index is not None and index not in LOAD_INDEX_KG:
            least, most = min(LOAD_INDEX_KG), max(LOAD_INDEX_KG)
            mend = f"It runs from {least} to {most} here; read it again or leave it out."
            raise _refused(text, f"“{text.strip()}” has a load index of {index}.", mend=mend)
    return single, dual


def _symbol(text: str, tail: Groups) -> str | None:
    """The speed symbol, with the load index or alone; a lone letter of A to G is a load range instead."""
    lone = tail["lone"] if tail["lone"] not in tuple(_LOAD_RANGES) else None
    symbol = tail["symbol"] or lone
    if symbol is None:
        return None
    if symbol not in SPEED_KMH or (lone and tail["symbol"]):
        known = ", ".join(SPEED_KMH)
        odd = lone or symbol
        raise _refused(text, f"“{odd}” at the end of “{text.strip()}” is no speed symbol.", mend=f"Known are {known}.")
    return symbol


def _load_range(tail: Groups) -> str | None:
    lone = tail["lone"]
    return tail["range"] or tail["extra"] or (lone if lone and lone in _LOAD_RANGES else None)


def _check(size: TyreSize, *, text: str) -> None:
    rims = _RIM_MM if size.rim_is_metric else _RIM_IN
    metric = size.form is Form.METRIC
    bounds = (
        ("rim", size.rim, rims, "mm" if size.rim_is_metric else "in"),
        ("width", size.width, _WIDTH_MM if metric else _WIDTH_IN, "mm" if metric else "in"),
        ("aspect", size.aspect, _ASPECT, "%"),
        ("ply rating", size.ply_rating, _PLIES, "plies"),
    )
    for name, value, (least, most), unit in bounds:
        if value is not None and not least <= value <= most:
            message = f"“{text.strip()}” puts the {name} at {value} {unit}."
            raise _refused(text, message, mend=f"It lies between {least} and {most} {unit}; read the sidewall again.")
    if size.overall is not None and size.overall - size.rim < 2 * _LEAST_SIDEWALL_IN:
        raise _refused(text, f"“{text.strip()}” leaves no sidewall between {size.overall} in and the rim.")


def _whole(written: str | None) -> int | None:
    return None if written is None else int(written)


def _plain(number: Decimal) -> Decimal:
    """Without trailing zeros, so that 16.50 is written 16.5 and 15.0 is written 15."""
    return number.to_integral_value() if number % 1 == 0 else number.normalize()


def _refused(text: str, message: str, *, mend: str = "") -> Refused:
    return Refused(
        "tyre_size",
        message,
        field=FIELD,
        got=text,
        mend=mend or f"Give it as on the sidewall, such as {EXAMPLES}.",
    )
