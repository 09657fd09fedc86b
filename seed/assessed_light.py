"""The Light Room: two enclosed lasers."""

from __future__ import annotations

from app.risk_assessments.run_mode import RunMode
from seed.controls import (
    CLEARED_PEOPLE_ONLY,
    EMERGENCY_STOP,
    EXTINGUISHER,
    LIGHT_ROOM_EXTRACTION,
)
from seed.shapes import (
    CLEANERS,
    COSHH_9,
    HANDBOOK,
    LASER_CLASSES,
    OPERATOR,
    PUWER,
    ROOM,
    TECHNICIANS,
    Action,
    Assessment,
    Hazard,
    daily,
    eliminate,
    engineer,
    monthly,
    organise,
    substitute,
    weekly,
    yearly_by_maker,
)

LASER_INTERLOCK = engineer(
    "Interlocked lid and doors",
    "Opening ends the beam; the product is Class 1 only while this works.",
    daily("Laser interlock test", "the beam stops as the lid or door is lifted"),
    yearly_by_maker("Laser survey", "no leakage found, class label right, interlocks proved"),
)
KNOWN_SHEET = organise(
    "Only labelled sheet from the list",
    "Stock is labelled when it arrives; unlabelled sheet is asked about and never tried.",
    weekly("Label on every sheet in the rack", "no sheet without a label"),
)

FIREFLY = Assessment(
    reference="OT-01",
    title="Cutting and engraving on the enclosed CO2 laser",
    run_mode=RunMode.OPEN,
    machines={"Firefly": ""},
    inductions=("Laser cutting",),
    scope="Cutting and engraving listed sheet with the lid shut, from loading to the cold bed.",
    not_covered="Work with a panel off or an interlock defeated; servicing; rotary work.",
    lone_working="Not allowed. Somebody else who is cleared is in the room for the whole cut.",
    hazards=(
        Hazard(
            kind="Fire",
            sign="W021",
            how="The sheet or scraps in the tray catch fire under the beam.",
            who=(OPERATOR, ROOM),
            states=("cut left alone", "air assist blocked", "dirty tray", "tiny parts close by"),
            controls=(
                engineer(
                    "Air assist at the nozzle",
                    "",
                    daily("Air assist flow", "air is felt at the nozzle before the first cut"),
                ),
                organise(
                    "Somebody watches every cut from within reach",
                    "Pause, lid shut, then blanket; the room is left if the flame grows.",
                ),
                organise(
                    "Bed and tray cleaned",
                    "",
                    daily("Laser bed and tray", "no scraps, no soot that could glow"),
                ),
                EXTINGUISHER,
            ),
            before=(4, 4),
            after=(4, 2),
            residual="Small flames still happen; somebody stands there and knows the steps.",
        ),
        Hazard(
            kind="Fume and vapour",
            sign="W016",
            how="Burnt acrylic, wood and leather give off irritant fume; chlorine in a plastic "
            "turns to acid gas.",
            who=(OPERATOR, ROOM),
            states=("lid opened at once", "filter full"),
            controls=(
                eliminate("No chlorinated plastic in the building", "The buyer orders none."),
                substitute("Poplar and cast acrylic before glued board", "Less fume comes off."),
                LIGHT_ROOM_EXTRACTION,
                KNOWN_SHEET,
            ),
            before=(4, 4),
            after=(3, 2),
            residual="A smell on opening; the fume is given half a minute to clear.",
        ),
        Hazard(
            kind="Laser beam",
            sign="W004",
            how="An invisible beam, Class 4 inside, burns eye and skin if a guard is defeated.",
            who=(OPERATOR, TECHNICIANS),
            states=("panel removed", "mirror out of line"),
            controls=(LASER_INTERLOCK, EMERGENCY_STOP, CLEARED_PEOPLE_ONLY),
            before=(4, 3),
            after=(4, 1),
            residual="Little in normal use while the interlock is proved each day.",
        ),
    ),
    signs=("P003", "M002"),
    before_use=(
        "The extraction needle stands in the green band.",
        "The lid test was done today.",
        "The tray is clean, the blanket hangs on its hook.",
        "The sheet has its label.",
    ),
    emergency=(
        "Flame: pause, keep the lid shut, then blanket; if it grows, leave and raise the alarm.",
        "A flash seen in the eye: stop, tell a technician, urgent eye examination the same day.",
    ),
    never=(
        ("PVC, vinyl, imitation leather of unknown kind", "gives off hydrogen chloride"),
        ("PTFE and other fluorinated plastic", "gives off hydrogen fluoride"),
        ("Polyurethane foam", "burns fast and gives off cyanides"),
        ("ABS and polystyrene", "burns with heavy soot"),
        ("Glass or carbon fibre board", "dust and fume of the binder"),
        ("Anything without a label", "nobody can say what comes off it"),
    ),
    sources=(COSHH_9, LASER_CLASSES, PUWER, HANDBOOK),
    actions=(
        Action("Fit a flame sensor under the lid", "Idris Pellamy", 40),
        Action("Label the offcuts rack", "Junia Corvane", -30, -34),
    ),
    review_months=12,
)

NEEDLEBEAM = Assessment(
    reference="OT-02",
    title="Cutting thin metal on the enclosed fibre laser",
    run_mode=RunMode.TECHNICIAN_RUN,
    machines={"Needlebeam": ""},
    inductions=("Fibre laser operation",),
    scope="Cutting clean steel and aluminium sheet to 2 mm, by technicians, panels shut.",
    not_covered="Servicing and alignment, which need a controlled area and named people.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Laser beam",
            sign="W004",
            how="The near-infrared beam passes clear plastic and blinds before it is noticed.",
            who=(TECHNICIANS, ROOM),
            states=("window damaged", "door opened in mid-cut"),
            controls=(
                LASER_INTERLOCK,
                engineer(
                    "Marked viewing window of the right density",
                    "",
                    daily("Laser window", "mark readable, no scratch, crack or burn"),
                ),
                organise(
                    "Key kept by technicians",
                    "",
                    daily("Laser key count", "both keys are in the key box at opening"),
                ),
            ),
            before=(5, 3),
            after=(4, 1),
            residual="Little in normal use while window and interlocks are proved.",
        ),
        Hazard(
            kind="Metal fume and fine dust",
            sign="W016",
            how="Fume is breathed; fine metal dust in the filter can burn or explode.",
            who=(TECHNICIANS, ROOM),
            states=("filter changed", "aluminium after steel"),
            controls=(
                LIGHT_ROOM_EXTRACTION,
                engineer(
                    "Spark trap before the filter",
                    "",
                    weekly("Spark trap", "emptied cold, mesh whole"),
                ),
            ),
            before=(4, 3),
            after=(3, 1),
            residual="Little, while the flow is in its band.",
        ),
        Hazard(
            kind="Assist gas",
            sign="W041",
            how="Leaking nitrogen pushes the air out of a closed room.",
            who=(TECHNICIANS, CLEANERS),
            states=("weekend", "hose changed"),
            controls=(
                engineer(
                    "Oxygen alarm at the door",
                    "",
                    monthly("Oxygen alarm bump test", "it sounds with the test gas"),
                    yearly_by_maker("Oxygen alarm calibration", "within the maker's tolerance"),
                ),
                organise(
                    "Cylinder shut at closing time",
                    "",
                    daily("Assist gas leak look", "pressure held since last evening"),
                ),
            ),
            before=(5, 2),
            after=(5, 1),
            residual="The number is a whole cylinder let into the shut room. It is shut each "
            "evening, and the alarm is read before the door is opened.",
        ),
    ),
    signs=("M002", "P001"),
    before_use=("Interlock log written today.", "Extraction in its band.", "Window whole."),
    emergency=(
        "Exposure to the beam: stop, cut the power, urgent eye examination the same day.",
        "Oxygen alarm: leave, keep others out, no rescue without breathing apparatus.",
    ),
    never=(
        ("Magnesium", "burns and cannot be put out with water"),
        ("Copper and brass, unless the handbook allows them", "send the beam back"),
        ("Galvanised, oily or plastic-coated sheet", "toxic fume and fire"),
    ),
    sources=(COSHH_9, LASER_CLASSES, HANDBOOK),
    review_months=12,
)

ALL = (FIREFLY, NEEDLEBEAM)
