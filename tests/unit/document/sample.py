"""One invented risk assessment that fills every field: test data, not advice.

Names, posts, references, serial numbers and readings are made up. Limits and equations
are quoted only so that the print has something of the right form to show.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from assessments.document.content import (
    AbnormalState,
    Action,
    Approval,
    Conditions,
    InductionLine,
    NeverMaterial,
    RiskAssessment,
    Site,
    Standing,
    Unit,
)
from assessments.finding import Source
from assessments.rating import FIVE_BY_FIVE, departures
from tests.unit.document.sample_hazards import HAZARDS

LIVE_URL = "https://register.example.org/a/RA-014"

UNITS = (
    Unit(
        name="Laser A, the large one",
        kind="Enclosed CO₂ laser cutter, 80 W",
        area="Laser bay",
        place="North wall, bench 2",
        maker="Invented Cutters",
        model="IC-900",
        serial="TEST-0001",
        tag="LAS-A",
    ),
    Unit(
        name="Laser B, the small one",
        kind="Enclosed CO₂ laser cutter, 60 W",
        area="Laser bay",
        place="North wall, bench 3",
        maker="Invented Cutters",
        model="IC-600",
        serial="TEST-0002",
        tag="LAS-B",
        differences="Air assist has no pressure gauge: listen for the flow before each job.",
    ),
)

SAMPLE = RiskAssessment(
    reference="RA-014",
    number=3,
    title="Cutting and engraving on the enclosed CO₂ lasers",
    language="en-GB",
    site=Site(
        name="Test Street Workshop",
        jurisdiction="Testland",
        local_document="Workshop rules of Test Street, part 4, lasers and extraction",
        local_document_confirmed_on=date(2026, 9, 14),
        adviser="the laser and safety adviser of the site, extension 0000",
    ),
    scope="Cutting and engraving of sheet up to 12 mm on the listed machines with the lid closed, "
    "setting up, loading and unloading, daily cleaning of the bed and the lens.",
    not_covered="Alignment with the panels off, change of the tube, work on the power supply, and "
    "any work with a defeated interlock: only by the maker's service under their own assessment.",
    units=UNITS,
    run_mode="open to cleared people",
    lone_working="Not allowed. A second person within call who can use the extinguisher.",
    who=(
        "The person running the machine",
        "People at the benches within three metres",
        "Young people on visits: they may not see that an odour is a warning",
        "People with asthma: small exposures may be enough to bring on an attack",
        "New or expectant mothers: solvent vapour from some plastics",
    ),
    scale=FIVE_BY_FIVE,
    hazards=HAZARDS,
    signs=("M002", "M004", "M009", "P003"),
    never=(
        NeverMaterial(
            material="PVC, vinyl and imitation leather of unknown make",
            why="gives off hydrogen chloride, which burns the lungs and ruins the machine",
        ),
        NeverMaterial(
            material="Polycarbonate thicker than 1 mm",
            why="takes fire and chars instead of cutting",
        ),
        NeverMaterial(
            material="Galvanised or coated metal",
            why="reflects the beam and gives off zinc fume",
        ),
        NeverMaterial(
            material="Anything without a name",
            why="what it gives off is not known: ask a technician first",
        ),
    ),
    before_use=(
        "Lid closed: the machine must refuse to fire with the lid open.",
        "Extraction running and its flow light green.",
        "Bed and crumb tray free of offcuts.",
        "Extinguisher and fire blanket in their places, way out clear.",
        "Material named, and not on the list of materials never cut.",
    ),
    emergency=(
        "Small flame: stop the job, keep the lid closed, leave the air assist off, watch.",
        "Flame that grows: emergency stop, call for help, extinguisher through the gap of the lid. "
        "If it is not out in ten seconds leave, close the door, raise the alarm.",
        "Eye or skin exposed to the beam: stop, do not rub, see a doctor the same day and "
        "report it. Leave the machine as it is.",
        "Smoke in the room: stop, leave, do not come back until a technician says so.",
    ),
    inductions=(
        InductionLine(
            title="Enclosed lasers, part 1",
            revision=4,
            validity="two years (site rule)",
            prerequisites=("Workshop fire and way out",),
            items=(
                "Shows where the emergency stop, extinguisher and way out are",
                "Names five materials that are never cut, and why",
                "Focuses, frames and starts a job with the lid closed",
                "Stops a job and says what to do about a flame",
            ),
        ),
        InductionLine(
            title="Workshop fire and way out",
            revision=2,
            validity="one year (local fire rules)",
            items=("Walks the way out", "Picks the right extinguisher for each bay"),
        ),
    ),
    actions=(
        Action(
            what="Fit a pressure gauge to the air assist of Laser B",
            owner="Technician of the laser bay",
            due_on=date(2027, 1, 15),
        ),
        Action(
            what="Move the solvent cupboard out of the laser bay",
            owner="Head of the workshop",
            due_on=date(2026, 9, 30),
            done_on=date(2026, 9, 28),
        ),
    ),
    sources=(
        Source(title="Maker's manual of the IC-900", edition="revision C", place="chapter 2"),
        Source(title="IEC 60825-1", edition="2014", place="clause 4", confirmed=False),
    ),
    prepared_by="Ida Testwell, technician of the laser bay",
    prepared_on=date(2026, 11, 2),
    consulted=("Members' meeting of October", "Tom Sampleton, who cleans the bay"),
    material_change=True,
    change_note="Extraction duct was moved: capture velocity measured again, and the check of "
    "the flow light is new.",
    review_due_on=date(2027, 11, 2),
    minimum_age=16,
    abnormal=(
        AbnormalState(state="jam", what="Stop, wait for the smoke to clear, open, lift it out."),
        AbnormalState(state="power loss", what="Switch off before the power comes back."),
    ),
    conditions=Conditions(
        lone="never alone",
        companions=2,
        unstaffed=False,
        first_aider=True,
        supervised_under=18,
        disuse_months=9,
        equipment=("eyewear marked for 10.6 µm",),
    ),
    threshold=10,
    scale_departs=departures(FIVE_BY_FIVE),
)

APPROVAL = Approval(
    approved_by="Rosa Mockford, head of the workshop",
    approved_at=datetime(2026, 11, 5, 14, 30, tzinfo=UTC),
    same_person=False,
    note="Approved on the condition that the gauge is fitted by the date given.",
)

IN_FORCE = Standing(words="In force since 5 November 2026", in_force=True)
SUPERSEDED = Standing(words="Superseded by revision 4 on 3 December 2026", in_force=False)
DRAFT = Standing(words="Submitted on 2 November 2026, waiting for approval", in_force=False)

BARE = replace(
    SAMPLE,
    reference="RA-099",
    number=1,
    title="Hand tools at the bench",
    not_covered="",
    units=UNITS[:1],
    who=(),
    hazards=HAZARDS[:1],
    signs=(),
    never=(),
    before_use=(),
    emergency=(),
    inductions=(),
    actions=(),
    sources=(),
    consulted=(),
    material_change=False,
    change_note="",
    minimum_age=None,
    abnormal=(),
    conditions=None,
    threshold=None,
    scale_departs=(),
)
"""An assessment with every list empty that may be empty."""
