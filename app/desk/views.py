"""One page for those who keep the workshop: what stops people, what is due, where the rest is."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, current_app, render_template, url_for
from sqlalchemy.orm import Session

from app.clearance.decision import MachineFacts, Reason, Verdict, machine_part, worst
from app.clearance.wording import words
from app.matrix.site import machine_facts
from app.parts import now, parts, reading, this_site
from app.people.access import PUBLIC, SIGNED_IN, access, actor
from app.people.identity import Actor
from app.people.rights import Act
from app.reminders.shown import mail_state
from app.rounds.due import Consequence, due_list

bp = Blueprint("desk", __name__)


@dataclass(frozen=True, kw_only=True)
class Stopped:
    """A machine that nobody starts, and why."""

    machine: MachineFacts
    verdict: Verdict
    reasons: tuple[Reason, ...]

    @property
    def why(self) -> str:
        return " ".join(words(reason).sentence for reason in self.reasons)


@dataclass(frozen=True, kw_only=True)
class Link:
    """A page that is reached from here."""

    title: str
    says: str
    endpoint: str

    def leads(self, me: Actor) -> bool:
        """Say whether the page opens for this person: the view itself says to whom."""
        access = getattr(current_app.view_functions[self.endpoint], "access", None)
        return access in (PUBLIC, SIGNED_IN) or (isinstance(access, Act) and me.may(access))


LINKS: tuple[tuple[str, tuple[Link, ...]], ...] = (
    (
        "Here, today",
        (
            Link(title="On duty", says="who is here, who supervises", endpoint="duty.page"),
            Link(
                title="Reports",
                says="faults, near misses, incidents",
                endpoint="reporting.index",
            ),
            Link(title="Areas", says="rounds, hours, closing a room", endpoint="areas.index"),
            Link(
                title="Visitors", says="guests of today and their hosts", endpoint="visitors.today"
            ),
        ),
    ),
    (
        "Who may use what",
        (
            Link(
                title="Morning lists",
                says="who is cleared today, on paper",
                endpoint="morning.index",
            ),
            Link(title="Matrix", says="every person at every machine", endpoint="matrix.index"),
            Link(title="What lapses", says="in the next 12 weeks", endpoint="matrix.lapses"),
            Link(title="Whom would this stop", says="asked as if", endpoint="matrix.stops"),
            Link(title="Suspensions", says="what stands", endpoint="person_file.suspensions"),
            Link(title="Overrides", says="what was lifted, for whom", endpoint="overrides.index"),
        ),
    ),
    (
        "Machines and assessments",
        (
            Link(
                title="Add a machine",
                says="from a kind, or as a copy",
                endpoint="authoring.machines.choose",
            ),
            Link(
                title="Kinds",
                says="what machines of a sort can do",
                endpoint="authoring.kinds.index",
            ),
            Link(
                title="Calculations",
                says="a number, its limit, its working",
                endpoint="calculations.index",
            ),
            Link(title="Actions", says="what is to be done by whom", endpoint="rounds.actions"),
            Link(title="Labels", says="for machines, tools and rooms", endpoint="labels.choose"),
        ),
    ),
    (
        "Ready to be asked",
        (
            Link(title="Audit pack", says="all of it in one document", endpoint="pack.index"),
            Link(
                title="Audit findings",
                says="what was found, and its end",
                endpoint="audits.index",
            ),
            Link(title="Drills", says="what was practised", endpoint="readiness.all_drills"),
            Link(
                title="First aiders and fire wardens",
                says="certificates and their days",
                endpoint="readiness.all_certificates",
            ),
        ),
    ),
    (
        "Teaching",
        (
            Link(
                title="Inductions",
                says="what is taught and watched",
                endpoint="authoring.inductions.index",
            ),
            Link(title="Sessions", says="groups, dates, places", endpoint="sessions.to_come"),
            Link(title="Sheets on paper", says="type in what was signed", endpoint="paper.index"),
            Link(
                title="Term plan",
                says="who is inducted when, by whom",
                endpoint="sessions.index",
            ),
        ),
    ),
    (
        "People and site",
        (
            Link(
                title="Add somebody",
                says="with the time they belong here",
                endpoint="people_pages.new",
            ),
            Link(
                title="Lists of people",
                says="from a registry, rehearsed first",
                endpoint="transfer.people_lists",
            ),
            Link(title="Export", says="the register in open formats", endpoint="transfer.exports"),
            Link(
                title="How long records are kept",
                says="the schedule, what is over, what is kept for a claim",
                endpoint="retention.index",
            ),
            Link(title="Work under way", says="what is being made", endpoint="work.index"),
            Link(title="Cohorts", says="who came together", endpoint="people_pages.all_cohorts"),
            Link(
                title="Reminders",
                says="what went out, what did not arrive",
                endpoint="reminders.sent",
            ),
            Link(title="Rules of the house", says="hours, ratios, grace", endpoint="house.index"),
            Link(
                title="Scale of ratings",
                says="what a rating means",
                endpoint="authoring.scale.scale",
            ),
            Link(
                title="Exposure limits",
                says="that hold here",
                endpoint="calculations.limits.index",
            ),
        ),
    ),
)


@bp.get("/desk")
@access(Act.SEE_PEOPLE)
def index() -> str:
    """Show what could hurt or hold up somebody this week, and where everything else is."""
    session, site, me = reading(), this_site(), actor()
    stopped = _stopped(session)
    due = due_list(session, area_id=None, at=now(), site=site)
    return render_template(
        "desk/index.html",
        stopped=stopped,
        mail=mail_state(session, set_up=parts().settings.smtp is not None, now=now()),
        due=[(each, len(due[each])) for each in Consequence],
        first=[item for each in Consequence for item in due[each]][:6],
        groups=[(title, [link for link in links if link.leads(me)]) for title, links in LINKS],
        address=lambda link: url_for(link.endpoint),
    )


def _stopped(session: Session) -> list[Stopped]:
    """Return the machines that nobody starts, the worst first."""
    found = []
    for machine in machine_facts(session, now()).values():
        reasons = machine_part(machine, now(), this_site().tz)
        if reasons:
            found.append(Stopped(machine=machine, verdict=worst(reasons), reasons=reasons))
    return sorted(found, key=lambda each: (-each.verdict, each.machine.name))
