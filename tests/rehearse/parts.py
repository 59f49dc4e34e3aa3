"""A small invented stretch of a route for the tests of the pure core (figures of the US model manual, Section 11)."""

from fractions import Fraction

from voice.rehearse.listen.part import PartPoint, Range, RecitedPart
from voice.route.model import Wording


def part(
    item: str,
    names: tuple[str, ...],
    points: dict[str, tuple[str, ...]],
    limits: dict[str, tuple[tuple[str, str, str], ...]] | None = None,
    section: str = "engine",
    role: str = "",
) -> RecitedPart:
    limits = limits or {}
    return RecitedPart(
        key=f"{item}/{role}" if role else item,
        item=item,
        title=names[0].capitalize(),
        names=names,
        section=section,
        role=role,
        say=Wording(
            terse=names[0], normal=f"{names[0]}?", full=f"{names[0]}: {'; '.join(s[0] for s in points.values())}."
        ),
        points=tuple(
            PartPoint(
                id, say, tuple(Range(Fraction(low), Fraction(high), unit) for low, high, unit in limits.get(id, ()))
            )
            for id, say in points.items()
        ),
    )


MOUNTED = ("securely mounted", "mounted and secure", "mounted", "secure")
NO_CRACKS = ("not cracked", "no cracks", "not broken", "not damaged")
NO_LEAKS = ("not leaking", "no leaks", "no drips")

PARTS = (
    part(
        "oil-level",
        ("oil level", "engine oil", "dipstick"),
        {
            "show": ("pull the dipstick", "dipstick", "show where the level is"),
            "range": ("within the safe range", "above the refill mark", "between add and full"),
        },
    ),
    part(
        "coolant",
        ("coolant", "coolant level", "radiator"),
        {"level": ("adequate level", "enough coolant", "sight glass shows enough"), "leak": NO_LEAKS},
    ),
    part(
        "alternator",
        ("alternator",),
        {
            "mounted": MOUNTED,
            "cracks": NO_CRACKS,
            "wires": ("wires tight", "connections tight", "wiring secure"),
            "play": ("half to three quarters inch play",),
        },
        {"play": (("1/2", "3/4", "in"),)},
    ),
    part(
        "water-pump", ("water pump",), {"mounted": MOUNTED, "leak": NO_LEAKS, "drive": ("gear driven", "belt driven")}
    ),
    part(
        "compressor",
        ("air compressor", "compressor"),
        {"mounted": MOUNTED, "leak": ("no air leaks", "not leaking", "no leaks"), "cracks": NO_CRACKS},
    ),
    part(
        "steering-box",
        ("steering gear box", "steering box"),
        {"mounted": MOUNTED, "leak": NO_LEAKS, "bolts": ("no missing nuts or bolts", "no missing cotter pins")},
    ),
    part(
        "hoses",
        ("hoses", "air lines and hoses"),
        {"cracks": ("not cut or chafed", "no cuts", "not worn"), "leak": NO_LEAKS},
    ),
    part(
        "tire-tread",
        ("steer tire", "tire tread", "tread"),
        {
            "depth": ("four thirty seconds",),
            "wear": ("even wear", "evenly worn"),
            "cuts": ("no cuts or bulges", "no cuts", "no damage to the sidewall"),
            "valve": ("valve stem not damaged", "valve cap present", "valve stem cap"),
        },
        {"depth": (("4/32", "4/32", "in"),)},
        section="steer",
        role="steer",
    ),
    part(
        "slack-adjuster",
        ("slack adjuster", "slack adjuster and pushrod"),
        {"parts": ("no broken loose or missing parts", "nothing loose or missing"), "stroke": ("about one inch",)},
        {"stroke": (("1", "1", "in"),)},
        section="steer",
        role="steer",
    ),
    part(
        "drum",
        ("brake drum", "drum"),
        {
            "cracks": ("no cracks dents or holes", "not cracked"),
            "bolts": ("no loose or missing bolts",),
            "oil": ("no oil or grease", "not contaminated"),
        },
        section="steer",
        role="steer",
    ),
    part(
        "rim",
        ("rim", "wheel rim"),
        {"bent": ("not bent or damaged", "not bent"), "weld": ("no welding repairs", "no welds", "not welded")},
        section="steer",
        role="steer",
    ),
    part(
        "lug-nuts",
        ("lug nuts",),
        {
            "present": ("all present", "none missing"),
            "rust": ("no rust trails", "no shiny threads"),
            "tight": ("tight", "not loose"),
        },
        section="steer",
        role="steer",
    ),
)
