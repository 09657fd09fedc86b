"""The Metal Bay: welding, cutting, drilling, grinding and sawing."""

from __future__ import annotations

from app.risk_assessments.run_mode import RunMode
from assessments.finding import Source
from seed.controls import (
    CLEARED_PEOPLE_ONLY,
    EMERGENCY_STOP,
    EXTINGUISHER,
    EYE_PROTECTION,
    FITTED_MASK,
    HEARING_PROTECTION,
    METAL_BAY_EXTRACTION,
    NO_VOLT_RELEASE,
    SAFETY_BOOTS,
)
from seed.shapes import (
    COSHH_9,
    HANDBOOK,
    NOISE_LAW,
    OPERATOR,
    PUWER,
    ROOM,
    Action,
    Assessment,
    Hazard,
    daily,
    eliminate,
    engineer,
    monthly,
    organise,
    protect,
    read_daily,
    weekly,
)

WELDING_FUME = Source(
    title="HSE safety alert STSU1 on mild steel welding fume",
    edition="February 2019",
    place="all indoor welding needs local exhaust ventilation",
)
CURTAINS = engineer(
    "Closed curtain of welding-filter cloth",
    "",
    daily("Welding curtain", "closes to the floor, no tear or burn hole"),
)
HOT_WORK_WATCH = organise(
    "Last look an hour after hot work",
    "Nobody leaves the bay before it is written down.",
    daily("Hot-work look of the evening before", "time and name stand in the book"),
)
DRILL_GUARD = engineer(
    "Telescopic chuck guard with a switch",
    "",
    daily("Chuck guard test", "the spindle will not start with the guard swung away"),
)
SAW_GUARD = engineer(
    "Blade guard close to the work, switched doors",
    "",
    daily("Bandsaw guard and doors", "guard a finger's width above the work, doors stop the blade"),
)

EMBER = Assessment(
    reference="OT-10",
    title="MIG welding of mild steel",
    run_mode=RunMode.OPEN,
    machines={"Ember Bay": ""},
    inductions=("Welding",),
    scope="Welding bare mild steel up to 6 mm in the curtained bay, two hours of arc a day.",
    not_covered="Stainless, galvanised or painted steel; aluminium; closed vessels; work outside.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Welding fume",
            sign="W016",
            how="Fume of any welding can bring lung cancer; it rises through the face first.",
            who=(OPERATOR, ROOM),
            states=("hood out of place", "coated metal", "long run"),
            controls=(
                eliminate("Puppet joints are pinned where a weld is not needed"),
                METAL_BAY_EXTRACTION,
                FITTED_MASK,
            ),
            before=(5, 4),
            after=(4, 2),
            residual="What the hood misses; the mask stays on.",
        ),
        Hazard(
            kind="Arc light",
            sign="W027",
            how="Ultraviolet light burns the eye of whoever looks, and bare skin.",
            who=(OPERATOR, ROOM),
            states=("tack without helmet", "passer-by"),
            controls=(
                CURTAINS,
                protect(
                    "Helmet that darkens by itself",
                    "",
                    daily("Welding helmet", "darkens at the test lamp, lens whole"),
                ),
            ),
            before=(3, 4),
            after=(3, 2),
            residual="A stray flash.",
        ),
        Hazard(
            kind="Fire",
            sign="W021",
            how="Spatter rolls under benches and smoulders after everybody has gone.",
            who=(OPERATOR, ROOM),
            states=("end of day",),
            controls=(
                engineer("Steel-lined bay, nothing that burns within it"),
                HOT_WORK_WATCH,
                EXTINGUISHER,
            ),
            before=(4, 3),
            after=(4, 1),
            residual="Embers, looked for.",
        ),
        Hazard(
            kind="Gas cylinder",
            sign="W029",
            how="A fallen cylinder breaks its valve and flies.",
            who=(ROOM,),
            controls=(
                engineer(
                    "Cylinder chained to the trolley",
                    "",
                    daily("Cylinder chain and hose", "chain taut, hose without cracks"),
                ),
            ),
            before=(5, 2),
            after=(5, 1),
            residual="Little while chained.",
        ),
    ),
    signs=("M019", "M010", "M008", "P007"),
    before_use=(
        "The hood draws: the streamer lies flat.",
        "The curtain closes.",
        "The metal is bare and you know what it is.",
        "Nothing near that burns.",
    ),
    emergency=(
        "Clothes on fire: drop, roll, blanket.",
        "Shock: cut the power before you touch anybody.",
    ),
    never=(
        ("Galvanised or painted metal", "toxic fume"),
        ("Metal wiped with a chlorinated solvent", "the arc makes phosgene of it"),
        ("Drums, tanks and closed tubes", "burst"),
    ),
    sources=(COSHH_9, WELDING_FUME, HANDBOOK),
    actions=(Action("Longer arm for the second hood", "Maceo Thrune", 60),),
    review_months=12,
)

COMET = Assessment(
    reference="OT-11",
    title="Plasma cutting on the downdraught table",
    run_mode=RunMode.SUPERVISED,
    machines={"Comet": ""},
    inductions=("Plasma cutting",),
    scope="Cutting bare steel plate to 8 mm on the table.",
    not_covered="Aluminium over water; gouging; work off the table.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Metal fume",
            sign="W016",
            how="Cutting turns plate to fume.",
            who=(OPERATOR, ROOM),
            controls=(METAL_BAY_EXTRACTION, FITTED_MASK),
            before=(4, 4),
            after=(4, 2),
            residual="What the table misses.",
        ),
        Hazard(
            kind="Noise",
            sign="W038",
            how="The jet is loud enough to harm hearing within a morning.",
            who=(OPERATOR, ROOM),
            controls=(
                engineer("Lined booth around the table"),
                HEARING_PROTECTION,
                organise("One cutter at a time, short runs"),
            ),
            before=(4, 4),
            after=(3, 2),
            residual="Loud for a few minutes, protected.",
        ),
        Hazard(
            kind="Sparks and light",
            sign="W027",
            how="Sparks travel far and the jet blinds.",
            who=(OPERATOR, ROOM),
            controls=(
                CURTAINS,
                HOT_WORK_WATCH,
                engineer(
                    "Torch cuts out without its cup",
                    "",
                    daily("Torch cup switch", "no pilot arc with the cup off"),
                ),
            ),
            before=(4, 4),
            after=(3, 2),
            residual="Sparks inside the curtain.",
        ),
    ),
    signs=("M013", "M003", "M009", "M008"),
    before_use=("The table draws.", "Screen shut.", "A technician is in sight."),
    emergency=("Fire under the table: stop, fan off, alarm; fight it only from the way out.",),
    never=(
        ("Aluminium on a wet table", "hydrogen gathers beneath"),
        ("Galvanised or painted plate", "toxic fume"),
    ),
    sources=(COSHH_9, NOISE_LAW, HANDBOOK),
)

DRILLS = Assessment(
    reference="OT-12",
    title="Drilling on the two pillar drills",
    run_mode=RunMode.OPEN,
    machines={
        "Drill Left": "Foot stop bar; belt on the three-step pulley.",
        "Drill Right": "No foot bar: the stop is the red knob on the column.",
    },
    inductions=("Pillar drill",),
    scope="Drilling clamped metal, wood and plastic up to 16 mm.",
    not_covered="Hole saws over 40 mm; milling.",
    lone_working="Only with somebody in sight.",
    hazards=(
        Hazard(
            kind="Entanglement",
            sign="W001",
            how="Hair, sleeve or glove winds onto the spindle in a blink.",
            who=(OPERATOR,),
            states=("alone", "tool change", "swarf pulled by hand"),
            controls=(
                DRILL_GUARD,
                EMERGENCY_STOP,
                NO_VOLT_RELEASE,
                organise("No gloves, nothing loose", "Said at every start."),
            ),
            before=(4, 3),
            after=(4, 1),
            residual="The drill point itself turns in the open below the guard.",
        ),
        Hazard(
            kind="Work that spins",
            sign="W001",
            how="The bit grabs and the piece strikes the hand.",
            who=(OPERATOR,),
            controls=(
                engineer(
                    "Vice bolted to the table, clamps on a board",
                    "",
                    weekly("Drill vice and clamps", "vice bolted, four clamps on the board"),
                ),
                CLEARED_PEOPLE_ONLY,
            ),
            before=(3, 4),
            after=(3, 1),
            residual="Little when clamped.",
        ),
        Hazard(
            kind="Flying swarf",
            sign="W001",
            how="Chips and broken bits fly up.",
            who=(OPERATOR, ROOM),
            controls=(EYE_PROTECTION, organise("Brush, never fingers or air")),
            before=(3, 4),
            after=(3, 2),
            residual="Chips on the table.",
            reason="The chips come from the cut itself, and the point has to stay in view.",
        ),
    ),
    signs=("P028", "M004"),
    before_use=("Chuck key out.", "Guard down.", "Work clamped.", "Hair and sleeves tied."),
    emergency=("Caught: emergency stop, isolate, turn the belt backwards by hand; never pull.",),
    never=(
        ("Gloves and rags near the spindle", "they wind in"),
        ("Thin sheet held by hand", "it spins like a blade"),
    ),
    sources=(PUWER, HANDBOOK),
    review_months=12,
)

WHETSTONE = Assessment(
    reference="OT-13",
    title="Grinding steel on the bench grinder",
    run_mode=RunMode.OPEN,
    machines={"Whetstone": ""},
    inductions=("Bench grinder",),
    scope="Grinding and sharpening steel. Mounting wheels is for the named people.",
    not_covered="Soft metals, wood, the side of the wheel.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Bursting wheel",
            sign="W001",
            how="A cracked or over-run wheel flies apart.",
            who=(OPERATOR, ROOM),
            states=("first minute after mounting",),
            controls=(
                engineer(
                    "Enclosing guard and rest set close",
                    "",
                    read_daily(
                        "Grinder rest and guard",
                        "widest gap at a rest, wheel still",
                        "mm",
                        high="3",
                    ),
                ),
                organise("Wheels mounted by named people only", "Ring test, speed compared."),
                EYE_PROTECTION,
            ),
            before=(5, 2),
            after=(4, 1),
            residual="The first minute, spent standing aside.",
        ),
        Hazard(
            kind="Dust",
            sign="W016",
            how="Grinding dust is breathed.",
            who=(OPERATOR,),
            controls=(METAL_BAY_EXTRACTION,),
            before=(3, 3),
            after=(2, 2),
            residual="Little for a short grind.",
        ),
    ),
    signs=("M004", "P028"),
    before_use=("No crack.", "Gap measured.", "Screen down, goggles on."),
    emergency=("Metal in the eye: do not rub, cover it, hospital.",),
    never=(("Aluminium, brass and wood", "they load the wheel until it bursts"),),
    sources=(PUWER, COSHH_9),
)

RIBBON = Assessment(
    reference="OT-14",
    title="Sawing bar and tube on the metal bandsaw",
    run_mode=RunMode.OPEN,
    machines={"Ribbon": ""},
    inductions=("Metal bandsaw",),
    scope="Straight and mitred cuts in clamped bar and tube.",
    not_covered="Bundles, hardened stock, wood.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Moving blade",
            sign="W022",
            how="A hand clears swarf or a jam while the blade runs.",
            who=(OPERATOR,),
            states=("jam", "blade change", "alone"),
            controls=(
                SAW_GUARD,
                EMERGENCY_STOP,
                organise("Isolate before anything near the blade is touched"),
            ),
            before=(4, 3),
            after=(4, 1),
            residual="The cut itself.",
        ),
        Hazard(
            kind="Falling stock",
            sign="W035",
            how="The cut end drops on a foot.",
            who=(OPERATOR,),
            controls=(
                engineer(
                    "Roller stand at both ends",
                    "",
                    monthly("Roller stands", "locks hold, feet level"),
                ),
                SAFETY_BOOTS,
            ),
            before=(3, 3),
            after=(2, 2),
            residual="Short ends.",
        ),
    ),
    signs=("M004", "M008", "P015"),
    before_use=("Guard set.", "Piece clamped.", "Stop tested this week."),
    emergency=("Cut: press on it, stop, call for help, keep what was cut off cool and dry.",),
    never=(("Magnesium", "its chips burn"), ("Loose bundles", "they roll and snatch")),
    sources=(PUWER, HANDBOOK),
    review_months=12,  # and so long overdue: it is looked at again before the saw comes back
)

ALL = (EMBER, COMET, DRILLS, WHETSTONE, RIBBON)
