"""The Print Room and the Powder Room: resin, filament and powder."""

from __future__ import annotations

from app.risk_assessments.run_mode import RunMode
from assessments.finding import Source
from seed.controls import (
    CLEARED_PEOPLE_ONLY,
    EXTINGUISHER,
    EYE_PROTECTION,
    EYEWASH,
    FITTED_MASK,
    NITRILE_GLOVES,
    PRINT_ROOM_EXTRACTION,
)
from seed.shapes import (
    CLEANERS,
    COSHH_9,
    HANDBOOK,
    OPERATOR,
    ROOM,
    TECHNICIANS,
    Action,
    Assessment,
    Hazard,
    daily,
    eliminate,
    engineer,
    examination,
    monthly,
    organise,
    substitute,
    weekly,
    yearly_by_maker,
)

DSEAR = Source(
    title="Dangerous Substances and Explosive Atmospheres Regulations 2002",
    place="regulations 5 and 6",
    confirmed=False,
)

POWDER_EXTRACTION = engineer(
    "Depowdering cabinet with its own extraction",
    "The cake is broken behind the sash, never on a table.",
    daily("Depowdering cabinet flow", "the indicator shows flow with the sash at its mark"),
    examination("Depowdering cabinet, thorough examination"),
)
EARTHING = engineer(
    "Station, vacuum and mat bonded to earth",
    "",
    monthly("Earth bond measured", "below the value on the plate of the station"),
)

LIMPET = Assessment(
    reference="OT-03",
    title="Resin printing with wash and cure",
    run_mode=RunMode.SUPERVISED,
    machines={"Limpet": ""},
    inductions=("Resin printing",),
    scope="Filling, printing, washing, curing and cleaning up, with the resins on the list; "
    "wet work for an hour at a time.",
    not_covered="Other resins; mixing of colours; anything that touches food.",
    lone_working="Only with a technician within call.",
    hazards=(
        Hazard(
            kind="Skin sensitisation",
            sign="W001",
            how="Uncured resin on the skin can bring an allergy that stays for life.",
            who=(OPERATOR, CLEANERS),
            states=("vat film torn", "spill", "supports broken off by hand"),
            controls=(
                substitute(
                    "Water-washed resin in place of a solvent wash",
                    "Less vapour and no flammable liquid; the wash water is still waste.",
                ),
                engineer(
                    "Tray with a lip under everything wet",
                    "",
                    daily("Wet zone look", "tray dry, film whole, nothing wet outside the line"),
                ),
                EYEWASH,
                NITRILE_GLOVES,
                organise(
                    "A word about skin each term",
                    "An itch stops the work and is told; health surveillance is the adviser's to "
                    "arrange.",
                ),
                organise(
                    "Resin closed, dark and by itself",
                    "Bottles are stored in the dark cupboard, no food and no heat beside them. A "
                    "spill is taken up with paper, which cures under the lamp and goes to the "
                    "waste can.",
                ),
            ),
            before=(4, 4),
            after=(4, 2),
            residual="A splash past the glove is still possible; wash at once, tell at once.",
        ),
        Hazard(
            kind="Ultraviolet light",
            sign="W027",
            how="The curing lamp burns eye and skin if its door is defeated.",
            who=(OPERATOR,),
            states=("door switch taped", "lamp changed"),
            controls=(
                engineer(
                    "Switched lid on washer and curing box",
                    "",
                    daily("Curing lid switch", "the lamp goes out as the lid is lifted"),
                ),
            ),
            before=(3, 3),
            after=(3, 1),
            residual="Little while the switch is proved.",
        ),
        Hazard(
            kind="Fume and vapour",
            sign="W016",
            how="Vapour from open vats irritates and adds up over a long print.",
            who=(OPERATOR, ROOM),
            controls=(PRINT_ROOM_EXTRACTION,),
            before=(3, 3),
            after=(2, 2),
            residual="A faint smell at the bench.",
        ),
    ),
    signs=("M009", "M004", "P022"),
    before_use=(
        "Extraction shows flow.",
        "Tray dry, film whole.",
        "Gloves in your size.",
    ),
    emergency=(
        "Eye: rinse at the eyewash for fifteen minutes, send for help, take the data sheet along.",
        "Skin: soap and water, no solvent; tell a technician.",
    ),
    never=(
        ("Latex gloves", "resin goes through them"),
        ("Resin or wash water down the sink", "poisons water"),
        ("Parts handed out uncured", "they sensitise whoever holds them"),
    ),
    sources=(COSHH_9, HANDBOOK),
    review_months=12,
)

SPOOLS = Assessment(
    reference="OT-04",
    title="Filament printing on the twin printers",
    run_mode=RunMode.OPEN,
    machines={
        "Spool One": "Hardened nozzle; prints the filled filaments, door shut.",
        "Spool Two": "Brass nozzle; polylactide only.",
    },
    inductions=("Filament printing",),
    scope="Printing listed filaments in the closed shelf, by day.",
    not_covered="Overnight prints; taking a hot end apart.",
    lone_working="Allowed in opening hours.",
    hazards=(
        Hazard(
            kind="Fine particles and vapour",
            sign="W016",
            how="Melting filament gives off particles too fine to see.",
            who=(OPERATOR, ROOM),
            states=("door open", "filled filament"),
            controls=(
                substitute("Polylactide first, at the lowest nozzle temperature that holds"),
                PRINT_ROOM_EXTRACTION,
            ),
            before=(3, 3),
            after=(2, 2),
            residual="Little with the shelf shut.",
        ),
        Hazard(
            kind="Hot surface",
            sign="W017",
            how="Nozzle and bed burn fingers when a part is freed too early.",
            who=(OPERATOR,),
            states=("jam", "part stuck"),
            controls=(
                engineer(
                    "Door that pauses the print",
                    "",
                    weekly("Printer door switch", "the head parks as the door opens"),
                ),
                CLEARED_PEOPLE_ONLY,
            ),
            before=(2, 4),
            after=(2, 2),
            residual="A warm bed for a few minutes.",
        ),
        Hazard(
            kind="Fire",
            sign="W021",
            how="A failed sensor lets the heater run away with nobody near.",
            who=(ROOM,),
            states=("left alone",),
            controls=(
                engineer(
                    "Thermal runaway trip",
                    "",
                    yearly_by_maker("Thermal runaway test", "the heater is cut when the sensor is"),
                ),
                EXTINGUISHER,
            ),
            before=(4, 2),
            after=(3, 1),
            residual="A stopped print.",
        ),
    ),
    signs=("M002",),
    before_use=("Filament is on the list.", "Bed clear.", "Door shuts."),
    emergency=("Smoke: off at the wall, door shut, extinguisher, alarm.",),
    never=(
        ("PVC filament", "gives off hydrogen chloride"),
        ("Filament without a name", "nobody knows what it melts into"),
    ),
    sources=(
        COSHH_9,
        Source(
            title="NIOSH, Approaches to safe 3D printing",
            edition="2023",
            place="controls for emissions",
        ),
    ),
)

SNOWDRIFT = Assessment(
    reference="OT-05",
    title="Building in the powder-bed printer",
    run_mode=RunMode.TECHNICIAN_RUN,
    machines={"Snowdrift": ""},
    inductions=("Powder handling",),
    scope="Filling, building, cooling and taking the build unit out, with nylon powder.",
    not_covered="Other powders; breaking out the cake, which has its own assessment.",
    lone_working="Allowed while everything is closed; a second technician is there when it is not.",
    hazards=(
        Hazard(
            kind="Combustible dust",
            sign="W021",
            how="A cloud of nylon dust and a spark make a flash fire.",
            who=(TECHNICIANS, ROOM),
            states=("spill", "vacuum emptied", "dry winter air"),
            controls=(
                eliminate("No metal powder is bought"),
                engineer(
                    "Closed transfer from drum to printer",
                    "",
                    daily("Powder transfer seals", "no white dust outside the couplings"),
                ),
                EARTHING,
                organise(
                    "Wet or vacuum cleaning only",
                    "A spill is taken up at once with the bonded vacuum; used powder is waste in a "
                    "lidded tin, stored away from the printer.",
                    daily("Powder Room floor", "nothing white on floor, ledges or mat"),
                ),
            ),
            before=(5, 3),
            after=(4, 1),
            residual="A film of dust at a filter change, wiped damp.",
        ),
        Hazard(
            kind="Hot cake",
            sign="W017",
            how="The block keeps its heat for hours and burns on opening.",
            who=(TECHNICIANS,),
            states=("build stopped early",),
            controls=(
                engineer(
                    "Cool-down lock on the build unit",
                    "",
                    monthly("Cool-down lock", "it stays shut while the timer runs"),
                ),
            ),
            before=(3, 3),
            after=(3, 1),
            residual="Warm powder.",
        ),
    ),
    signs=("P003", "M017", "M010"),
    before_use=("Floor and ledges clean.", "Earth clip on.", "Timer read."),
    emergency=("Flash or smoke: leave, shut the door, alarm; never a jet of water on powder.",),
    never=(
        ("Aluminium, titanium and other metal powder", "explode far more readily"),
        ("Household vacuum", "its motor sparks"),
        ("Compressed air outside the cabinet", "makes the cloud"),
    ),
    sources=(DSEAR, COSHH_9, HANDBOOK),
    review_months=12,
)

SNOWPLOUGH = Assessment(
    reference="OT-06",
    title="Breaking out and cleaning powder prints",
    run_mode=RunMode.SUPERVISED,
    machines={"Snowplough": ""},
    inductions=("Powder handling",),
    scope="Breaking the cooled cake, brushing and blasting parts behind the sash, for at most two "
    "hours a week.",
    not_covered="Filter changes, which are for technicians.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Dust",
            sign="W016",
            how="Fine powder is breathed, gets on skin and in eyes, and goes home on clothes.",
            who=(OPERATOR, ROOM, CLEANERS),
            states=("sash up", "sieve blocked"),
            controls=(POWDER_EXTRACTION, EARTHING, FITTED_MASK),
            before=(3, 4),
            after=(2, 2),
            residual="Traces when the part is lifted out; mask on.",
        ),
        Hazard(
            kind="Blast media in the eye",
            sign="W001",
            how="Grit leaves the cabinet through a worn glove.",
            who=(OPERATOR,),
            controls=(
                engineer(
                    "Door switch on the blast gun",
                    "",
                    weekly("Blast door switch", "the gun stops as the door opens"),
                ),
                EYE_PROTECTION,
            ),
            before=(3, 3),
            after=(3, 1),
            residual="Little.",
        ),
    ),
    signs=("M017", "M004", "M011"),
    before_use=("Cabinet indicator shows flow.", "Mask seal check done.", "Earth clip on."),
    emergency=("Powder in the eye: eyewash, fifteen minutes.",),
    never=(("Powder without its age on the label", "mixes old with new"),),
    sources=(COSHH_9, DSEAR),
    actions=(Action("Chase the examiner's new date", "Idris Pellamy", 5),),
)

ALL = (LIMPET, SPOOLS, SNOWDRIFT, SNOWPLOUGH)
