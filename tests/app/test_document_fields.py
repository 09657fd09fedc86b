"""Every field that HSE's five steps and the Management Regulations name is in the document.

Each row says what the source asks for, where it is written, and what of an approved assessment
answers it: a field of the frozen content, which then has to stand on paper too.

Sources:
- HSE, Managing risks and risk assessment at work: the steps "Identify hazards", "Assess the
  risks", "Control the risks", "Record your findings", "Review the controls", and its template
  with the columns named below (hse.gov.uk, pages "Steps needed to manage risk" and "Risk
  assessment template and examples"; from memory).
- Management of Health and Safety at Work Regulations 1999 (SI 1999/3242), regulations 3, 4 with
  Schedule 1, 7, 10, 16 and 19 (from memory).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest
from sqlalchemy import select

from app.people.models import Person
from app.risk_assessments.approval import approve
from app.risk_assessments.models import Revision
from assessments.document.content import Approval, RiskAssessment, Standing
from assessments.document.frozen import thaw
from assessments.document.print import risk_assessment_html
from tests.app.authoring import Author
from tests.factories import SITE

HSE = "HSE, steps needed to manage risk"
TEMPLATE = "HSE, risk assessment template"
MHSWR = "MHSWR 1999, regulation"

ASKED = (
    # what is asked for, where, and what answers it
    ("Company name", TEMPLATE, lambda c: [c.site.name]),
    ("Assessment carried out by", TEMPLATE, lambda c: [c.prepared_by]),
    ("Date of the assessment", TEMPLATE, lambda c: ["10 March 2026"]),
    ("Date of next review", TEMPLATE, lambda c: ["10 March 2027"]),
    ("What are the hazards?", TEMPLATE, lambda c: [h.kind for h in c.hazards]),
    (
        "Who might be harmed and how?",
        TEMPLATE,
        lambda c: [each for h in c.hazards for each in (h.how, *h.who)],
    ),
    (
        "What are you already doing to control the risks?",
        TEMPLATE,
        lambda c: [k.title for h in c.hazards for k in h.controls],
    ),
    (
        "What further action do you need to take, who, by when, done",
        TEMPLATE,
        lambda c: [w for a in c.actions for w in (a.what, a.owner, "1 July 2026", "5 July 2026")],
    ),
    ("Identify hazards: how people work and use the machine", HSE, lambda c: [c.scope]),
    (
        "Identify hazards: non-routine operations such as maintenance, cleaning, breakdown",
        HSE,
        lambda c: [each.what for each in c.abnormal],
    ),
    (
        "Assess the risks: how likely harm is and how serious it could be",
        HSE,
        lambda c: [
            f"{w} {n}"
            for h in c.hazards
            for w, n in (
                ("severity", h.before.severity),
                ("likelihood", h.before.likelihood),
                ("severity", h.after.severity),
                ("likelihood", h.after.likelihood),
            )
        ],
    ),
    (
        "Control the risks: can it be got rid of; else so that harm is unlikely (the hierarchy)",
        HSE,
        lambda c: [k.level.words for h in c.hazards for k in h.controls],
    ),
    (
        "Review the controls: make sure that they are working",
        HSE,
        lambda c: [p.title for h in c.hazards for k in h.controls for p in k.proofs],
    ),
    (
        "Involve those who do the work",
        HSE,
        lambda c: list(c.consulted),
    ),
    (
        "Risks to employees while they are at work, and to persons not in employment",
        f"{MHSWR} 3(1)(a) and (b)",
        lambda c: [who for h in c.hazards for who in h.who],
    ),
    (
        "Review if no longer valid or after a significant change",
        f"{MHSWR} 3(3)",
        lambda c: ["and at once after an accident, a near miss or a change to machine"],
    ),
    (
        "Young persons: inexperience, lack of awareness, immaturity",
        f"{MHSWR} 3(4) and (5)(a), and 19",
        lambda c: [next(each for each in c.who if "under 18" in each)],
    ),
    (
        "Young persons: the workplace and its layout",
        f"{MHSWR} 3(5)(b)",
        lambda c: [w for u in c.units for w in (u.area, u.place) if w],
    ),
    (
        "Young persons: form, range and use of work equipment",
        f"{MHSWR} 3(5)(d)",
        lambda c: [c.units[0].name, c.units[0].kind, c.units[0].differences],
    ),
    (
        "Young persons: organisation of processes and activities",
        f"{MHSWR} 3(5)(e)",
        lambda c: [c.run_mode.capitalize(), *c.before_use],
    ),
    (
        "Young persons: the extent of training provided",
        f"{MHSWR} 3(5)(f)",
        lambda c: [i.title for i in c.inductions] + [w for i in c.inductions for w in i.items],
    ),
    (
        "Young persons: age below which there is supervision",
        f"{MHSWR} 19(2) and (3)",
        lambda c: [f"Under the age of {c.conditions.supervised_under} only with a supervisor"],
    ),
    (
        "Significant findings are recorded, as a number where there is one",
        f"{MHSWR} 3(6)(a)",
        lambda c: [f.title for h in c.hazards for f in h.findings],
    ),
    (
        "Any group identified as being especially at risk",
        f"{MHSWR} 3(6)(b)",
        lambda c: list(c.who),
    ),
    (
        "Principles of prevention: evaluating risks that cannot be avoided, giving collective "
        "measures priority over individual ones, giving instructions",
        f"{MHSWR} 4 and Schedule 1",
        lambda c: [*(h.residual for h in c.hazards), *(h.reason for h in c.hazards if h.reason)],
    ),
    ("Competent assistance", f"{MHSWR} 7", lambda c: [c.site.adviser]),
    (
        "Serious and imminent danger: what is done",
        f"{MHSWR} 8",
        lambda c: list(c.emergency),
    ),
    (
        "Information for employees: risks and preventive measures",
        f"{MHSWR} 10",
        lambda c: [n.material for n in c.never],
    ),
    (
        "New or expectant mothers",
        f"{MHSWR} 16",
        lambda c: [next(each for each in c.who if "expectant mothers" in each)],
    ),
)


@pytest.fixture
def approved(visitor, shop, database, clock) -> tuple[RiskAssessment, str]:
    """An assessment written over its pages, approved, and its document."""
    author, taught = Author(visitor, shop), shop.induction("Panel saw")
    author.begin(differences="Sliding table, 3 m", place="By the window")
    noise = next(line for line in author.lines() if line.kind == "Noise")
    found = {"tasks-0-0": "95", "tasks-0-1": "1", "calculation": "noise.daily", "limits": "gb"}
    answer = visitor.post(f"/hazards/{noise.id}/findings", data=found)
    assert answer.status_code == 303, answer.text
    author.confirm_all()
    author.save(
        f"{author.at}/words",
        consulted="The sawyers",
        **{
            "actions-0-what": "Fit a lamp",
            "actions-0-owner": "The technician",
            "actions-0-due_on": "2026-07-01",
            "actions-0-done_on": "2026-07-05",
        },
    )
    visitor.post(f"{author.at}/inductions", data={"induction": str(taught.id)})
    assert author.submit().status_code == 303
    with database.write() as session:
        revision = session.execute(select(Revision)).scalar_one()
        approve(session, revision, actor_id=shop.chief.id, site=SITE, note="", now=shop.now)
        chief = session.get_one(Person, shop.chief.id).name
    content = thaw(revision.content)
    html = risk_assessment_html(
        content,
        Approval(approved_by=chief, approved_at=clock.at + timedelta(days=1), same_person=False),
        Standing(words="In force", in_force=True),
        live_url="https://register.example/a/RA-77",
        digest=revision.digest,
    )
    return content, html


def wanting(content: RiskAssessment, html: str) -> list[str]:
    """Say what is asked for and does not stand in the document."""
    said = " ".join(unescape(html).replace("\N{NO-BREAK SPACE}", " ").split()).casefold()
    missing = []
    for what, source, answers in ASKED:
        found = answers(content)
        if not found:
            missing.append(f"{source}: {what}: nothing in the content answers it")
        missing += [
            f"{source}: {what}: “{words}” is not in the document"
            for words in found
            if " ".join(words.split()).casefold() not in said
        ]
    return missing


def test_the_document_has_every_field_that_the_five_steps_and_the_regulations_name(approved):
    assert wanting(*approved) == []


def test_a_field_that_was_not_in_the_document_would_be_noticed(approved):
    content, html = approved
    (missing,) = wanting(content, html.replace("Fit a lamp", ""))
    assert missing.startswith("HSE, risk assessment template: What further action")
    nobody = replace(content, consulted=())
    assert wanting(nobody, html) == [
        "HSE, steps needed to manage risk: Involve those who do the work: nothing in the content "
        "answers it"
    ]
