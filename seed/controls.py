"""Measures that several machines rely on, each with the checks that prove it alive."""

from __future__ import annotations

from seed.shapes import (
    daily,
    engineer,
    examination,
    monthly,
    organise,
    protect,
    read_daily,
    weekly,
)

EMERGENCY_STOP = engineer(
    "Emergency stop within reach",
    "Latches; it stops the movement and is no isolation.",
    weekly("Emergency stop test", "everything that moves stops, and nothing starts on release"),
)
NO_VOLT_RELEASE = engineer(
    "No-volt release",
    "After a power cut the machine stays off until somebody presses start.",
    monthly("No-volt release test", "with the isolator off and on again it stays still"),
)
LIGHT_ROOM_EXTRACTION = engineer(
    "Light Room extraction and filter",
    "One fan and filter draw from both lasers; without flow neither laser gets leave to fire.",
    daily(
        "Light Room extraction gauge", "the needle stands in the green band on both", shared=True
    ),
    examination("Light Room extraction, thorough examination"),
)
METAL_BAY_EXTRACTION = engineer(
    "Metal Bay extraction",
    "Arms and the downdraught table hang on one fan. If dry grinding ever passes twelve hours in "
    "a week, the examination falls due every six months instead of fourteen.",
    read_daily(
        "Metal Bay extraction flow",
        "the vane meter at the farthest hood reads what the last examination set",
        "m/s",
        low="0.50",
        shared=True,
    ),
    examination("Metal Bay extraction, thorough examination"),
)
WOOD_DUST_EXTRACTION = engineer(
    "Wood dust extraction",
    "Wood only: no metal is ground on this duct, since sparks travel.",
    daily("Wood dust extraction light", "the flow light is green, one gate open", shared=True),
    examination("Wood dust extraction, thorough examination"),
)
PRINT_ROOM_EXTRACTION = engineer(
    "Print Room extraction",
    "Draws from the resin bench and from the closed filament shelf.",
    daily("Print Room extraction indicator", "both indicators show flow", shared=True),
    examination("Print Room extraction, thorough examination"),
)
CLEARED_PEOPLE_ONLY = organise(
    "Only people cleared at the scan start it",
    "The code on the machine is scanned each time.",
)
TIDY_ROUND = organise(
    "Floor and ways out kept clear",
    "",
    weekly("Housekeeping round", "nothing lies in a way out, no dust lies on ledges"),
)
EYE_PROTECTION = protect(
    "Eye protection",
    "Clean and unscratched, from the rack at the line.",
    weekly("Eye protection rack", "enough clean pairs hang there, none scratched"),
)
HEARING_PROTECTION = protect(
    "Hearing protection in the marked zone",
    "Muffs or plugs that suit the noise; not so strong that a shout is missed.",
    weekly("Hearing protection rack", "muffs close well and plugs are in stock"),
)
SAFETY_BOOTS = protect("Boots with toecaps", "Own or lent.")
FITTED_MASK = protect(
    "Tight mask named on the face-fit record",
    "For what extraction leaves. The record of fit is held by the adviser, not here.",
    monthly("Masks examined", "valves, straps, seals and filter dates are right"),
)
NITRILE_GLOVES = protect(
    "Nitrile gloves, changed often",
    "Never latex with resin or ink.",
    weekly("Glove stock", "all sizes are there and in date"),
)
EYEWASH = engineer(
    "Eyewash at the bench",
    "",
    weekly("Eyewash run", "runs clear, bottle sealed and in date, way to it free"),
)
EXTINGUISHER = organise(
    "Right extinguisher and blanket at hand",
    "",
    weekly("Extinguisher in place", "it hangs there, sealed, needle in the green"),
)
