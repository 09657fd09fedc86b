"""Plant the inductions, who gives them, and two years of sign-offs and acknowledgements."""

from __future__ import annotations

import random
from collections.abc import Iterable
from datetime import datetime
from functools import partial
from typing import Any

from sqlalchemy import func, select

from app.inductions.models import Induction
from app.inductions.published import Published, appoint, publish, published
from app.risk_assessments.in_force import in_force, revisions_needing
from app.risk_assessments.models import Revision, RevisionInduction
from app.training.acknowledgement import acknowledge
from app.training.competence import accept_outside_competence
from app.training.models import SignOffBriefing, TrainingRecord
from app.training.signoff import Ticks, sign_off
from app.training.standing import Result
from seed.ground import Ground, table, tree
from seed.stories import FIRST_DAYS_AGO, HAVE_NOT_READ_THE_CHANGE, PEOPLE, REVISED, Signs
from seed.teaching import plan_translations, told

TWO_YEARS = 24  # months: what lasts longer is not refreshed within the demonstration


class Learning:
    """What is taught, by whom, to whom."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.inductions: list[dict[str, Any]] = tree("inductions.json")
        self.told = told(ground)
        plan = tree("training.json")
        self.inductors: dict[str, list[str]] = plan["inductors"]
        self.refreshed: list[int] = plan["refreshed_days_ago"]
        self.cohorts: dict[str, list[tuple[str, int, float]]] = plan["cohorts"]
        self._taught: dict[str, Published] = {}

    def plant(self) -> None:
        ground = self.ground
        ground.then(ground.at(728, 9), self._publish_all)
        ground.then(ground.at(727, 9), self._appoint_all)
        ground.then(ground.at(724, 9), self._accept_the_first)
        ground.then(ground.at(FIRST_DAYS_AGO - 1), self._technicians_acknowledge)
        self._plan_new_wordings()
        for title, each in self.told.items():
            plan_translations(ground, title, each["translations"])
        self._plan_refreshers()
        for login, cohort in self._learners():
            events = PEOPLE[login] if login in PEOPLE else self._path(login, cohort)
            for n, event in enumerate(events):
                self._plan_sign_off(login, event, n)
        self._plan_the_change()

    def _learners(self) -> list[tuple[str, str]]:
        return [(row["login"], row["cohort"]) for row in table("people.csv")]

    # --- what is taught, and by whom ---

    def _publish_all(self, at: datetime) -> None:
        for induction in self.inductions:
            row = Induction(title=induction["title"])
            self.ground.session.add(row)
            self.ground.session.flush()
            self.ground.inductions[row.title] = row.id
            self._publish(induction, induction | {"earlier_counts": True}, at)

    def _publish(self, induction: dict[str, Any], wording: dict[str, Any], at: datetime) -> None:
        ground, more = self.ground, self.told.get(induction["title"], {})
        publish(
            ground.session,
            ground.session.get_one(Induction, ground.inductions[induction["title"]]),
            content=more.get("content", wording["content"]),
            teaching=more.get("teaching"),
            in_refresher=more.get("in_refresher", ()),
            items=[(words, True) for words in wording["items"]],
            requires=[ground.inductions[title] for title in induction["requires"]],
            validity_months=induction["months"],
            validity_basis=induction["basis"],
            earlier_counts=wording["earlier_counts"],
            actor_id=ground.people["hesper.lindqvale"],
            now=at,
        )
        self._taught.pop(induction["title"], None)

    def _taught_at(self, title: str, at: datetime) -> Published:
        """Return the induction as taught then; read once for each wording."""
        if title not in self._taught:
            induction_id = self.ground.inductions[title]
            self._taught[title] = published(self.ground.session, induction_id)
        return self._taught[title]

    def _appoint_all(self, at: datetime) -> None:
        for title, logins in self.inductors.items():
            for login in logins:
                appoint(
                    self.ground.session,
                    person_id=self.ground.people[login],
                    induction_id=self.ground.inductions[title],
                    actor_id=self.ground.people["hesper.lindqvale"],
                    now=at,
                )

    def _accept_the_first(self, at: datetime) -> None:
        """The first technicians come with courses and earlier posts: an approver accepts them."""
        for induction in self.inductions:
            for login in self.inductors[induction["title"]]:
                self._accept(induction["title"], login, "Earlier post and maker's course.", at)

    def _accept(self, title: str, login: str, evidence: str, at: datetime) -> None:
        ground = self.ground
        accept_outside_competence(
            ground.session,
            actor=ground.actor("hesper.lindqvale", at),
            person_id=ground.people[login],
            taught=self._taught_at(title, at),
            evidence=evidence,
            shown_on=at.date(),
            self_allowed=False,
            now=at,
            zone=ground.site.tz,
        )

    def _technicians_acknowledge(self, at: datetime) -> None:
        for title, logins in self.inductors.items():
            needing = revisions_needing(self.ground.session, self.ground.inductions[title], at=at)
            for login in logins:
                self._acknowledge(login, needing, login, at)

    def _plan_new_wordings(self) -> None:
        ground = self.ground
        for induction in self.inductions:
            if "again" in induction:
                days_ago = induction["again"]["days_ago"]
                ground.then(
                    ground.at(days_ago), partial(self._publish, induction, induction["again"])
                )
                if not induction["again"]["earlier_counts"]:
                    self._plan_start_again(induction["title"], days_ago)

    def _plan_start_again(self, title: str, days_ago: int) -> None:
        """Nobody is current any more: one is accepted by an approver and signs the other."""
        ground, (first, second) = self.ground, self.inductors[title]
        evidence = "Supplier's course on the new material."
        ground.then(ground.at(days_ago, 11), partial(self._accept, title, first, evidence))
        ground.then(
            ground.at(days_ago, 13), partial(self._sign_off, second, Signs(title, days_ago))
        )

    def _plan_refreshers(self) -> None:
        for days_ago in self.refreshed:
            for n, induction in enumerate(self.inductions):
                if induction["months"] and induction["months"] < TWO_YEARS:
                    for login in self.inductors[induction["title"]]:
                        self._plan_sign_off(login, Signs(induction["title"], days_ago), n)

    # --- who learns what ---

    def _path(self, login: str, cohort: str) -> list[Signs]:
        """Return what this person takes of their cohort's path; the same at every planting."""
        wanted: dict[str, bool] = {}
        requires = {each["title"]: each["requires"] for each in self.inductions}
        events = []
        for title, days_ago, share in self.cohorts.get(cohort, []):
            if title not in wanted:
                chance = random.Random(f"{login} {title}").random()  # noqa: S311
                ready = all(wanted.get(other) for other in requires[title])
                wanted[title] = ready and chance < share
            if wanted[title]:
                events.append(Signs(title, days_ago))
        return events

    def _plan_sign_off(self, login: str, event: Signs, n: int) -> None:
        at = self.ground.at(event.days_ago, 9 + n % 8, 10)
        self.ground.then(at, partial(self._sign_off, login, event))

    def _sign_off(self, login: str, event: Signs, at: datetime) -> None:
        ground, session = self.ground, self.ground.session
        person_id, induction_id = ground.people[login], ground.inductions[event.induction]
        named = [each for each in self.inductors[event.induction] if each != login]
        inductor = named[person_id % len(named)]
        taught = self._taught_at(event.induction, at)
        seen = taught.items if event.result is Result.ALONE else taught.items[:-2]
        sign_off_id = sign_off(
            session,
            actor=ground.actor(inductor, at),
            person_id=person_id,
            taught=taught,
            ticks=Ticks(
                key=f"planted-{login}-{induction_id}-{event.days_ago}",
                seen_record_id=self._newest(person_id, induction_id),
                observed=frozenset(item.id for item in seen),
                result=event.result,
            ),
            now=at,
            zone=ground.site.tz,
        )
        if event.acknowledges and event.result is not Result.NOT_YET:
            briefed = select(SignOffBriefing.revision_id).where(
                SignOffBriefing.sign_off_id == sign_off_id
            )
            self._acknowledge(login, session.execute(briefed).scalars(), inductor, at)

    def _newest(self, person_id: int, induction_id: int) -> int:
        """Return the person's newest record: the form was opened after it."""
        newest = select(func.coalesce(func.max(TrainingRecord.id), 0)).where(
            TrainingRecord.person_id == person_id, TrainingRecord.induction_id == induction_id
        )
        return self.ground.session.execute(newest).scalar_one()

    def _acknowledge(
        self, login: str, revisions: Iterable[int], inductor: str, at: datetime
    ) -> None:
        """Most do it on their own phone; every fourth has none and says it face to face.

        Every seventh, unless face to face, does it at a tablet on the wall.
        """
        ground, person_id = self.ground, self.ground.people[login]
        actor = ground.actor(inductor if person_id % 4 == 0 else login, at)
        for revision_id in revisions:
            acknowledge(
                ground.session,
                actor=actor,
                person_id=person_id,
                revision_id=revision_id,
                now=at,
                shared=person_id % 7 == 1,
            )

    # --- a material change is read again ---

    def _plan_the_change(self) -> None:
        for revised in REVISED:
            if revised.material:
                at = self.ground.at(revised.days_ago - 2, 12)
                self.ground.then(at, partial(self._read_the_change, revised.reference))

    def _read_the_change(self, reference: str, at: datetime) -> None:
        """Everybody who holds an induction of the changed document reads it, but for a few."""
        ground, session = self.ground, self.ground.session
        revision = session.execute(
            select(Revision).where(
                in_force(at), Revision.content.contains(f'"reference":"{reference}"')
            )
        ).scalar_one()
        holders = set(
            session.execute(
                select(TrainingRecord.person_id)
                .join(
                    RevisionInduction,
                    RevisionInduction.induction_id == TrainingRecord.induction_id,
                )
                .where(RevisionInduction.revision_id == revision.id)
            ).scalars()
        )
        for login, person_id in ground.people.items():
            if person_id in holders and login not in HAVE_NOT_READ_THE_CHANGE:
                self._acknowledge(login, [revision.id], login, at)
