"""What the voices say: every answer of the shipped routes, words that compete with them, and other English.

    python models/training/texts.py OUT.json          (from the checkout's folder; needs espeak-ng)

Kept out on purpose: the benchmark's strange speech and its new near words, so that what it measures stays unknown to
the model.
"""

from __future__ import annotations

import argparse
import itertools
import json
import random
import re
import subprocess
import sys
from itertools import product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.hearing.near import NEW
from tests.benchmarks.hearing.questions import shipped
from tests.benchmarks.hearing.trials import STRANGE
from voice.hear.decoys import NEAR as RIVALS
from voice.hear.decoys import WORDS
from voice.route.library import load_library

# How often a text of each group is said, as a share of all.
SHARES = {
    "plain": 0.20, "ok": 0.20, "number": 0.20, "pair": 0.04, "part": 0.11, "near": 0.13, "word": 0.06, "sentence": 0.06,
}  # fmt: skip

# To the ear near "okay", "looks good", "all good", "fine", "yes", "done" and "no", and none of them.
NEAR = """
cocaine, o'clock, okapi, oh kate, oak tree, oaken, oh kelly, hokey, hokey pokey, karaoke, poker, broken key,
oh keep it, ok corral, oh can they, oh come, oh could, okie, oak hay, old k, oh gray, oh day, low key,
okey dokey, croquet, bouquet, toupee, cafe, away, decay, echo, echoes, ego, oboe, elbow, opaque, occasion,
oh great, oh kitty, ochre, soak it, choke it, looks wood, looks good to whom, looks wet, looks odd, books good,
cooks food, look at it, looks could, luck is good, lots good, all could, all wood, all food, hall of wood,
tall hood, old good, oil could, all the good, call good, fall good, small good, find, fine print, line, shine,
pine, vine, five, fight, fire, mine, nine of them, sign, whine, fined, finally, yet, yell, guess, chess, less,
yes man, yesterday, guest, jazz, yeast, yam, yard, year, chest, mess, dress, press, dumb, dun, down, dawn, dust,
ton, gun, fun, sun, run, one done, undone, don, dunk, donkey, tongue, doll, know, note, nose, known, nor, node,
snow, now or later, mow, low, row, toe, bow, new, nob, knock, north, nope he said, defect he said, detect,
deflect, effect, the effect, defend, reflect, perfect, infect, deaf, the fact, effective, debt, lemming, leaning,
leading, leaving, licking, weaving, peeking, reading, creaking, track, wracked, rack, correct, kraken, worm,
warn, wore, war, were on, burn, mist, fist, list, lose, loop, loaf, loot, bent out, sent, dense, end, vent, tent,
stop it there, stomp, top, step, stock, shop, strap on, skit, ship, skid, kip, pants, paws, pots, posse, cause,
goof, goose, gold, god, gourd, guild, goodie, gooey, hoods, foods, look, took, cook, book, shook, foot, wooden, looks,
looked, looking, lugs good, fines, final, fire, fried, hind, kind, mind, rind, dine, wind, fin, phone, foam, checks,
cheek, chick, wreck, tech, peck, heck, chip, chop, clears, clearing, cleat, queer, sheer, near, fear, tear, clerk,
cloud, clue, class, claw, clip, all near, all fear, all here, oil leak, old car, all cold, all gold, all could be,
all go, all goods, call clear, ball gear, not here, no gold, not cold, tide, type, tie, titan, bite, sight, dried,
drive, cry, drink, mountain, mouth, count it, bold, vaulted, bolt it, clean it, cleaner, lean, keen, flood, flag,
help me out, kelp, heap, half, hell, repeal, repeater, reheat, receipt, retreat, explode, express, complain,
plain, go bag, go pack, comeback, hundred, thunder, wonder, forty winks, fort, thirsty, thirst, dirty,
twenty one guns, tent e, plenty, fifteenth floor, sixth
""".replace("\n", " ")

OTHER = """
backward bed bird cat dog down follow forward go happy house learn left marvin off on right sheila tree up
visual wow apple orange lemon river castle pencil paper garden summer winter monday tuesday friday sunday
morning evening coffee sugar bottle kitchen table chair doctor lawyer teacher student school college supper
dinner breakfast family brother sister uncle cousin puppy horse rabbit turtle chicken tiger lion camera picture
movie music guitar piano violin concert theater ticket airport station subway taxi bicycle motor pedal driver
passenger traffic corner street avenue bridge tunnel highway parking garage office building stairs hallway
basement ceiling carpet blanket pillow bedroom bathroom shower faucet towel soap comb brush dentist pharmacy
hospital nurse medicine bandage fever headache stomach shoulder finger ankle holiday birthday saturday yesterday
tomorrow activated cancelled account address afternoon airplane animal answer april august balloon basket
battery beach because before behind believe between blanket bottom bread business butterfly button candle
captain carrot center chapter cheese children circle clothes cloudy copper country cowboy cracker crayon current
curtain customer danger december decide different dollar double dragon eagle early earth eighty eleven engine
enough evening exactly explain february fifth finish flower football forest fourth freedom friend furniture
galaxy gasoline giant glasses gravel hammer hardware harvest heavy helmet history hundred hurry island january
jacket journey july june keyboard ladder language laughing leather letter library listen little lumber machine
magazine manager march market marvel measure message middle minute mirror money monkey moment motion muscle
napkin narrow nature needle nickel nobody nothing notice november number ocean oatmeal october officer onion
package painter parade partner party peanut people pepper phone pizza planet plastic pocket police potato powder
pressure promise purple quality question quiet radio railroad rainbow reason recipe record reply report return
ribbon rocket runner safety salad sandwich scissor season second secret september service shadow shovel silver
simple single sister sixteen sleepy soldier spider spring square station sticker storm story strong sudden
sunset system teacher temper thirty thousand thunder today together tomato tonight towel tractor travel trouble
trumpet turkey twelve umbrella under valley vegetable village vinegar visitor volume wagon wallet warning
washing welder welcome whisper window wonder yellow zebra
"""
SAID_BY_PEOPLE = ("computer", "smart mirror", "view glass")  # in recordings of many people (recorded.py)

_WHO = (
    "the dog|my brother|that guy|the boss|our neighbor|a customer|the mechanic|somebody|this road|"
    "your sister|the manager|the new kid|her car|his phone|the store|the office|a friend of mine|"
    "the driver|everybody|the company|my uncle|the train"
)
_DOES = (
    "is waiting outside|wants a coffee|left early|called again|looks tired|was late yesterday|"
    "needs a ride|went to the bank|forgot the keys|talks too loud|broke down again|will be back soon|"
    "lives near the lake|bought a new house|is on the phone|sounds funny|never answers|parked over there|"
    "is doing fine|has no time|ran out of gas|said okay to that|said no|is done now"
)
_ACTS = (
    "I checked|I looked at|we replaced|they inspected|he cleaned|she tightened|you should check|do not touch|look under"
)
_THING = (
    "the brake hose|the left tire|the alternator|the water pump|the battery box|the fuel tank|the mirror|"
    "the rear axle|the air compressor|the spring hanger|the steering box|the trailer doors|the mud flaps|"
    "the lights|the slack adjuster"
)
_HOW = (
    "|for leaks|for cracks|and it is secure|this morning|twice|before the trip|and nothing is broken|"
    "with the light on|again"
)
_SAID = """where did you put it|can you hear me now|what did she say|how long will it take|do you want some lunch
I don't think so|that's a good idea|see you later|thank you very much|just a minute please|let me think about it
you have to be kidding|it's getting cold outside|did they win last night|move it over here|grab the other end
hold my drink|give me the phone|turn that off|close the window|open the door|I'm going home|get in the car
what's for dinner|not my problem|good morning everybody|no way|oh really|come on|hey there|you too|me neither
same here|who was that|what happened|nothing much|never mind|over here|right there|all the time
one of these days|two of them went home|three more to go|four or five people|at six o'clock|about ten miles
twenty bucks|forty years ago|a hundred times|half past nine|quarter to three|okay see you|okay then bye
yes I know him|no he didn't|I said no to him|done with that guy|we're done here|that one's mine
leaking everywhere you know|it was broken before|cracked me up|good for you|fine by me|looks like a good day
all good things|is it okay with you|not bad at all|stop talking to me|go back home|help your mother
he's okay now|she looks good in red|it looks good on paper|the defects were fixed|nobody said okay
repeat that song|skip the first part|wait for the green light|what a mess|where is everyone|I have no idea
maybe next week|let's get some food|that was close|any news from him|the bridge is closed|they open at seven
my back hurts|watch the kids|she drove all night|bring the big hammer|keep to the right|the boat is leaking
my screen is cracked|the lights are on|his arm is broken|we ran out of bread|pause the movie
the wheel of fortune"""


def groups() -> dict[str, list[str]]:
    """Texts by the groups of SHARES, no text twice: spoken words, lower case but for "I", no marks."""
    meant = {phrase.text: phrase.meaning.kind for question in shipped().values() for phrase in question.phrases}
    taken = set(meant) | set(STRANGE)
    taken |= set(NEW)
    numbers = sorted(text for text, kind in meant.items() if kind in ("number", "either"))
    found = {
        "plain": sorted(text for text, kind in meant.items() if kind not in ("number", "either", "part")),
        "ok": sorted(t for t, kind in meant.items() if kind in ("ok", "not-applicable", "yes", "no", "done", "defect")),
        "number": numbers,
        "part": sorted(text for text, kind in meant.items() if kind == "part"),
        "pair": _pairs(numbers),
    }
    found["ok"] = [text for text in found["ok"] if meant[text] != "defect" or text in ("defect", "problem", "bad")]
    more = {
        "near": (*(one.strip() for one in NEAR.split(",")), *itertools.chain(*RIVALS.values())),
        "word": (*WORDS, *OTHER.split(), *SAID_BY_PEOPLE),
        "sentence": _sentences(),
    }
    for name, texts in more.items():
        found[name] = sorted({text for text in texts if text and text not in taken})
        taken |= set(found[name])
    return found


def _pairs(numbers: list[str]) -> list[str]:
    """Two readings in one breath."""
    draw = random.Random(6)
    short = [text for text in numbers if len(text.split()) <= 4]
    return sorted({f"{draw.choice(short)} and {draw.choice(short)}" for _ in range(500)})


def _sentences() -> list[str]:
    draw = random.Random(5)
    every = [f"{who} {does}" for who, does in product(_WHO.split("|"), _DOES.split("|"))]
    every += [
        f"{acts} {thing} {how}".strip() for acts, thing, how in product(*(p.split("|") for p in (_ACTS, _THING, _HOW)))
    ]
    said = [text for line in _SAID.splitlines() for text in line.split("|")]
    return [*said, *draw.sample(every, 700), *_prompts()]


def _prompts() -> list[str]:
    """Short sentences of the routes, without marks."""
    found = []
    for item in load_library().items.values():
        for text in (item.say.normal, item.say.full):
            for sentence in re.split(r"[.?!;:,]\s*", text.replace("\n", " ")):
                if 2 <= len(sentence.split()) <= 8 and re.fullmatch(r"[A-Za-z' ]+", sentence):
                    found.append(sentence[0].lower() + sentence[1:])
    return found


# espeak's signs -> the synthesizer's (misaki's table for English).
_SIGNS = (
    ("ʔˌn\u0329", "tᵊn"), ("ʔn\u0329", "tᵊn"), ("a^ɪ", "I"), ("a^ʊ", "W"), ("d^ʒ", "ʤ"), ("e^ɪ", "A"), ("t^ʃ", "ʧ"),
    ("ɔ^ɪ", "Y"), ("ə^l", "ᵊl"), ("ʲo", "jo"), ("ʲə", "jə"), ("ʲ", ""), ("ɚ", "əɹ"), ("r", "ɹ"), ("x", "k"), ("ç", "k"),
    ("ɐ", "ə"), ("ɬ", "l"), ("\u0303", ""),
)  # fmt: skip
_BRITISH = (("e^ə", "ɛː"), ("iə", "ɪə"), ("ə^ʊ", "Q"))
_AMERICAN = (("o^ʊ", "O"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"), ("ɪə", "iə"), ("ː", ""))


def spelled(text: str) -> str:
    """As a synthesizer has to be told it."""
    return text.replace("psi", "P S I")


def sounds(texts: list[str], voice: str) -> list[str]:
    """Of each text, in the synthesizer's signs. voice: espeak-ng's "en-us" or "en-gb"."""
    found = []
    for at in range(0, len(texts), 100):
        some = texts[at : at + 100]
        lines = _espeak(some, voice)
        found += lines if len(lines) == len(some) else [" ".join(_espeak([text], voice)) for text in some]
    for old, new in (*_SIGNS, *(_BRITISH if voice == "en-gb" else _AMERICAN)):
        found = [said.replace(old, new) for said in found]
    return [said.replace("^", "").replace("o", "ɔ") + "." for said in found]


def _espeak(texts: list[str], voice: str) -> list[str]:
    """A line for each, as long as none has a pause inside."""
    order = ["espeak-ng", "-q", "-v", voice, "--ipa", "--tie=^"]
    asked = "\n\n".join(spelled(text) + "." for text in texts)
    said = subprocess.run(order, input=asked, text=True, capture_output=True, check=True).stdout
    return [" ".join(line.split()) for line in said.splitlines() if line.strip()]


def main() -> None:
    parser = argparse.ArgumentParser(description="Writes what the voices say, and how it sounds. Needs espeak-ng.")
    parser.add_argument("out", type=Path, help="texts.json, for speak.py, neural.py and tables.py")
    chosen = parser.parse_args()
    found = groups()
    every = sorted({text for texts in found.values() for text in texts})
    print({name: len(texts) for name, texts in found.items()}, len(every))
    ipa = {voice: dict(zip(every, sounds(every, voice), strict=True)) for voice in ("en-us", "en-gb")}
    chosen.out.write_text(json.dumps({"groups": found, "shares": SHARES, "ipa": ipa}, ensure_ascii=False))


if __name__ == "__main__":
    main()
