"""Five stations round the outside: front, left side, rear, right side, glass and brightwork.

Figures in hints are common practice, no source, unless one is named. Weights are the lot's policy.
"""

from dataclasses import replace

from inventory.rules.catalogue.parts import MILS, Check, Feature, Shot, Station
from inventory.rules.limit_rows import PERCENT, THIRTY_SECONDS, YEARS

METAL_ONLY = frozenset({Feature.GLASS_FIBRE_BODY})
"""Rust is not asked of a body that has none."""

FRONT = Station(
    code="front",
    title="Front",
    hint="bumper, grille, lamps, hood fit, cowl",
    checks=(
        Check(code="front.bumper_grille", wording="Front bumper and grille: straight, whole, plating", weight=3,
              hint="Even gap to the body on both sides. Pits in the plating, broken bars, bent brackets: faults."),
        Check(code="front.hood", wording="Hood: gaps, elevation, hinges, latch, safety catch", weight=4,
              hint="Gaps even on both sides, edges level with fenders and cowl. A safety catch that does not hold "
              "is 0."),
        Check(code="front.lamps", wording="Headlamps, parking lamps, turn signals: all work", weight=3,
              hint="High and low beam, both sides alike in brightness. Dull reflectors and loose buckets are faults."),
        Check(code="front.paint", wording="Paint of the nose: match, flaws, thickest reading", weight=4, unit=MILS,
              hint="Five places on the hood, two a fender. A panel far above its neighbours is repainted or filled: "
              "note which."),
        Check(code="front.support", wording="Radiator support, inner fenders: rust, old hits", weight=6,
              structural=True,
              hint="Wrinkles, new sealer, welds unlike the other side, bolts with turned paint: a hit. Rust at the "
              "body mounts."),
        Check(code="front.cowl", wording="Cowl and base of the windshield: rust, water inside", weight=7,
              structural=True,
              hint="A cup of water into the vents, then look below the dash. Blisters at the corners mean rust "
              "from within."),
    ),
    shots=(
        Shot("front.straight", "Front, straight on"),
        Shot("front.three_quarters", "Front and left side, from the corner"),
        Shot("front.hood_gaps", "Hood gaps and cowl, close"),
    ),
)  # fmt: skip

_LEFT = Station(
    code="left_side",
    title="Left side",
    hint="flank from low down, doors, gaps, rockers",
    checks=(
        Check(code="left_side.sight_line", wording="Left flank sighted along its length: waves, dents", weight=5,
              hint="Eye low at each end, light along the side. Reflections run straight through; a wave is filler "
              "or a hit."),
        Check(code="left_side.doors", wording="Left doors: gaps, elevation, hinges, latches", weight=5,
              hint="Gap even all round, skin level with its neighbours. Drops when opened, lifts by hand or needs "
              "a slam: a fault."),
        Check(code="left_side.fender", wording="Left front fender: lower end, arch, rust or filler", weight=5,
              unless=METAL_ONLY,
              hint="Behind the wheel, round the lamp, along the top seam. Feel the inside of the lip; magnet for "
              "filler."),
        Check(code="left_side.door_bottoms", wording="Left door bottoms: rust, seams, drain holes", weight=5,
              unless=METAL_ONLY,
              hint="From below with a mirror. Drains open, hem sharp. A blister along the lower skin is rust from "
              "within."),
        Check(code="left_side.rocker", wording="Left rocker: rust, patches, dents, jacking points", weight=9,
              structural=True,
              hint="Press hard, tap, look into the drains. Thick undercoat, laps welded over, a crushed jacking "
              "point are faults."),
        Check(code="left_side.quarter", wording="Left quarter or rear fender: arch, lower end, rust", weight=5,
              unless=METAL_ONLY,
              hint="Inner and outer arch where they meet, dog leg, behind the wheel. From inside: clean metal or "
              "patches?"),
        Check(code="left_side.paint", wording="Left paint: match, flaws, thickest reading", weight=5, unit=MILS,
              hint="Three places a panel, low down too: note the thickest. A magnet shows steel; aluminium and "
              "glass fibre hold none."),
        Check(code="left_side.glass_fibre", wording="Left glass fibre: cracks at hinges, mounts, bonds", weight=3,
              needs=frozenset({Feature.GLASS_FIBRE_BODY}),
              hint="Stars from stone or jack, cracks running from door corners, bond seams that show, ground "
              "repairs seen from behind."),
    ),
    shots=(
        Shot("left_side.profile", "Left side, square on"),
        Shot("left_side.flank", "Left flank, along it from low down"),
        Shot("left_side.rocker", "Left rocker and lower fender ends"),
    ),
)  # fmt: skip


def _to_the_right(text: str) -> str:
    return text.replace("left", "right").replace("Left", "Right")


def _right_of(row: Check) -> Check:
    return replace(
        row,
        code=_to_the_right(row.code),
        twin=row.code,
        wording=_to_the_right(row.wording),
        hint=_to_the_right(row.hint),
    )


def _both_sides(left: Station) -> tuple[Station, Station]:
    """The left side as written, and its mirror image; each check of one names its twin on the other."""
    right = replace(
        left,
        code=_to_the_right(left.code),
        title=_to_the_right(left.title),
        checks=tuple(_right_of(row) for row in left.checks),
        shots=tuple(Shot(_to_the_right(shot.code), _to_the_right(shot.title), shot.needs) for shot in left.shots),
    )
    named = tuple(replace(row, twin=_to_the_right(row.code)) for row in left.checks)
    return replace(left, checks=named), right


LEFT_SIDE, RIGHT_SIDE = _both_sides(_LEFT)

REAR = Station(
    code="rear",
    title="Rear",
    hint="stance, trunk or bed, lamps, bumper, spare",
    checks=(
        Check(code="rear.stance", wording="Stance from behind: level, wheels in line, square", weight=3,
              hint="Twenty steps back, level ground. Tape from rim to arch, left and right: over half an inch apart "
              "wants a reason."),
        Check(code="rear.bumper_valance", wording="Rear bumper and valance: straight, plating, rust", weight=2,
              hint="Brackets unbent, gap even. Look behind the bumper at the lower seam: mud, blisters, filler."),
        Check(code="rear.lamps", wording="Tail, stop, turn, plate and backup lamps: all work", weight=3,
              hint="Somebody on the pedal. One side dim, or a turn signal that lights the other, is a poor ground."),
        Check(code="rear.trunk_lid", wording="Trunk lid or hatch: gaps, elevation, hinges, lock", weight=3,
              needs=frozenset({Feature.TRUNK}),
              hint="Stays up by itself, closes without a slam. Rust along the lower seam of its frame is a fault."),
        Check(code="rear.trunk_floor", wording="Trunk floor and spare well: rust, creases, patches", weight=5,
              needs=frozenset({Feature.TRUNK}), structural=True,
              hint="Mat out, spare out. Ripples and new sealer mean a hit from behind; water marks mean the seal "
              "or the window."),
        Check(code="rear.bed_floor", wording="Bed floor: rust, dents, rotten or loose boards", weight=4,
              needs=frozenset({Feature.PICKUP_BED}),
              hint="Liner out. Look at the crossmembers from below, and at the bolts: a new floor over old supports "
              "is a fault."),
        Check(code="rear.bed_sides", wording="Bed sides, front panel, tailgate: rust, fit, chains", weight=3,
              needs=frozenset({Feature.PICKUP_BED}),
              hint="Stake pockets, seam at the floor, inner arches. The tailgate latches on both sides and its "
              "chains hold."),
        Check(code="rear.paint", wording="Rear paint: match, flaws, thickest reading", weight=4, unit=MILS,
              hint="Lid or tailgate, and the panel below. Compare with the roof, which is the panel least often "
              "repaired."),
        Check(code="rear.spare_tread", wording="Spare: thinnest tread", weight=1, unit=THIRTY_SECONDS,
              limit="tread_depth",
              hint="It holds air and fits this vehicle's hubs. Same way of measuring as on the road wheels."),
        Check(code="rear.spare_age", wording="Spare: age from its week of make", weight=1, unit=YEARS,
              limit="spare_age",
              hint="Last four digits of the code on the wall: week, week, year, year. Three digits: before 2000."),
        Check(code="rear.second_tank", wording="Second fuel tank: mounts, filler, lines, selector", weight=2,
              needs=frozenset({Feature.DUAL_TANKS}),
              hint="Feeds when selected, gauge follows, nothing seeps. A tank cut off without its line plugged is a "
              "fault."),
    ),
    shots=(
        Shot("rear.straight", "Rear, straight on"),
        Shot("rear.three_quarters", "Rear and right side, from the corner"),
        Shot("rear.trunk", "Trunk floor, mat and spare out", needs=frozenset({Feature.TRUNK})),
        Shot("rear.bed", "Bed floor and tailgate", needs=frozenset({Feature.PICKUP_BED})),
    ),
)  # fmt: skip

GLASS = Station(
    code="glass",
    title="Glass and brightwork",
    hint="windshield, side glass, seals, roof, top, lenses, trim",
    checks=(
        Check(code="glass.windshield", wording="Windshield: cracks, chips, haze, wiper marks", weight=5,
              hint="From inside against the light. A crack in the driver's sweep, or milky edges of the layers, is a "
              "fault."),
        Check(code="glass.light", wording="Light let through at the driver's windows", weight=1, unit=PERCENT,
              limit="glass_light",
              hint="A meter, windshield and both front side windows: note the lowest. Film peels at the edge."),
        Check(code="glass.side_glass", wording="Side and rear glass: cracks, date marks, run, regulators", weight=2,
              hint="Each window down and up, by crank or switch. Read the date marks: one odd pane tells of a "
              "break-in or a hit."),
        Check(code="glass.roof", wording="Roof, drip rails, window channels: rust, dents, leaks", weight=4,
              hint="Hand flat over the skin. Cracked sealer in the rails, blisters at window corners, a vinyl cover "
              "that lifts."),
        Check(code="glass.weatherstrip", wording="Weatherstrip: whole, soft, seals all round", weight=3,
              hint="Doors, windows, trunk, hood. A slip of paper shut in the door should drag. Water marks tell the "
              "rest."),
        Check(code="glass.brightwork", wording="Brightwork, lenses, mirrors, emblems: whole, pits", weight=4,
              hint="Count the pieces. Pits, dents, clouded anodising, cracked or odd lenses: many cannot be bought "
              "again."),
        Check(code="glass.soft_top", wording="Soft top: cloth, seams, rear window, frame, latches", weight=4,
              needs=frozenset({Feature.SOFT_TOP}),
              hint="Down and up once by hand or motor. Bent bows, worn folds, a rear window that cracks when bent, "
              "leaking cylinders."),
        Check(code="glass.roof_panels", wording="Removable top or panels: fit, seals, latches", weight=2,
              needs=frozenset({Feature.REMOVABLE_TOP}),
              hint="Off and on once. Locks bite fully, nothing rattles; stress cracks at the latches are a fault."),
    ),
    shots=(
        Shot("glass.windshield", "Windshield, from inside against the light"),
        Shot("glass.date_mark", "Maker's mark of one side window"),
        Shot("glass.soft_top", "Soft top up, rear window and seams", needs=frozenset({Feature.SOFT_TOP})),
    ),
)  # fmt: skip
