"""The first two stations: the engine before anything is warm, then the papers and the numbers.

Figures in hints are common practice, no source, unless one is named. Weights are the lot's policy.
"""

from inventory.rules.catalogue.parts import INCHES_OF_MERCURY, PSI, VOLTS, Check, Feature, Shot, Station
from inventory.rules.words import BuildClass

ENGINE = "Running engine: fresh air, wheels chocked, hands clear of fan and belts."

COLD_START = Station(
    code="cold_start",
    title="Cold start",
    hint="before anything is warm: first turn, smoke, noises, idle",
    caution=ENGINE,
    checks=(
        Check(code="cold_start.battery", wording="Battery voltage at rest, everything off", weight=3, unit=VOLTS,
              # the trade's table of rules/battery.py, from memory
              hint="Hours after any charge. About 12.65 is full and 12.06 a quarter; half of that for six volts."),
        Check(code="cold_start.first_turn", wording="First turn: cranks evenly, fires within seconds", weight=6,
              hint="Feel that the block is cold first. Slow or grinding starter, one easy cylinder, hot cables "
              "are faults. Note what it needed."),
        Check(code="cold_start.choke", wording="Choke and fast idle: come on, then come off", weight=3,
              needs=frozenset({Feature.CARBURETTOR}),
              hint="Look at the plate before and after. Wired open, disconnected, black smoke for minutes: faults."),
        Check(code="cold_start.smoke", wording="Exhaust smoke in the first two minutes", weight=8,
              hint="Blue is oil. White that stays and smells sweet is coolant. Black is fuel. Brief steam is none."),
        Check(code="cold_start.noises", wording="Cold noises: knock, tick, slap, belt, bearing", weight=8,
              hint="Deep knock is the bottom end. Slap that fades warm is piston, a tick that stays is valve gear. "
              "Say where."),
        Check(code="cold_start.oil_pressure", wording="Oil pressure at cold idle, seconds until it shows", weight=7,
              unit=PSI,
              hint="A gauge screwed into the block beats the dash. Over five seconds to show, or a needle that "
              "dips, is a fault."),
        Check(code="cold_start.charging", wording="Charging voltage at a fast idle", weight=3, unit=VOLTS,
              hint="Clearly above the voltage at rest and steady: about 13.5 to 14.8, or 6.8 to 7.4. Then lamps on: "
              "it must hold."),
        Check(code="cold_start.idle", wording="Idle once settled: even, manifold vacuum", weight=5,
              unit=INCHES_OF_MERCURY,
              hint="Choke off. 17 to 21, steady, at sea level; one less for each 1,000 ft. A needle that flicks is "
              "one cylinder."),
    ),
    shots=(
        Shot("cold_start.ground", "The ground below, where it stood overnight"),
        Shot("cold_start.tail_pipe", "The tail pipe in the first minute"),
        Shot("cold_start.gauges_cold", "Gauges at cold idle"),
    ),
)  # fmt: skip

PAPERWORK = Station(
    code="paperwork",
    title="Paperwork and plates",
    hint="title, plates, stamps, books, keys",
    checks=(
        Check(code="paperwork.title", wording="Title: owner's name, number, brands, odometer line", weight=3,
              hint="In the hand, not told. Compare the number sign by sign with the plate. Brands, liens, "
              "erasures are faults."),
        Check(code="paperwork.plate", wording="Identity plate: read, photographed, fixed as when new", weight=3,
              hint="Rivets of the maker's kind, one set of holes, edges flat, paint below it right. Write what is "
              "there, not what should be."),
        Check(code="paperwork.data_plate", wording="Data plate: codes read, agree with colour and trim", weight=2,
              not_for=frozenset({BuildClass.REPLICA}),
              hint="It says what was built, not what is there. Another colour or engine now is written down, and "
              "is no fault of the plate."),
        Check(code="paperwork.stamps", wording="Numbers stamped in frame or body: read, photographed", weight=3,
              hint="Wipe, do not scrape. Even depth and typeface, metal untouched. Grinding, welds or filler round "
              "them is a fault."),
        Check(code="paperwork.numbers", wording="Engine, transmission, axle: numbers and casting dates", weight=2,
              hint="Read off the part and photographed. A freshly milled pad or a date after the build goes into "
              "the ledger."),
        Check(code="paperwork.keys", wording="Keys: all sets counted, every lock tried", weight=1,
              hint="Doors, ignition, trunk, glove box, fuel cap, wheel locks. A lock without its key is a fault."),
        Check(code="paperwork.records", wording="Invoices, build records, photos of the work done", weight=2,
              hint="Who did what, and when, on paper that names this vehicle. Cut or rebuilt without any paper is "
              "a fault."),
        Check(code="paperwork.books_tools", wording="Books, jack, wheel wrench, tools: there and right", weight=1,
              hint="Does the wrench fit these nuts, does the jack fit this body? Wheel lock socket, top cover, "
              "side curtains."),
    ),
    shots=(
        Shot("paperwork.plate", "Identity plate with its rivets"),
        Shot("paperwork.data_plate", "Data plate or build tag"),
        Shot("paperwork.stamps", "Numbers stamped in frame or body"),
        Shot("paperwork.numbers", "Engine number and casting date"),
    ),
)  # fmt: skip
