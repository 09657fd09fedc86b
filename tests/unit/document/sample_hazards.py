"""The hazards of the invented assessment: test data, not advice."""

from __future__ import annotations

from assessments.document.content import ControlLine, HazardLine, Proof
from assessments.finding import Band, Finding, Limit, Quantity, Source
from assessments.hierarchy import Level
from assessments.rating import Rating

FUME = Finding(
    method="dilution",
    title="Airborne concentration of acrylic vapour with the extraction running",
    edition="1",
    inputs={
        "emission_rate": Quantity(value=2.4, unit="mg/s"),
        "extraction_flow": Quantity(value=0.11, unit="m³/s"),
        "capture_efficiency": Quantity(value=0.9, unit=""),
        "room_readings": Quantity(
            value=[{"hour": 1, "level": 1.9}, {"hour": 2, "level": 2.25}], unit="mg/m³"
        ),
    },
    outputs={"concentration": Quantity(value=2.181818181818182, unit="mg/m³")},
    band=Band.BELOW_ACTION,
    working=(
        "escaping rate = 2.4 mg/s × (1 − 0.9) = 0.24 mg/s",
        "concentration = 0.24 mg/s ÷ 0.11 m³/s = 2.18 mg/m³",
        "2.18 mg/m³ ÷ 208 mg/m³ = 0.0105",
    ),
    sources=(Source(title="Test handbook of ventilation", edition="9", place="page 101"),),
    limit=Limit(
        name="methyl methacrylate, 8 hours",
        value=208.0,
        unit="mg/m³",
        source=Source(title="Test list of limits", edition="2020", place="table 1"),
        regime="Testland",
        action=104.0,
    ),
    ratio=0.010489510489510489,
    assumptions=("Steady state, even mixing", "The door of the bay is closed"),
    cautions=("A mixture of vapours is not judged by one substance alone",),
    uncertainty={"concentration": {"low": 1.4, "high": 3.2, "coverage": "95 %"}},
)

NOISE = Finding(
    method="daily-noise",
    title="Daily noise exposure beside the extraction fan",
    edition="2",
    inputs={
        "level": Quantity(value=86.0, unit="dB(A)"),
        "duration": Quantity(value=6, unit="h"),
        "readings": Quantity(value=[[0.5, 86.0], [5.5, 86.0]], unit="h, dB(A)"),
    },
    outputs={"daily_exposure": Quantity(value=84.75061263391699, unit="dB(A)")},
    band=Band.ACTION,
    working=("86 + 10 × log10(6 ÷ 8) = 84.8 dB(A)",),
    sources=(Source(title="ISO 9612", edition="2009", place="equation 7", confirmed=False),),
    limit=Limit(
        name="daily exposure limit value",
        value=87.0,
        unit="dB(A)",
        source=Source(title="Test noise rules", edition="2005", place="regulation 4"),
        action=80.0,
        upper_action=85.0,
        notation=("hearing",),
    ),
    ratio=0.59,
    cautions=("Impulse noise is judged apart",),
)

_INTERLOCK = ControlLine(
    level=Level.ENGINEERING,
    title="Lid interlock",
    proved_here="Opened during a test mark at the start of each day.",
    details="Two switches in series; the tube loses power when the lid opens.",
    proofs=(
        Proof(
            title="Lid opens, beam stops",
            interval="before each day of use",
            basis="maker's manual, chapter 2",
            done_by="the first person of the day",
            passes_when="the job stops within one second and does not start again by itself",
            lapse="the machine is out of use until a technician has tested it",
        ),
        Proof(
            title="Each switch alone",
            interval="every six months",
            basis="common practice",
            done_by="a technician",
            passes_when="either switch alone stops the beam",
            lapse="the machine is out of use",
        ),
    ),
)

_EXTRACTION = ControlLine(
    level=Level.ENGINEERING,
    title="Extraction to the outside, proved by a flow light",
    proofs=(
        Proof(
            title="Thorough examination of the extraction",
            interval="every 14 months",
            basis="statutory in some countries; test rules, regulation 9",
            done_by="a competent examiner",
            passes_when="face velocity is at least 0.5 m/s at the slot",
            lapse="the machine is out of use: nothing else takes the fume away",
        ),
    ),
)

_SUBSTITUTION = ControlLine(
    level=Level.SUBSTITUTION,
    title="Only materials from the named list",
    details="Halogen-free sheet is kept in stock so that nobody needs to bring PVC.",
)

_WATCH = ControlLine(
    level=Level.ADMINISTRATIVE,
    title="Somebody stays with the job",
    details="Never leave a running job; the lid window stays in sight.",
)

_GLOVES = ControlLine(level=Level.PPE, title="Cut-resistant gloves when clearing the bed")

_BEAM = HazardLine(
    kind="Laser beam",
    sign="W004",
    how="Reflected beam reaches eye or skin through an open lid or a broken window.",
    who=("person running the machine", "people nearby"),
    states=("interlock defeated", "window cracked", "cleaning with the power on"),
    controls=(_WATCH, _INTERLOCK),
    before=Rating(severity=4, likelihood=3),
    after=Rating(severity=4, likelihood=1),
    source="test catalogue, open lasers",
    residual="Burn of the cornea if both switches fail at once and the beam is reflected out.",
)

_FIRE = HazardLine(
    kind="Fire in the bed",
    sign="W021",
    how="Sheet or crumbs catch fire; the air assist feeds the flame.",
    who=("person running the machine", "everybody in the building"),
    states=("job left alone", "air assist fails", "tray full of crumbs"),
    controls=(
        ControlLine(level=Level.ADMINISTRATIVE, title="Crumb tray emptied at each change"),
        ControlLine(
            level=Level.ENGINEERING,
            title="Flame sensor cuts the beam and the air",
            proofs=(
                Proof(
                    title="Sensor sees a test flame",
                    interval="every month",
                    basis="maker's manual, chapter 6",
                    done_by="a technician",
                    passes_when="beam and air stop within two seconds",
                    lapse="cutting stops; engraving with a second person watching",
                ),
            ),
        ),
        _WATCH,
    ),
    before=Rating(severity=5, likelihood=4),
    after=Rating(severity=5, likelihood=1),
    residual="A small flame that is put out by closing the air; scorched bed.",
)

_FUME = HazardLine(
    kind="Fume and vapour",
    sign="W016",
    how="Breathing what the material gives off while it is cut, and when the lid opens.",
    who=("person running the machine", "people nearby", "people with asthma"),
    states=("extraction off", "filter or duct blocked", "unknown material"),
    controls=(_EXTRACTION, _SUBSTITUTION),
    findings=(FUME,),
    before=Rating(severity=4, likelihood=4),
    after=Rating(severity=4, likelihood=1),
    residual="An odour for some seconds after the lid opens.",
)

_NOISE = HazardLine(
    kind="Noise",
    sign="W038",
    how="Extraction fan beside the bench, all day.",
    who=("person running the machine", "technicians of the bay"),
    controls=(
        ControlLine(
            level=Level.ENGINEERING,
            title="Fan on rubber feet in a lined box",
        ),
        ControlLine(level=Level.PPE, title="Ear muffs offered at the bench"),
    ),
    findings=(NOISE,),
    before=Rating(severity=4, likelihood=2),
    after=Rating(severity=2, likelihood=2),
    residual="Conversation is tiring after some hours.",
)

_SHARP = HazardLine(
    kind="Sharp edges",
    sign="W022",
    how="Fresh edges and slivers of acrylic and thin metal on the bed cut hands.",
    who=("person running the machine", "people who clean"),
    controls=(_GLOVES, ControlLine(level=Level.ADMINISTRATIVE, title="Tongs hang at the machine")),
    before=Rating(severity=1, likelihood=4),
    after=Rating(severity=1, likelihood=2),
    residual="A nick in a finger.",
    reason="The work itself makes the edges; a machine that unloads by itself was looked at and "
    "does not fit the bay.",
)

_ELECTRIC = HazardLine(
    kind="Electricity",
    sign="W012",
    how="The supply of the tube holds a deadly charge after it is switched off.",
    who=("technicians",),
    states=("panel open", "cooling water leaks"),
    controls=(
        ControlLine(
            level=Level.ELIMINATION,
            title="No work behind the panel on this site",
            details="The panel is sealed; only the maker's service opens it.",
            proofs=(
                Proof(
                    title="Seal unbroken",
                    interval="every month",
                    basis="common practice",
                    done_by="a technician",
                    passes_when="the numbered seal is whole and its number is the one recorded",
                    lapse="the machine is out of use until the maker's service has seen it",
                ),
            ),
        ),
    ),
    before=Rating(severity=5, likelihood=2),
    after=Rating(severity=5, likelihood=1),
    residual="None for people who leave the seal alone.",
)

_LIFTING = HazardLine(
    kind="Handling of sheet",
    how="Full sheets of 18 kg lifted alone over the front edge.",
    who=("person running the machine",),
    controls=(ControlLine(level=Level.ADMINISTRATIVE, title="Two people for a full sheet"),),
    before=Rating(severity=2, likelihood=3),
    after=Rating(severity=2, likelihood=2),
    residual="A strained back.",
)

HAZARDS = (_FIRE, _FUME, _BEAM, _ELECTRIC, _NOISE, _SHARP, _LIFTING)
