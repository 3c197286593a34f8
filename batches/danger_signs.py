"""What in a complaint may have to be reported to an authority: its kind, a fire beyond it, words in what was told.

Plain Python. The words are those of US and British English, by their stems, and rather too many than too few: a match
says that something may have to be reported, no match says nothing. What has to be reported is for the authority.
"""

import re

KINDS = {
    "injury": "somebody was hurt",
    "glass": "a cracked or broken vessel",
}
FIRE = "something else caught fire, or nearly did"

# Whose body, and what of it; what in a home burns or is marked.
WHOSE = r"(?:my|his|her|our|their|your|its|the|a|an|one's|\w+'s)"
PEOPLE = (
    r"(?:me|him|us|them|myself|himself|herself|ourselves|themselves|yourself|people|person|somebody|someone"
    r"|guests?|(?:grand)?(?:son|daughter|child|children|mother|father|ma|pa)|kids?|bab(?:y|ies)|toddler|boy|girl"
    r"|m[ua]m|dad|wife|husband|partner|friend|sister|brother|neighbou?r|man|woman|dog|cat|pets?)"
)
BODY = (
    r"(?:hands?|fingers?|thumbs?|fingertips?|palms?|wrists?|arms?|forearms?|legs?|foot|feet|toes?|skin|face|eyes?"
    r"|lips?|mouth|hair|eyebrows?|eyelashes|neck|chest|knees?|body)"
)
HOME = (
    r"(?:table(?:top|cloth)?|desk|shel(?:f|ves)|counter(?:top)?|worktop|sideboard|dresser|cabinet|cupboard"
    r"|mantel\w*|window ?sill|sill|curtains?|drapes?|blinds?|carpet|rug|floor(?:ing)?|walls?|ceiling|sofa|couch"
    r"|chair|bed(?:ding)?|cushion|furniture|tray|mat|coaster|cloth|napkin|towel|paper|wreath|decorations?|wood"
    r"|veneer|tiles?|hob|stove|holes?|kitchen|room|house|home|flat|apartment|sleeve|shirt|clothes|jumper|sweater"
    r"|label|lid)"
)
FEW = r"(?:\W+[\w']+){0,3}\W+"  # a few words between
BURN = r"burn(?:s|t|ed|ing)?"

FIRES = (
    r"fire (?:alarm|brigade|department|service|truck|engine|extinguisher)",
    r"fire-?(?:ball|fighter|m[ae]n)\w*|fires?\b",
    r"(?:catch\w*|caught|set)(?: \w+)? (?:fire|light|alight)|alight\b|ablaze|blaz(?:e|es|ed|ing)\b|inferno",
    r"(?:(?:burst|went up|shot) in(?:to)? |in )?flames\b|flar(?:e|es|ed|ing)\b|ignit(?:ed|es|ing|ion)\b",
    r"(?:high|huge|tall|big|large|giant|enormous|massive)(?:er|est)? flame",
    r"flames?\b(?:\W+[\w']+){0,6}?\W+as (?:tall|high|big|long) as\b",
    r"(?:would|did|could) ?(?:not|n[o']t) (?:go|blow|put it|put the flame) out\b|won'?t (?:go|blow) out\b",
    r"scorch\w*|sing(?:ed|eing)\b|charr(?:ed|ing)|burn(?:t|ed)? ?marks?|smou?lder\w*|spark(?:s|ed|ing)\b",
)
INJURIES = (
    r"injur\w*|hurt(?:s|ing)?\b|wound(?:s|ed|ing)?\b|bleed\w*|bled\b|blood\w*|stitch(?:es|ed)?\b|scar(?:s|red)?\b",
    r"scald\w*|blister\w*|(?:first|second|third|1st|2nd|3rd)[- ]degree",
    rf"{BURN}\b{FEW}?(?:{BODY}|{PEOPLE})\b",
    rf"(?:{BODY}|{PEOPLE})\W+(?:was|were|is|are|got|gets|has been|have been)\W+(?:\w+\W+)?(?:burn(?:t|ed)|cut)\b",
    r"(?:a|the|bad|nasty|severe|serious|small|minor) burns?\W+(?:on|to)\b",
    r"(?:got|getting|gets|suffered|badly|slightly|severely) burn(?:ed|t|s)\b",
    rf"(?:cut|cuts|cutting|sliced|slashed)\b{FEW}?(?:{BODY}|{PEOPLE})\b|lacerat\w*|gash(?:es|ed)?\b",
    r"(?:a|got|was|were|been) (?:deep |nasty |bad |small )?cuts?\b",
    r"(?:to|in|at|the) ER\b|vet(?:erinar\w*|s)?\b",
    r"hospital\w*|ambulance|paramedic\w*|emergency (?:room|department|services?)|urgent care|A ?& ?E\b",
    r"doctors?\b|physician|nurse\b|clinic\b|medical\w*|first aid|poison\w*|toxic\w*",
    r"unconscious\w*|pass(?:ed|ing) out|faint(?:ed|ing)\b|collaps\w*|dizz\w+|nause\w+|vomit\w*",
    r"thr[eo]w(?:ing)? up|(?:felt|feel|feeling|got|made|makes|was|being) (?:\w+ ){0,2}(?:sick|ill)\b",
    r"(?:could ?n[o']t|can'?t|cannot|could not|hard to|unable to|trouble|difficulty|struggl\w+)(?: to)? breath\w*",
    r"breath(?:ing|e)? (?:\w+ )?(?:trouble|problems?|difficult\w*|issues?)",
    r"short(?:ness)? of breath|asthma\w*|chok(?:e|ed|es|ing)\b|cough\w*|wheez\w*|carbon monoxide|suffocat\w*",
    r"allerg\w*|rash(?:es)?\b|hives\b|swollen|swelling|headaches?\b|migraines?\b",
    r"(?:eyes?|throat|skin|nose)\W+(?:\w+\W+){0,2}(?:sting|stung|stinging|burn\w*|irritat\w*|itch\w*|swell\w*)\b",
    rf"killed|fatal\w*|deaths?\b|deceased|passed away|{PEOPLE}(?: has| have| had| \w+ \w+ and| \w+ and)? (?:died|dead)\b",
)
VESSELS = (
    r"crack(?:s|ed|ing)?\b|shatter\w*|explo(?:d|s)\w*|burst\w*|smash\w*|split(?:s|ting)?\b|splinter\w*|shards?\b",
    r"broke\b|broken\b|breaks?\b|breaking\b|breakage|chipp(?:ed|ing)|leak\w*|(?:in|into) (?:\w+ )?pieces",
    r"(?:fell|falls?|came|come|comes) (?:apart|to pieces)|tipp(?:ed|ing) over|fell over|knocked over",
)
HEAT = (
    r"(?:hot|molten|liquid|boiling|burning|melted) wax",
    rf"wax\b{FEW}?(?:spill\w*|spilt|overflow\w*|splash\w*|spl?atter\w*|spat|spit\w*|spray\w*|boil\w*|everywhere"
    r"|all over|(?:ran|run|runs|running|came|poured|pouring|flowed|flowing) (?:out|over|across|down|on))",
    r"(?:spill\w*|spilt|overflow\w*|splash\w*|spl?atter\w*|spat|boil\w*)(?:\W+[\w']+){0,4}\W+wax",
    r"too hot\b|(?:so|very|extremely|really|dangerously|red|glowing) hot\b|over-?heat\w*|hot to (?:touch|hold)",
    rf"{BURN}\W+(?:(?:{WHOSE}|into|through|straight|right|down)\W+)+(?:\w+\W+)?{HOME}\b",
    rf"(?:melt|damag|ruin|mark|stain)(?:s|es|d|ed|ing)?\W+{WHOSE}\W+(?:\w+\W+)?{HOME}\b",
    r"hazard\w*|danger\w*|unsafe|not safe",
)
SMOKE = (
    rf"smoke\w*{FEW}?(?:fill\w*|room|house|home|hall\w*|flat|apartment|kitchen|everywhere|alarm|detector)\b",
    r"(?:fill\w*|full|clouds?|plumes?|room)\b(?:\W+[\w']+){0,4}?\W+(?:smoke|soot|fumes)",
    r"(?:thick|black|dense|heavy|acrid|choking|billowing) (?:\w+ )?(?:smoke|fumes|soot)",
    r"smoke (?:alarm|detector)\w*|fumes\b|billow\w*",
)
WORDS = tuple(
    re.compile(rf"\b(?:{pattern})", re.IGNORECASE) for pattern in (*FIRES, *INJURIES, *VESSELS, *HEAT, *SMOKE)
)
SHOWN = 6


def dangerous_words(told: str) -> tuple[str, ...]:
    """Words in what was told that may mean danger, as they were written, each once, in their order; at most `SHOWN`."""
    # A typographic apostrophe is an apostrophe, and a line's end a space.
    text = re.sub(r"\s+", " ", told.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'"))
    spans = sorted(match.span() for pattern in WORDS for match in pattern.finditer(text))
    found: list[tuple[int, int]] = []
    for begin, end in spans:
        if found and begin < found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((begin, end))
    words: dict[str, str] = {}
    for begin, end in found:
        words.setdefault(text[begin:end].casefold(), text[begin:end])
    return tuple(words.values())[:SHOWN]


def signs_of_danger(kind: str, *, fire: bool, told: str) -> tuple[str, ...]:
    """Why a complaint may have to be reported, each reason in words; empty where nothing points to it.

    Empty does not say that nothing has to be reported.
    """
    said = [KINDS[kind]] if kind in KINDS else []
    if fire:
        said.append(FIRE)
    words = dangerous_words(told)
    if words:
        said.append("the words " + ", ".join(f"“{word}”" for word in words))
    return tuple(said)
