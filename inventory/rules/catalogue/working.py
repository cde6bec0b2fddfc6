"""Five stations of what works and carries: engine bay, interior, underside, tyres, road test.

Figures in hints are common practice, no source, unless one is named. Weights are the lot's policy. What a limit or
a criterion of `limit_rows` judges has its figure there, not in the hint.
"""

from inventory.rules.catalogue.parts import FAHRENHEIT, PSI, Check, Feature, Shot, Station
from inventory.rules.limit_rows import APPLICATIONS, FEET, INCHES, PERCENT, THIRTY_SECONDS, YEARS

FUEL = "Fuel and battery: no flame, no sparks, know where the extinguisher is."
LIFT = "Lift: use the maker's lifting points, set the locks, nobody inside the vehicle."
ROAD = "Licensed driver, plate and insurance in order; brakes and steering checked first."

ENGINE_BAY = Station(
    code="engine_bay",
    title="Engine bay",
    hint="leaks, hoses, wiring, mounts, belts, compression",
    caution=FUEL,
    checks=(
        Check(code="engine_bay.fuel", wording="Fuel lines, pump, carburettor or rail: leaks, old hose", weight=5,
              hint="Wet or smelling: do not start it. Cracked hose, missing clamps, a plastic filter over the "
              "exhaust are faults."),
        Check(code="engine_bay.leaks", wording="Leaks of oil and other fluids, cold and again warm", weight=5,
              hint="Wipe first, look again after the road test. Say what it is, where from: weeping, wet, or "
              "dripping."),
        Check(code="engine_bay.fluids", wording="Oil, coolant, brake and other fluids: level, look", weight=4,
              hint="Milk under the oil cap, oil in the coolant, burnt transmission oil, black brake fluid are faults."),
        Check(code="engine_bay.cooling", wording="Radiator, hoses, water pump, fan: leaks, play", weight=5,
              needs=frozenset({Feature.LIQUID_COOLED}),
              hint="Never open a hot cap. Crusts, soft or hard hoses, a wet weep hole, a loose fan, a missing shroud "
              "are faults."),
        Check(code="engine_bay.wiring", wording="Wiring, fuses, ignition leads, battery: burnt, bare", weight=6,
              hint="Unfused extras, twisted joints, brittle cloth, coins for fuses. The battery is held down and "
              "its terminals are clean."),
        Check(code="engine_bay.throttle", wording="Throttle: opens fully, snaps shut by itself", weight=3,
              hint="Engine off, from the pedal, then from the linkage. Anything that drags or can catch on hose or "
              "mat is a fault."),
        Check(code="engine_bay.belts", wording="Belts, pulleys, engine and transmission mounts", weight=3,
              hint="Cracks, glaze, wobble. Lever gently at the mounts: a torn one lifts. Fan clear of everything "
              "under load."),
        Check(code="engine_bay.master", wording="Brake and clutch cylinders, booster: leaks, level", weight=4,
              hint="Look below the rubber at the firewall, and for blistered paint. Fluid down without a "
              "wet spot went inside."),
        Check(code="engine_bay.compression", wording="Lowest compression, of the highest cylinder", weight=7,
              unit=PERCENT, limit="compression_spread",
              hint="Warm, throttle open, all plugs out, 4 to 5 strokes each. Write all figures; oil in a low one "
              "tells rings from valves."),
        Check(code="engine_bay.leak_down", wording="Leak-down of the worst cylinder", weight=4, unit=PERCENT,
              limit="leak_down",
              hint="At top dead centre, held from turning. Hiss at the oil filler: rings; tail pipe or intake: "
              "valves; bubbles: gasket."),
        Check(code="engine_bay.dressing", wording="Engine dressing: finish, decals, clamps, hose routing", weight=3,
              hint="Right for what it is, or well made as changed. Overspray on hoses, missing brackets, mixed "
              "hardware are faults."),
    ),
    shots=(
        Shot("engine_bay.left", "Engine bay from the left"),
        Shot("engine_bay.right", "Engine bay from the right"),
        Shot("engine_bay.firewall", "Firewall, cylinders and wiring"),
        Shot("engine_bay.worst", "The worst leak or wiring found"),
    ),
)  # fmt: skip

INTERIOR = Station(
    code="interior",
    title="Interior and controls",
    hint="seats, floor, instruments, switches, pedals, wheel",
    checks=(
        Check(code="interior.seats", wording="Seats: covers, foam, springs, tracks lock", weight=4,
              hint="Front and rear; rock each front seat hard. A track that slips or a back that folds by itself is "
              "0."),
        Check(code="interior.belts", wording="Seat belts: webbing, buckles, retractors, anchors", weight=3,
              hint="Pull hard. Frayed or sun-stiff webbing, or a bolt through bare sheet metal, is a fault; none when "
              "new is not."),
        Check(code="interior.floor", wording="Floors under the carpet: rust, damp, patches", weight=8,
              structural=True,
              hint="Lift all corners, toe boards, seat mounts. Press with a blunt tool. A mat glued down hides "
              "something."),
        Check(code="interior.wood", wording="Wood of the body's frame: rot, joints, hinge posts", weight=5,
              structural=True, needs=frozenset({Feature.WOOD_IN_BODY}),
              hint="A dull awl at wooden rockers, post feet, header. It sinks in: rot. Doors that drop, screws that "
              "turn and never bite."),
        Check(code="interior.trim", wording="Carpet, door panels, headliner: wear, fit, smell", weight=5,
              hint="Water lines, mildew, sagging, cut speaker holes. New carpet over old padding is lifted and "
              "looked under."),
        Check(code="interior.dash", wording="Dash, instruments, odometer: whole, work, agree", weight=4,
              hint="Cracks, holes cut, gauges that sleep. Does the odometer turn, do wear and papers agree with it?"),
        Check(code="interior.switches", wording="Horn, wipers, washer, heater, lamps: each switch works", weight=3,
              hint="One after another, engine running. Slow, hot, or works only when wiggled is a fault."),
        Check(code="interior.unknown_switches", wording="Switches whose purpose nobody knows: counted, traced",
              weight=2,
              hint="Say where each is and what was tried. Not traced: write so, no guess. None there: no fault."),
        Check(code="interior.air_conditioning", wording="Air conditioning: air at the vent after five minutes",
              weight=2, unit=FAHRENHEIT, needs=frozenset({Feature.AIR_CONDITIONING}),
              hint="Fast idle, fan high. Compressor engages without a shriek. About 30 under the outside air is "
              "good."),
        Check(code="interior.steering_lash", wording="Free play at the rim of the steering wheel", weight=4,
              unit=INCHES, limit="steering_lash",
              hint="Wheels straight, engine on if assisted. Rim until the front wheel just moves, then back. Note "
              "its diameter."),
        Check(code="interior.pedal_travel", wording="Brake pedal travel used, of free to floor", weight=3,
              unit=PERCENT, limit="pedal_travel",
              hint="Ruler beside the pedal, engine on if assisted. Spongy, or higher at the second push, is a fault "
              "too."),
        Check(code="interior.brake_lamp", wording="Brake failure lamp: lights in its test, then goes out", weight=2,
              criterion="brake_lamp",
              hint="Where one was fitted as built. Dead bulb, pulled wire or a lamp that stays on: 0."),
    ),
    shots=(
        Shot("interior.dash", "Dash from the rear seat or door"),
        Shot("interior.odometer", "Odometer, readable"),
        Shot("interior.front_seats", "Front seats and door panel"),
        Shot("interior.floor", "Floor with carpet lifted"),
        Shot("interior.headliner", "Headliner or top from inside"),
    ),
)  # fmt: skip

UNDERSIDE = Station(
    code="underside",
    title="Underside on the lift",
    hint="frame, floors, lines, brakes, exhaust, suspension",
    caution=LIFT,
    checks=(
        Check(code="underside.frame", wording="Frame, outriggers, body and spring mounts", weight=10,
              structural=True, needs=frozenset({Feature.BODY_ON_FRAME}),
              hint="Tap each rail along its length, over the axle too. Holes, cracks at boxes, kinks, plates over "
              "rust, dead mounts."),
        Check(code="underside.unit_body", wording="Rails, torque boxes, spring mounts of a unit body", weight=10,
              structural=True, unless=frozenset({Feature.BODY_ON_FRAME}),
              hint="Press and tap where rails meet floor and mounts. Torn holes, splits, patches, undercoat still "
              "soft are faults."),
        Check(code="underside.floors", wording="Floors and inner rockers from below: rust, patches", weight=8,
              structural=True,
              hint="Seams first. Laps, tar, fresh undercoat over scale. Compare with what was seen under the carpet."),
        Check(code="underside.suspension", wording="Suspension: ball joints, springs, arms, bushings", weight=6,
              criterion="suspension",
              hint="Lever at each joint, rock each wheel at its top. Torn seal, anything bent, broken leaf, spacer, "
              "bushing gone: 0."),
        Check(code="underside.dampers", wording="Shock absorbers: dry seals, tight mountings", weight=3,
              criterion="dampers",
              hint="Lever arm or tube alike. A film of dust is none; running oil or a loose eye is 0."),
        Check(code="underside.linkage_play", wording="Play of the steering linkage at the tread", weight=4,
              unit=INCHES, limit="linkage_play",
              hint="Front raised so the ball joints are loaded, wheel bearings right. Rock at 9 and 3 o'clock; note "
              "rim size."),
        Check(code="underside.brake_lines", wording="Brake lines and hoses: cracks, chafe, rust, leaks", weight=6,
              criterion="brake_hoses", unless=frozenset({Feature.MECHANICAL_BRAKES}),
              hint="Bend each hose, follow each line. Crack, chafe, flat spot, wet joint, contact with body or "
              "chassis: 0."),
        Check(code="underside.brake_rods", wording="Brake rods, cables, cross shafts: wear, rust, pins", weight=6,
              needs=frozenset({Feature.MECHANICAL_BRAKES}),
              hint="Work the pedal while somebody watches all four. Worn clevis, frayed strand, a shaft that binds, a "
              "pin without its cotter: 0."),
        Check(code="underside.drums", wording="Brake drums: widest inner diameter", weight=2, unit=INCHES,
              limit="drum_diameter", unless=frozenset({Feature.REAR_DISCS}),
              hint="Two directions at right angles. The greatest size is cast on the drum, else in the manual: note "
              "it. Cracks, scores."),
        Check(code="underside.discs", wording="Brake discs: least thickness", weight=2, unit=INCHES,
              limit="rotor_thickness", needs=frozenset({Feature.FRONT_DISCS}),
              hint="Micrometer, at four places. The least size is cast on the disc, else in the manual: note it. "
              "Cracks, lip, blue spots."),
        Check(code="underside.fuel_tank", wording="Fuel tank, straps, filler and vent: rust, seep", weight=4,
              hint="Top of the tank and below the straps. Stains, sealer, a strap on its last threads are faults."),
        Check(code="underside.exhaust", wording="Exhaust: leaks, hangers, ends clear of the cabin", weight=3,
              hint="Soot streaks at joints, rust holes, lost hangers, pipes near hoses or wood, an end under the "
              "cabin: faults."),
        Check(code="underside.driveline", wording="Driveshaft, U-joints, axle: play, leaks, mounts", weight=5,
              hint="Turn and lift by hand at each joint. Clunk, rust dust at a cap, wet pinion or axle seal, dented "
              "shaft are faults."),
    ),
    shots=(
        Shot("underside.front", "Front suspension and crossmember"),
        Shot("underside.floors", "Floors and rails, whole length"),
        Shot("underside.rear_axle", "Rear axle, springs and tank"),
        Shot("underside.exhaust", "Exhaust along its run"),
        Shot("underside.worst", "The worst rust or repair found"),
    ),
)  # fmt: skip

TREAD = "Two grooves side by side, at three places round: note the thinnest. Worn on one edge tells of toe or camber."

TYRES = Station(
    code="tyres",
    title="Tyres and wheels",
    hint="thinnest tread, age, match, wheels, linings behind them",
    caution=LIFT,
    checks=(
        Check(code="tyres.tread_left_front", wording="Left front tyre: thinnest tread", weight=2,
              unit=THIRTY_SECONDS, limit="tread_depth", hint=TREAD),
        Check(code="tyres.tread_right_front", wording="Right front tyre: thinnest tread", weight=2,
              unit=THIRTY_SECONDS, limit="tread_depth", hint=TREAD),
        Check(code="tyres.tread_left_rear", wording="Left rear tyre: thinnest tread", weight=2,
              unit=THIRTY_SECONDS, limit="tread_depth", hint=TREAD),
        Check(code="tyres.tread_right_rear", wording="Right rear tyre: thinnest tread", weight=2,
              unit=THIRTY_SECONDS, limit="tread_depth", hint=TREAD),
        Check(code="tyres.age", wording="Age of the oldest tyre on the road wheels", weight=3, unit=YEARS,
              limit="tyre_age",
              hint="Read the code of all four, also on the inner wall. Three digits: made before 2000. No code: "
              "say so."),
        Check(code="tyres.match", wording="Tyres alike on each axle, sizes and load marks noted", weight=2,
              criterion="tyre_match",
              hint="Same size, construction and profile left and right, else 0. Radial beside bias ply: 0. Does "
              "it rub at full lock?"),
        Check(code="tyres.condition", wording="Tyre walls and treads: bulges, cuts, cord, cracks", weight=3,
              criterion="tyre_condition",
              hint="Turn each wheel, inner wall too. Bulge, knot, chunk, cord, or marked not for the road: 0. Fine "
              "cracks: 2."),
        Check(code="tyres.wheels", wording="Wheels: cracks, bolt holes, welds, spokes", weight=2,
              criterion="wheel_sound",
              hint="Clean round the holes, both faces. Crack, stretched hole, weld repair: 0. Ring each spoke: a dull "
              "one is loose."),
        Check(code="tyres.nuts", wording="Wheel nuts and bolts: all there, tight, right seat", weight=2,
              criterion="wheel_nuts",
              hint="By torque wrench to the maker's figure. One missing or loose: 0. Left-hand threads, knock-offs: "
              "tighten as marked."),
        Check(code="tyres.runout_side", wording="Side runout of the worst wheel at its bead seat", weight=1,
              unit=INCHES, limit="wheel_runout_lateral",
              hint="Wheel raised, dial or fixed pointer beside the rim, one slow turn: lowest to highest."),
        Check(code="tyres.runout_radial", wording="Up-and-down runout of the worst wheel, bead seat", weight=1,
              unit=INCHES, limit="wheel_runout_radial",
              hint="Wheel raised, pointer square to the bead seat, one slow turn: lowest to highest."),
        Check(code="tyres.lining_front", wording="Front linings or pads: thinnest", weight=2, unit=THIRTY_SECONDS,
              limit="lining_thickness",
              hint="Over the rivet heads, or over the shoe if bonded: say which. Grease, fluid, cracks are faults."),
        Check(code="tyres.lining_rear", wording="Rear linings or pads: thinnest", weight=2, unit=THIRTY_SECONDS,
              limit="lining_thickness",
              hint="Over the rivet heads, or over the shoe if bonded: say which. Wet from axle or cylinder: a fault."),
    ),
    shots=(
        Shot("tyres.tread", "Tread of the worst tyre, with the gauge"),
        Shot("tyres.date_code", "Code on the wall of the oldest tyre"),
        Shot("tyres.wheel", "One wheel, square on"),
    ),
)  # fmt: skip

ROAD_TEST = Station(
    code="road_test",
    title="Road test",
    hint="stops, steers, shifts, warms up; the first four standing still",
    caution=ROAD,
    checks=(
        Check(code="road_test.pedal_holds", wording="Brake pedal pressed hard for ten seconds: it holds", weight=5,
              criterion="brake_integrity",
              hint="Standing, 125 lb: a strong leg. It sinks, something gives or the lamp lights: 0, and no drive."),
        Check(code="road_test.vacuum_reserve", wording="Full brake applications left with the engine off", weight=1,
              unit=APPLICATIONS, limit="vacuum_reserve", needs=frozenset({Feature.POWER_BRAKES}),
              hint="Standing. Stop the engine, then count full pushes until the pedal turns hard."),
        Check(code="road_test.free_turning", wording="Steering from lock to lock: no bind, no jam", weight=3,
              criterion="free_turning",
              hint="Standing, or front raised. Tight in one place, catching, a tyre on a hose or fender: 0."),
        Check(code="road_test.parking_brake", wording="Parking brake: holds on a grade, releases fully", weight=3,
              hint="Both ways on a slope, out of gear, foot ready. Handle at the end of its travel is a fault."),
        Check(code="road_test.stopping", wording="Stopping distance from 20 mph, in its lane", weight=4, unit=FEET,
              limit="stopping_distance",
              hint="Dry, level, nobody behind. Tape from where the foot came down. Pull, shudder, one wheel locking: "
              "faults."),
        Check(code="road_test.automatic", wording="Automatic: engages, shifts, kicks down, no slip", weight=4,
              needs=frozenset({Feature.AUTOMATIC}), unless=frozenset({Feature.MANUAL}),
              hint="Drive and reverse within two seconds. Flare, bang, hunting, and whether it parks and starts only "
              "in P or N."),
        Check(code="road_test.manual", wording="Clutch and gears: bite, slip, crunch, jumping out", weight=4,
              needs=frozenset({Feature.MANUAL}), unless=frozenset({Feature.AUTOMATIC}),
              hint="Up and down through all, overdrive too. Full throttle in high shows slip; lift off in each gear "
              "shows jumping out."),
        Check(code="road_test.four_wheel_drive", wording="Four-wheel drive: engages; transfer case, hubs, leaks",
              weight=3, needs=frozenset({Feature.FOUR_WHEEL_DRIVE}),
              hint="On loose ground: high, low, out again. A stuck lever, hubs that click, growl or a wet case are "
              "faults."),
        Check(code="road_test.power_steering", wording="Power steering: even both ways, quiet, dry", weight=2,
              needs=frozenset({Feature.POWER_STEERING}),
              hint="Slow figure eight. Groan, jerk, heavier one way; then look at pump, hoses and box for wet."),
        Check(code="road_test.handling", wording="Runs straight: no wander, shimmy or vibration", weight=4,
              hint="Hands light on a level road, over one bump, then at 45 mph. Say at which speed it comes and "
              "where it is felt."),
        Check(code="road_test.noises", wording="Driveline and bearing noises: whine, clunk, growl", weight=3,
              hint="On and off the throttle, then coasting, then swinging left and right. What changes with it "
              "tells which part."),
        Check(code="road_test.temperature", wording="Coolant temperature after twenty minutes", weight=4,
              unit=FAHRENHEIT, needs=frozenset({Feature.LIQUID_COOLED}),
              hint="Also after five minutes idling. Climbing without end or boiling over: stop. Never under its "
              "thermostat is a fault."),
        Check(code="road_test.oil_pressure_hot", wording="Oil pressure hot, at idle", weight=4, unit=PSI,
              hint="Right after the drive; note it at cruising speed too. Compare with cold and with the maker. Then "
              "stop, start again hot."),
    ),
    shots=(
        Shot("road_test.gauges_warm", "Gauges at the end of the drive, standing"),
        Shot("road_test.ground_after", "The ground below, ten minutes after"),
    ),
)  # fmt: skip
