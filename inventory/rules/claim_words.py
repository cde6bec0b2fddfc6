"""The words by which a typed sentence is heard: what it speaks of, what it claims, and what softens it.

Common practice, no source: the ways in which vehicles are praised. The lists are never complete.
"""

import re

_ENGINE = (
    r"engines?(?! (?:bay|dressing|mounts?|compartment|oil|lid|cover)\b)|heart|(?:the|its"
    r"|original) \d{3}(?! ?(?:miles|lb|psi))|"
    r"motors?|power ?plants?|blocks?|mill|drive ?train|power ?train|v-?(?:6|8|10|12|16)|flathead|"
    r"(?:straight|inline)[- ](?:four|six|eight|4|6|8)|(?:small|big)[- ]block|lump|long block|short block"
)

PART_WORDS: dict[str, str] = {
    "frame": r"frames?|chassis",
    "body_shell": r"body|body ?shell|bodywork|coachwork|sheet ?metal",
    "hood": r"hood|bonnet",
    "front_fenders": r"(?:front )?fenders?",
    "doors": r"doors",
    "rear_quarters": r"(?:rear )?quarters?(?: panels?)?",
    "trunk_lid": r"trunk lid|deck ?lid|tailgate",
    "paint": r"paint(?:work)?|lacquer|finish|colou?rs?",
    "engine": _ENGINE,
    "heads": r"(?:cylinder )?heads",
    "induction": r"carbs?|carburett?ors?|injection|intake",
    "ignition": r"distributor|magneto|ignition",
    "cooling": r"radiator|water pump|cooling system",
    "fuel_system": r"fuel (?:tank|system|pump)",
    "transmission": r"transmission|gear ?box|trans|tranny|(?:three|four|five|six|3|4|5|6)[- ]speed|"
    r"drive ?train|power ?train",
    "transfer_case": r"transfer case",
    "front_axle": r"front axle|crossmember",
    "rear_axle": r"(?:rear )?axle|rear end|differential|diff",
    "suspension": r"suspension",
    "steering": r"steering",
    "front_brakes": r"(?:front )?brakes",
    "rear_brakes": r"(?:rear )?brakes",
    "wheels": r"wheels|rims|hub ?caps",
    "dash": r"dash(?:board)?|gauges|instruments|radio",
    "interior_trim": r"interior|seats?|upholstery|trim|leather|vinyl|carpets?|headliner",
    "top": r"(?:soft|convertible|folding) top",
    "glass": r"glass|windshield|windows",
    "badges": r"badges?|emblems?|scripts?",
}
SUBJECTS: dict[str, re.Pattern[str]] = {code: re.compile(rf"\b(?:{said})\b") for code, said in PART_WORDS.items()}
_ANY_PART = "|".join(PART_WORDS.values())
_NOT_A_PART = (
    r"owners?|invoices?|titles?|papers?|paperwork|manuals?|window stickers?|build sheets?|bills?|books?|keys?|"
    r"receipts?|literature|brochures?|jack|tools?|equipment list|miles|mileage|famil(?:y|ies)|documents?|photos?"
)

# Each is a claim that what is there is what the factory put there; "kept" ones hold a denial of their own.
ORIGINAL = re.compile(
    rf"\b(?:right|correct|proper) numbers\b|"
    rf"\bnumbers?[- ]*(?:all |do |are |still )?(?:match\w*|agree\w*|correspond\w*)"
    rf"|\bmatch\w*[- ](?:its |all |the |each )?(?:numbers?|engine|motor|block|power ?plant)\b|\bmatching\b"
    rf"|\b(?:stamps?|stampings?|vin|serials?|castings?)\b[^,;]{{0,40}}\b(?:match\w*|agree\w*|correspond\w*)"
    rf"|\bborn[- ](?:with|in|as)\b|\bbirth\w*\b"
    rf"|\b(?:left|leave|rolled|came|come|drove|emerged|shipped)\b[^,;]{{0,20}}\b(?:factory|plant|line|works"
    rf"|showroom)\b"
    rf"|\b(?:came|come|rolled|arrived|went)\b (?:out|into the world|new|originally|off|home new) with\b"
    rf"|\b(?:built|assembled)(?: new| originally)? with\b"
    rf"|\b(?:delivered|fitted|shipped|equipped|sold|supplied) (?:new|originally) with\b"
    rf"|\bfactory(?:['’]s)? (?:\w+ ){{0,2}}?(?:{_ANY_PART})\b"
    rf"|\bfactory[- ](?:original|fitted|installed|correct|built|put|gave|bolted|dropped|issued?)\b"
    rf"|\bfrom the factory\b"
    rf"|\boriginal(?:ly|ity)?\b(?! (?:{_NOT_A_PART})\b)"
    rf"|\b(?:since|from|as) (?:it was )?(?:new|day one|the day it)\b|\bas delivered\b"
    rf"|\b(?:correct|genuine|authentic|untouched|unmolested|bona fide|real|oem|own|very|same) (?:\w+ )?"
    rf"(?:{_ANY_PART})\b"
    rf"|\b(?:first|only|one and only) (?:\w+ )?(?:{_ANY_PART}) (?:it|this|she|ever|that)\b"
    rf"|\b(?:retains?|retaining|kept|keeps) (?:its|the|this) (?:\w+ ){{0,2}}?(?:{_ANY_PART})\b"
    rf"|\btogether (?:since|from)\b|\bwith (?:it|the (?:car|vehicle|truck)) (?:since|from|all)\b"
)  # fmt: skip
_SAME = (
    r"same (?:one|engine|motor|block|unit|v-?\d+|power ?plant|gear ?box|transmission)|its (?:first|own)|always been|"
    r"the one (?:it|the|that|this|she|listed|from|named)|(?:since|from|when) new|day one|"
    r"(?:all|whole|entire|throughout) (?:of )?its life|as built(?!:)|untouched|unmolested|undisturbed|"
    r"dat(?:e|ed)[- ]?cod\w+|code[- ]correct|correct[- ](?:code|date|number|type)\w*|(?:that|which"
    r"|it) came with|factory|"
    r"(?:at|by|in) the works|still (?:has|wears|carries|holds|houses|sports|there|in place|powered|in it|with it|"
    r"(?:runs|on|driven by) (?:the|its))|no (?:replacement|later|swapped|crate|substitute|other) |lifelong"
    r"|one and only|"
    r"not an? (?:replacement|swap|substitute|crate|later)|(?:stayed|remained|remains) (?:with|in)|never (?:had"
    r"|been|lost|left)"
    r"[^,;]{0,20}\b(?:pulled|out|replaced|swapped|changed|another|exchanged)|nothing but|no one has ever"
    r"|nobody has ever|never left|belongs to|right for (?:the|this|its)|"
    r"not a transplant|[^,;]{0,20}\b(?:is|ties|tie|belongs|corresponds) (?:to )?the (?:chassis|title|plate|vin)"
)
SAME = re.compile(rf"\b(?:{_SAME}|only ever had|right stamp|it was sold with)")
"""Of engine and transmission alone, for which words of lasting and sameness are claims too."""

GONE = re.compile(
    r"\b(?:was|were|is|are|has been|have been|had been) (?:long )?"
    r"(?:replaced|swapped|exchanged|removed|changed|lost|gone|missing|sold|destroyed|scrapped)\b"
)

KEPT = re.compile(
    r"\b(?:never|not|has ?n[o']t|hasn't|without ever)\b (?:once |ever )?(?:been |had |having been )?"
    r"(?:apart|parted|separated|away|out|removed|replaced|swapped|changed|lost|disturbed|divorced|another"
    r"|any other)\b"
    r"|\bnever (?:had|known|seen|carried) (?:another|any other|a different)\b"
    r"|\balways (?:had|worn|carried|run)\b"
)
WHOLE = re.compile(
    r"\b(?:all|completely|entirely|fully|totally|wholly|100 ?%|bone|very|highly)[- ]original\b"
    r"|\boriginal (?:throughout|condition|survivor|example|car|vehicle|truck|all over)\b"
    r"|\b(?:it|car|vehicle|truck) (?:is|remains|stands) (?:untouched|unrestored|original)\b"
)
NUMBERS = re.compile(r"\bnumbers?\b|\bstamp|\bvin\b|\bserials?\b|\bmatching\b")
AS_BUILT = re.compile(
    r"\b(?:it|car|vehicle|truck|one) (?:was |were )?(?:built|delivered|fitted|equipped|supplied|shipped|"
    r"left the factory) (?:new )?with (?:an?|\d)\b"
)
DENIED = re.compile(
    r"\b(?:not|isn't|aren't|wasn't|no longer|non|neither|nor|never|without|far from|less than|short of|"
    r"lacks?|lost)\b(?! only)(?:[ -]\w+){0,4}[ -]*$"
)

RUST = re.compile(
    r"\b(?:rust|rot|corrosion)[- ]?(?:free|less|proof)\b|\bnever (?:\w+ )?rusted\b"
    r"|\b(?:no|zero|without|free (?:of|from)|not an?|never (?:had|seen|any)|nil|devoid of|hasn't|has not"
    r"|does not have"
    r"|doesn't have)\b(?: \w+){0,4} (?:rust|rot|corrosion)\b"
)
HIT = re.compile(
    r"\b(?:accident|collision|crash|damage|dent)[- ]?free\b"
    r"|\b(?:no|zero|without|free (?:of|from)|never (?:had|seen))\b(?: \w+){0,5} "
    r"(?:accidents?|collisions?|crash(?:es)?|damage|dents?|wrecks?)\b"
    r"|\b(?:never|not|hasn't|not ever) (?:ever )?(?:been )?(?:hit|wrecked|crashed|struck|dented|damaged|bent|"
    r"rear-ended|in an? (?:accident|wreck|crash|collision))\b|\b(?:dead|arrow)[- ]straight\b"
    r"|\b(?:no|zero|without|free of|never any)\b(?: \w+)? (?:filler|bondo|putty)\b|\bfiller[- ]free\b"
    r"|\bstraight as an arrow\b"
)
PRAISE = re.compile(
    r"\bperfect(?:ly|ion)?\b(?! for\b)|\bflawless(?:ly)?\b|\bmint\b|\bimmaculate\w*|\bpristine\b|\bspotless\b"
    r"|\bfaultless\w*|\bimpeccabl\w+|\bconcours\b|\bunblemished\b|\b(?:like|as|better than|showroom)[- ]new\b"
    r"|\bfires right up\b|\bpurrs\b"
    r"|\bshowroom\b"
    r"|\b(?:needs?|wants?|requires?) (?:absolutely |for )?(?:nothing|no (?:work|repairs?|attention))\b"
    r"|\bnothing (?:\w+ )?(?:needed|to do|wrong|left to do)\b|\bturn[- ]?key\b"
    r"|\b(?:no|zero|without|free (?:of|from))\b(?: \w+)? "
    r"(?:issues?|problems?|faults?|flaws?|defects?|leaks?|excuses|stories|wear)\b"
    r"|\b(?:100|hundred|one hundred) ?(?:%|percent)|\bbest (?:in|of|you|example|one)\b|\bexcellent\b"
    r"|\bsuperlative\b|\bsuperb\b"
    r"|\b(?:runs?|drives?|starts?|shifts?|stops?|idles?|handles?) (?:and drives )?"
    r"(?:like|great|beautifully|strong|strongly|superbly|wonderfully|as it should|every time)\b"
    r"|\b(?:rock[- ]solid|solid (?:as|throughout|body|floors|frame)|(?:structurally|mechanically) sound)\b"
    r"|\beat off\b"
    r"|\b(?:outstanding|stunning|top[- ]notch|first[- ](?:rate|class)|top of the line|show[- ](?:quality"
    r"|winning|ready)|"
    r"museum|second to none|ten out of ten)\b|\bno[- ]expense|\b(?:every|each) \w+ works\b|\ball \w+ work\b"
    r"|\b(?:everything|all) works?\b|\bfully functional\b|\b(?:roadworthy|bulletproof|trouble[- ]free|reliable"
    r"|safe)\b"
    r"|\bguarantee\w*|\bdrive it (?:anywhere|home|across)\b|\bready for anything\b|\bnever (?:leaks?|fails?"
    r"|breaks?)\b"
    r"|\bdo(?:es)? ?n[o']t (?:leak|burn|smoke)\b"
)
SCOPED = re.compile(r"\bno (?:faults?|rust|damage|leaks?) (?:was|were) (?:found|seen) (?:when|where|at|in)\b")

DEGREE = re.compile(
    r"\b(?:fully|completely|totally|professionally|frame[- ]off|body[- ]off|rotisserie|ground[- ]up"
    r"|nut[- ]and[- ]bolt|"
    r"concours)\b[- \w]{0,14}\brestor\w+"
)
RESTORED = re.compile(
    r"\brestor(?:ed|ation)\b|\b(?:re-?built|overhauled|re-?painted|re-?sprayed|re-?upholstered|re-?chromed|re-?wired|"
    r"re-?trimmed|refurbished|renewed)\b"
)
NOT_RESTORED = re.compile(
    r"\bclassed by us as restored\b|\b(?:rebuilt|branded rebuilt)(?: title)?$|\brebuilt title\b|\bbranded\b"
    r"|\b(?:needs?|to be|wants?|for|awaiting|before) (?:\w+ )?(?:re-?built|restor\w+|re-?painted)|\bunrestored\b"
    r"|\brestoration (?:project|cost|shop)\b|\bcan be (?:restored|rebuilt)\b"
)
COST = re.compile(
    r"(?:\$ ?\d|\bdollars\b|\bthousands\b).{0,40}\b(?:spent|invested|receipts|invoices|work|restoration|parts|cost)\b"
    r"|\b(?:spent|invested|cost|restoration of)\b.{0,30}(?:\$ ?\d|\bdollars\b|\bthousands\b)|\bno expense\b"
)
TITLE = re.compile(
    r"\b(?:clean|clear|unbranded|good)\b(?: \w+)? title\b|\btitle (?:is|in hand is) (?:clean|clear)\b"
    r"|\bfree and clear\b"
    r"|\b(?:no|without) (?:liens?|brands?)\b|\blien[- ]free\b"
)
MILES_TRUE = re.compile(
    r"\b(?:original|actual|true|genuine|real|documented|verified|correct|proven) (?:miles|mileage)\b"
    r"|\blow[- ](?:miles?|mileage)\b|\b(?:mileage is|miles are) (?:believed|true|real|actual|genuine|correct"
    r"|original|right)\b"
    r"|\b(?:just|only|barely|under|fewer than|less than|a mere|covered|driven|done|with) \d[\d,]*k? ?"
    r"(?:original |actual |true |genuine )?miles\b"
)
MILES = re.compile(r"\b(\d[\d,]*)(k?) ?(?:\w+ )?miles\b")
ODOMETER = re.compile(r"\bodometer\b|\breading\b|\bshows\b|\breads\b")
PEDIGREE = re.compile(
    r"\b(?:one|single|1|two|2|three|3|four|first|second|third|original|only|sole|same|lifelong|lady|elderly)[- ]"
    r"(?:previous |family |careful )?(?:owners?|ownership|famil(?:y|ies))\b|\bowners? (?:from|since) new\b"
    r"|\b(?:same|one) (?:hands|person)\b|\b(?:owned|belonged|raced|driven|commissioned) (?:to|by)\b|\bex-[a-z]"
    r"|\bcelebrity\b|\bfamous\b|\bprovenance\b|\bpedigree\b"
    r"|\b(?:race|racing|documented|known|complete|unbroken) history\b"
    r"|\brare(?:st)?\b|\bone of (?:\d|(?:only|just) \w|a (?:few|handful)|very few|fewer|few|the (?:last|few))"
    r"|\bonly \d+ (?:were |was )?(?:built|made|known|left|produced)\b|\bbarn find\b|\bspent its life\b"
    r"|\b(?:garage|always)[- ](?:kept|garaged|stored|loved|maintained)\b|\bnever seen (?:rain|snow|salt"
    r"|winter)\b|\blast of (?:its|the)\b"
)
STOCK = re.compile(
    r"\b(?:bone|box|all|completely|totally|fully|100 ?%) ?-?stock\b|\b(?:is|remains|still) stock\b(?! number)"
    r"|\bun(?:modified|altered|restored|touched)\b|\bnever (?:been )?restored\b|\bno (?:modifications?"
    r"|changes)\b|\bnothing (?:has been|was) (?:altered|changed|modified)\b"
    r"|\bnever (?:been )?(?:modified|altered|cut|tampered)\b"
)

UNKNOWN = re.compile(
    r"\b(?:not|never|n't) (?:yet )?(?:been )?(?:established|verified|known|confirmed|proven)\b"
    r"|\bnot seen\b(?= *[:.,]|$)"
    r"|\bun(?:known|verified|proven)\b"
    r"|\bnobody (?:knows|has verified)\b|\bwe (?:do not|don't|cannot|can't|could not|did not) "
    r"(?:know|say|tell|verify|confirm|look)\b|\bno (?:proof|evidence)\b|\bwhether\b|\bquestions? (?:is|are) open\b"
)  # fmt: skip
ATTRIBUTED = re.compile(
    r"\b(?:owner|consignor|seller)s? (?:also )?(?:reports?|reported|says?|said|states?|stated|tells?|told|believes?|"
    r"recalls?|remembers?|writes?)\b|\baccording to (?:the|its|our) (?:\w+ )?(?:owner|consignor|seller)\b"
    r"|\breportedly\b"
    r"|\bwe (?:were|are|have been) told\b|\bby the owner's (?:word|account)\b|\bsaid by the (?:owner|consignor)\b"
)
ON_PAPER = re.compile(
    r"\b(?:per|according to|by) (?:the|its|an?) (?:\w+ )?(?:papers?|plates?|invoices?|titles?|build sheets?|records?|"
    r"receipts?|trim tag)\b|\bdocumented\b|\b(?:papers?|invoices?|records|receipts|build sheet|title|plate)s? "
    r"(?:shows?|says?|lists?|states?|records?|proves?|confirms?|gives?)\b|\bon paper\b"
)
BELIEVED = re.compile(
    r"\bbeliev\w+|\bthought to\b|\bmay\b|\bmight\b|\bpossibly\b|\bprobably\b|\bappears?\b|\bseems?\b|\blikely\b"
    r"|\bpresum\w+|\bsupposed\w*\b|\bas far as we (?:know|can tell)\b|\bwe think\b|\bperhaps\b|\bcould be\b"
)

RUST_WORDS = re.compile(r"\brust|rot\b|rotten|floors|rocker|frame|rails", re.IGNORECASE)
HIT_WORDS = re.compile(r"\bold hits|sighted|creases|paint|frame|rails|gaps|stance", re.IGNORECASE)
