"""The Wood Bay and what is lent from it, and the Paint Corner."""

from __future__ import annotations

from app.hazards.models import Basis
from app.risk_assessments.run_mode import RunMode
from seed.controls import (
    CLEARED_PEOPLE_ONLY,
    EMERGENCY_STOP,
    EXTINGUISHER,
    EYE_PROTECTION,
    HEARING_PROTECTION,
    NO_VOLT_RELEASE,
    TIDY_ROUND,
    WOOD_DUST_EXTRACTION,
)
from seed.shapes import (
    COSHH_9,
    HANDBOOK,
    NOISE_LAW,
    OPERATOR,
    PUWER,
    ROOM,
    WOODWORK_ACOP,
    Action,
    Assessment,
    Hazard,
    daily,
    eliminate,
    engineer,
    examination,
    monthly,
    months,
    organise,
    substitute,
    weekly,
)

LONG_TOM = Assessment(
    reference="OT-15",
    title="Ripping and cross-cutting on the panel saw",
    run_mode=RunMode.SUPERVISED,
    machines={"Long Tom": ""},
    inductions=("Panel saw",),
    scope="Straight cuts in sheet and planed board with guard, knife and fence.",
    not_covered="Freehand, tapered, stacked or stopped cuts; wet or nailed timber.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Saw blade",
            sign="W022",
            how="A hand meets the blade, most often while clearing or at the end of a cut.",
            who=(OPERATOR,),
            states=("small part", "offcut jammed", "blade running down"),
            controls=(
                engineer(
                    "Crown guard and riving knife",
                    "",
                    daily("Saw guard and knife", "guard low over the work, knife close behind"),
                ),
                engineer(
                    "Brake",
                    "",
                    monthly("Saw run-down time", "the blade stands within ten seconds of stop"),
                ),
                EMERGENCY_STOP,
                NO_VOLT_RELEASE,
                organise(
                    "Push stick before the start",
                    "",
                    daily("Push sticks", "two whole ones hang at the saw"),
                ),
            ),
            before=(4, 4),
            after=(4, 2),
            residual="The blade in the cut; a technician stands in sight.",
        ),
        Hazard(
            kind="Wood dust",
            sign="W016",
            how="Dust brings asthma, and hardwood dust cancer of the nose.",
            who=(OPERATOR, ROOM, "cleaners"),
            states=("bag full", "sweeping"),
            controls=(
                substitute("Poplar ply in place of medium-density board"),
                WOOD_DUST_EXTRACTION,
                TIDY_ROUND,
            ),
            before=(4, 3),
            after=(3, 2),
            residual="Dust below the table; the vacuum takes it.",
        ),
        Hazard(
            kind="Noise",
            sign="W038",
            how="A day beside the saw dulls hearing for good.",
            who=(OPERATOR, ROOM),
            controls=(
                engineer("Blades with few slots and sharp teeth"),
                HEARING_PROTECTION,
                organise("Cutting bundled into the morning"),
            ),
            before=(4, 4),
            after=(3, 2),
            residual="Loud while cutting.",
        ),
    ),
    signs=("M003", "M004", "P028"),
    before_use=("Guard and knife set.", "Push stick in hand.", "Extraction light green."),
    emergency=("Cut: press on it, stop, raise the arm, call; somebody keeps the finger cool.",),
    never=(
        ("Wet, split or nailed timber", "kicks back"),
        ("Metal and mineral board", "wrecks teeth and dust bag"),
    ),
    sources=(WOODWORK_ACOP, COSHH_9, NOISE_LAW),
    actions=(Action("Quieter blade on trial", "Bartholin Esk", 21),),
)

CARVING = Assessment(
    reference="OT-16",
    title="Carving heads and hands at the bench",
    run_mode=RunMode.OPEN,
    machines={
        "Carving Bench": "The bench itself with its vices and lamp.",
        "Gouge Roll": "Fourteen edges, counted back into the roll.",
        "Bench Rasp Sander": "Only with its hose on the dust vacuum.",
    },
    inductions=("Carving and hand tools",),
    scope="Carving, rasping and sanding limewood and jelutong with the tools of this bench.",
    not_covered="Power carving; spalted or unknown wood.",
    lone_working="Allowed in opening hours.",
    hazards=(
        Hazard(
            kind="Sharp edges",
            sign="W022",
            how="A gouge slips through soft wood into the holding hand.",
            who=(OPERATOR,),
            controls=(
                engineer(
                    "Head clamp that frees both hands",
                    "",
                    weekly("Bench clamps and vices", "jaws whole, nothing creeps under load"),
                ),
                organise(
                    "Edges kept keen and counted",
                    "",
                    weekly("Edges counted", "each is there, keen and tight in its handle"),
                ),
            ),
            before=(3, 4),
            after=(2, 2),
            residual="Small cuts; plasters at the bench.",
        ),
        Hazard(
            kind="Wood dust",
            sign="W016",
            how="Sanding dust is the finest of all.",
            who=(OPERATOR, ROOM),
            controls=(
                eliminate("Finish by scraper where a scraper will do"),
                engineer(
                    "Sander joined to a class M vacuum",
                    "",
                    weekly("Bench vacuum", "filter light off, hose whole, bag not full"),
                ),
            ),
            before=(3, 3),
            after=(2, 2),
            residual="Dust in the lap.",
        ),
        Hazard(
            kind="Vibration",
            sign="W001",
            how="Hours at the sander numb the fingers, first in the cold.",
            who=(OPERATOR,),
            states=("worn pad", "pressing hard"),
            controls=(
                substitute("Scraper and rasp for the first shape, the sander only to finish"),
                engineer(
                    "Balanced pad on the sander",
                    "",
                    monthly("Sander pad", "runs smoothly, pad flat, no play"),
                ),
            ),
            before=(3, 3),
            after=(2, 2),
            residual="Little below the hours on the card.",
        ),
    ),
    signs=("M002",),
    before_use=("Clamp holds.", "Roll counted.", "Hose on the sander."),
    emergency=("Deep cut: press, raise, call.",),
    never=(("Spalted wood", "its mould is breathed in"),),
    sources=(PUWER,),
)

MAGPIE = Assessment(
    reference="OT-17",
    title="Borrowing the cordless drill",
    run_mode=RunMode.OPEN,
    machines={"Magpie": ""},
    inductions=("Borrowed tools",),
    scope="Drilling and screwing in rehearsal rooms and on the van.",
    not_covered="Ceilings, walls with pipes or cables, ladders.",
    lone_working="Only with somebody in call.",
    hazards=(
        Hazard(
            kind="Turning bit",
            sign="W001",
            how="The tool kicks, or the bit catches cloth.",
            who=(OPERATOR,),
            controls=(
                engineer("Clutch set low before the first screw"),
                organise(
                    "Looked over when lent and when returned",
                    "",
                    daily("Loan drill look-over", "trigger springs back, chuck true, case whole"),
                ),
                EYE_PROTECTION,
            ),
            before=(2, 3),
            after=(2, 2),
            residual="A scratched hand.",
        ),
        Hazard(
            kind="Lithium battery",
            sign="W021",
            how="A dropped or wet battery catches fire hours later.",
            who=(ROOM,),
            states=("charging overnight",),
            controls=(
                engineer("Charging shelf of steel, on a timer that ends at closing time"),
                organise(
                    "Dropped batteries go in the sand box",
                    "",
                    weekly("Battery shelf", "no swollen or cracked pack, timer right"),
                ),
                EXTINGUISHER,
            ),
            before=(4, 2),
            after=(3, 1),
            residual="Watched while charging.",
        ),
    ),
    signs=("M004",),
    before_use=("Battery cool and whole.", "Trigger springs back."),
    emergency=("Hot or hissing battery: do not carry it; everybody out, door shut, alarm.",),
    sources=(HANDBOOK,),
)

OLD_TREADLE = Assessment(
    reference="OT-18",
    title="Fretwork on the treadle saw",
    run_mode=RunMode.OPEN,
    machines={"Old Treadle": ""},
    inductions=("Carving and hand tools",),
    scope="Fretwork in thin wood.",
    not_covered="Anything thicker than 10 mm.",
    lone_working="Allowed.",
    hazards=(
        Hazard(
            kind="Saw blade",
            sign="W022",
            how="A snapped blade or a stray finger.",
            who=(OPERATOR,),
            controls=(engineer("Hold-down foot"), CLEARED_PEOPLE_ONLY),
            before=(2, 3),
            after=(2, 1),
            residual="Small cuts.",
        ),
    ),
    signs=("M004",),
    before_use=("Foot down.",),
    emergency=("Cut: plaster, then tell.",),
    sources=(PUWER,),
    review_months=36,
)

PAINT_BOX = Assessment(
    reference="OT-21",
    title="Spraying from cans in the spray room",
    run_mode=RunMode.OPEN,
    machines={"Paint Box": ""},
    inductions=("Spray room",),
    scope="Spraying listed cans on small pieces, one person at a time, ten minutes in an hour.",
    not_covered="Two-pack paint, spray guns, paint stripping.",
    lone_working="One person inside, a second in sight outside.",
    hazards=(
        Hazard(
            kind="Flammable vapour",
            sign="W021",
            how="Propellant and solvent gather and find a spark.",
            who=(OPERATOR, ROOM),
            states=("fan off", "can leaks"),
            controls=(
                substitute("Water-based cans first"),
                engineer(
                    "Fan that must run before the light goes on",
                    "",
                    daily("Spray room fan interlock", "light stays off until the fan runs"),
                    examination("Spray room extraction, thorough examination"),
                ),
                organise(
                    "Flammables in the metal cabinet",
                    "Stored with their data sheets, nothing that feeds a fire beside them. Empty "
                    "cans are waste for the metal bin by the yard door, never pierced.",
                    weekly("Flammables cabinet", "door shuts, below the volume on its sign"),
                ),
            ),
            before=(5, 3),
            after=(4, 1),
            residual="Vapour near the piece, drawn away.",
        ),
        Hazard(
            kind="Solvent breathed",
            sign="W016",
            how="Vapour and mist are breathed in and dry the skin: dizziness first, harm later.",
            who=(OPERATOR,),
            controls=(
                engineer(
                    "Clearance time posted, measured with smoke",
                    "",
                    months(
                        12,
                        "Clearance time measured with smoke",
                        "smoke is gone within the time that is posted at the door",
                        basis=Basis.COMMON_PRACTICE,
                        source="common practice: each year and after work on the fan",
                        by="a technician of the area",
                    ),
                ),
                organise("No more than one can in an hour"),
            ),
            before=(3, 4),
            after=(2, 2),
            residual="A smell; out at once when dizzy.",
        ),
    ),
    signs=("P003", "M017", "P002"),
    before_use=("Fan runs.", "Can is on the list.", "Telephone and lighter stay outside."),
    emergency=("Dizzy: out, fresh air, call. Fire: out, shut the door, alarm.",),
    never=(
        ("Two-pack paint with isocyanates", "brings asthma; needs air-fed masks"),
        ("Stripper with dichloromethane", "stuns and kills in closed rooms"),
        ("Heat guns", "light the vapour"),
    ),
    sources=(COSHH_9,),
    review_months=12,
)

ALL = (LONG_TOM, CARVING, MAGPIE, OLD_TREADLE, PAINT_BOX)
