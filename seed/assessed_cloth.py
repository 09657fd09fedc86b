"""The Cloth Loft: printing, cutting and pressing cloth."""

from __future__ import annotations

from app.risk_assessments.run_mode import RunMode
from seed.controls import CLEARED_PEOPLE_ONLY, EMERGENCY_STOP, NITRILE_GLOVES, TIDY_ROUND
from seed.shapes import (
    HANDBOOK,
    OPERATOR,
    PUWER,
    ROOM,
    Assessment,
    Hazard,
    daily,
    engineer,
    monthly,
    organise,
    substitute,
    weekly,
)

BOLT = Assessment(
    reference="OT-07",
    title="Printing cloth by the roll",
    run_mode=RunMode.SUPERVISED,
    machines={"Bolt": ""},
    inductions=("Cloth printing",),
    scope="Loading rolls, printing and taking off, with water-based inks.",
    not_covered="Ink pumps and print heads; work on the heater.",
    lone_working="Allowed with the covers shut, in opening hours.",
    hazards=(
        Hazard(
            kind="Moving carriage",
            sign="W024",
            how="The carriage traps fingers against its end plates.",
            who=(OPERATOR,),
            states=("crease", "media strike"),
            controls=(
                engineer(
                    "Interlocked covers over the carriage",
                    "",
                    daily("Carriage cover switch", "the carriage stops as the cover is lifted"),
                ),
                EMERGENCY_STOP,
            ),
            before=(3, 3),
            after=(3, 1),
            residual="Little with the covers shut.",
        ),
        Hazard(
            kind="Ink on the skin",
            sign="W001",
            how="Ink irritates and can sensitise.",
            who=(OPERATOR,),
            controls=(substitute("Water-based ink in place of curing ink"), NITRILE_GLOVES),
            before=(3, 3),
            after=(2, 2),
            residual="Stained fingers.",
        ),
        Hazard(
            kind="Lifting rolls",
            sign="W001",
            how="A full roll strains a back or falls on a foot.",
            who=(OPERATOR, ROOM),
            controls=(
                engineer("Roll trolley at loading height"),
                organise(
                    "Two people on a full roll",
                    "",
                    weekly("Roll rack and trolley", "stops fitted, no roll stands upright"),
                ),
            ),
            before=(3, 3),
            after=(2, 2),
            residual="A heavy push.",
        ),
    ),
    signs=("P015", "M009"),
    before_use=("Covers shut.", "Cloth flat, no crease at the edge."),
    emergency=("Trapped: emergency stop, then free the belt by hand with the power off.",),
    never=(("Cloth that is not on the list", "lint fires and head strikes"),),
    sources=(PUWER, HANDBOOK),
)

SKATE = Assessment(
    reference="OT-08",
    title="Cutting flat stock on the vacuum bed",
    run_mode=RunMode.OPEN,
    machines={"Skate": ""},
    inductions=("Rotary cutting",),
    scope="Cutting cloth, felt, leather and thin board held by vacuum.",
    not_covered="Metal, stone, glass, and wood thicker than 6 mm.",
    lone_working="Not allowed.",
    hazards=(
        Hazard(
            kind="Blade and gantry",
            sign="W022",
            how="A hand on the bed is cut by the wheel or struck by the gantry.",
            who=(OPERATOR, ROOM),
            states=("offcut lifted early", "blade change", "vacuum lost"),
            controls=(
                engineer(
                    "Safety edges on both sides of the gantry",
                    "",
                    daily("Safety edge test", "a touch on either side stops the gantry"),
                ),
                EMERGENCY_STOP,
                engineer(
                    "Drive lock for blade change",
                    "",
                    monthly("Drive lock", "with the key out the drive does not move"),
                ),
                organise("A line on the floor that nobody crosses while it is live"),
            ),
            before=(4, 3),
            after=(4, 1),
            residual="A sharp wheel at blade change; locked, with the holder.",
        ),
        Hazard(
            kind="Loose blades",
            sign="W022",
            how="A spent wheel in a bin cuts whoever empties it.",
            who=(OPERATOR, "cleaners"),
            controls=(
                engineer(
                    "Sharps box at the machine", "", weekly("Sharps box", "shut, under its line")
                ),
            ),
            before=(3, 3),
            after=(3, 1),
            residual="Little.",
        ),
    ),
    signs=("P015", "M002"),
    before_use=("Both edges tested today.", "The stock does not slide when pulled."),
    emergency=("Cut: press on it, emergency stop, first-aid box on the thread wall, call help.",),
    never=(
        ("Metal, stone or glass", "shatters the wheel"),
        ("Vinyl offcuts in the laser's rack", "they gas the room if somebody cuts them there"),
    ),
    sources=(PUWER, HANDBOOK),
)

HOT_CLAM = Assessment(
    reference="OT-09",
    title="Pressing transfers with the swing-away press",
    run_mode=RunMode.OPEN,
    machines={"Hot Clam": ""},
    inductions=("Cloth printing",),
    scope="Pressing transfers and fixing prints on dry cloth.",
    not_covered="Foam, coated cloth of unknown kind.",
    lone_working="Allowed in opening hours.",
    hazards=(
        Hazard(
            kind="Hot surface",
            sign="W017",
            how="The platen, near two hundred degrees, burns a hand or sets cloth on fire.",
            who=(OPERATOR,),
            states=("left closed",),
            controls=(
                engineer(
                    "Timer that opens the press",
                    "",
                    daily("Press timer", "opens by itself after ten seconds"),
                ),
                TIDY_ROUND,
                CLEARED_PEOPLE_ONLY,
            ),
            before=(3, 4),
            after=(3, 2),
            residual="A hot plate in reach.",
        ),
    ),
    signs=("M002",),
    before_use=("The timer opens it.", "Half a metre is clear all round."),
    emergency=("Burn: cool running water for twenty minutes, then first aid.",),
    never=(("PVC transfers of unknown kind", "fume"),),
    sources=(HANDBOOK,),
)

ALL = (BOLT, SKATE, HOT_CLAM)
