"""The Clay Yard and the Rigging Loft."""

from __future__ import annotations

from app.risk_assessments.run_mode import RunMode
from assessments.finding import Source
from seed.controls import EXTINGUISHER, FITTED_MASK
from seed.shapes import (
    COSHH_9,
    HANDBOOK,
    OPERATOR,
    ROOM,
    TECHNICIANS,
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

DRAGON = Assessment(
    reference="OT-19",
    title="Firing the electric kiln",
    run_mode=RunMode.TECHNICIAN_RUN,
    machines={"Sleeping Dragon": ""},
    inductions=("Kiln firing",),
    scope="Packing, biscuit and glaze firings, night watch and cold opening.",
    not_covered="Changing elements; reduction; glass.",
    lone_working="Not at the start; the end is watched by the named night contact.",
    hazards=(
        Hazard(
            kind="Fire",
            sign="W017",
            how="What stands near the hot kiln catches fire, most often at night.",
            who=(TECHNICIANS, ROOM),
            states=("night", "controller stuck on"),
            controls=(
                engineer("Cage of its own, brick floor"),
                engineer(
                    "Separate over-temperature trip",
                    "",
                    monthly("Over-temperature trip", "the contactor drops at the set point"),
                    yearly_by_maker("Kiln service", "elements, thermocouple and wiring in order"),
                ),
                organise(
                    "Cage clear at each firing",
                    "",
                    daily("Kiln cage clear", "nothing that burns inside the cage"),
                ),
                EXTINGUISHER,
            ),
            before=(5, 3),
            after=(4, 1),
            residual="A firing log and a contact through the night.",
        ),
        Hazard(
            kind="Hot ware and live elements",
            sign="W012",
            how="A door opened early burns; elements are live.",
            who=(TECHNICIANS,),
            controls=(
                engineer(
                    "Door lock until cool, power off when open",
                    "",
                    daily("Kiln door lock", "the contactor drops as the bolt is drawn"),
                ),
            ),
            before=(4, 3),
            after=(3, 1),
            residual="Warm shelves.",
        ),
        Hazard(
            kind="Firing fume",
            sign="W016",
            how="Carbon monoxide and sulphur compounds from clay and glaze.",
            who=(TECHNICIANS, ROOM),
            controls=(
                eliminate("No lead glaze is bought"),
                engineer(
                    "Canopy fan",
                    "",
                    daily("Kiln canopy fan", "tissue holds at the slot", shared=True),
                    examination("Kiln canopy, thorough examination"),
                ),
            ),
            before=(3, 3),
            after=(2, 1),
            residual="Little with the fan on.",
        ),
    ),
    signs=("M009", "P010", "M021"),
    before_use=("Cage clear.", "Fan on.", "Night contact written in the log."),
    emergency=("Stuck on: pull the isolator outside the cage, call the contact, alarm if smoke.",),
    never=(
        ("Damp ware, plaster, anything organic", "bursts or smokes"),
        ("Unknown glaze or metal", "poisonous fume"),
    ),
    sources=(
        COSHH_9,
        Source(title="HSE, Kilns in schools", place="fire and fume"),
        HANDBOOK,
    ),
    review_months=12,
)

MIST = Assessment(
    reference="OT-20",
    title="Spraying glaze in the water-wash booth",
    run_mode=RunMode.OPEN,
    machines={"Mist House": ""},
    inductions=("Glaze spraying",),
    scope="Spraying lead-free glaze on biscuit ware, an afternoon a week.",
    not_covered="Lead or cadmium glaze; dry scraping.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Silica and metal oxide mist",
            sign="W016",
            how="The mist scars lungs when it is breathed; nobody feels it. Some oxides poison "
            "when they are swallowed from fingers.",
            who=(OPERATOR, ROOM),
            states=("water low", "spraying past the piece", "dry cleaning"),
            controls=(
                substitute("Dipping in place of spraying where the piece allows it"),
                engineer(
                    "Water-wash booth with indicator",
                    "",
                    daily("Glaze booth airflow", "the indicator is in its band, curtain unbroken"),
                    examination("Glaze booth, thorough examination"),
                ),
                FITTED_MASK,
                organise(
                    "Wet wiping only",
                    "A spill is wiped up wet. Sludge of the booth settles in its tray and goes to "
                    "the waste collector, never down the drain.",
                ),
                organise(
                    "Glaze kept wet or closed",
                    "Powders are stored in lidded buckets on the low shelf, with their data "
                    "sheets; no food or drink in the bay. Health surveillance for silica is the "
                    "adviser's to arrange.",
                ),
            ),
            before=(4, 4),
            after=(4, 2),
            residual="Mist left for the posted minutes; mask on until then.",
        ),
    ),
    signs=("M017", "M011", "P022"),
    before_use=("Indicator in band.", "Curtain of water unbroken.", "Seal check done."),
    emergency=("Air gun against skin: hospital at once, however small the mark.",),
    never=(("Lead and cadmium glaze", "poison"), ("Dry scraping", "raises silica dust")),
    sources=(COSHH_9,),
    review_months=12,
)

LADDER = Assessment(
    reference="OT-22",
    title="Hanging from the platform steps",
    run_mode=RunMode.SUPERVISED,
    machines={"Sky Ladder": ""},
    inductions=("Ladders and hanging",),
    scope="Short, light work up to 2.5 m, and hanging of rated fixings.",
    not_covered="Flying of people; loads over 20 kg.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Fall from height",
            sign="W008",
            how="Overreach, or steps on soft ground.",
            who=(OPERATOR,),
            controls=(
                eliminate("Bars are lowered to the floor where they can be"),
                engineer(
                    "Platform with a rail",
                    "",
                    daily("Steps look-over", "feet, stays and rail whole, locks click"),
                ),
            ),
            before=(4, 3),
            after=(4, 1),
            residual="A low fall.",
        ),
        Hazard(
            kind="Dropped object",
            sign="W035",
            how="A tool or a fixing falls on somebody.",
            who=(ROOM,),
            controls=(
                engineer(
                    "Second fixing on everything hung",
                    "",
                    weekly("Second fixings seen", "each hung piece holds by two fixings"),
                ),
                organise("Ground below closed"),
            ),
            before=(4, 3),
            after=(3, 1),
            residual="Little with the ground closed.",
        ),
    ),
    signs=("M014", "M008"),
    before_use=("Look-over aloud.", "Ground closed.", "Tools tied."),
    emergency=("Fall: do not move the person, call.",),
    sources=(Source(title="Work at Height Regulations 2005", confirmed=False),),
)

ALL = (DRAGON, MIST, LADDER)
