"""Gather all parts of a pack from one look at the register: frozen values, nothing is drawn yet."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from app.documents.issue import Ready, live_url_of
from app.documents.papers import check_url
from app.pack.asked import Asked
from app.pack.contents import (
    assessments,
    chains,
    checks,
    competence,
    cover,
    extraction,
    faults,
    findings,
    gaps,
    lifted,
    loans,
    machines,
    plan,
    readiness,
    retention,
    substances,
)
from app.pack.contents.substances import BoundPaper
from app.pack.ground import Ground, ground_of
from app.pack.upkeep import Upkeep
from app.settings import Settings
from app.signing.sign import can_sign
from assessments.document.content import Site, Standing
from assessments.document.pack import Pack, Part
from assessments.document.wording import day


@dataclass(frozen=True, kw_only=True)
class BoundPrint:
    """A revision that is bound into the pack: what its print is made of, and its title."""

    title: str
    ready: Ready


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """Everything that a pack is made of."""

    asked: Asked
    pack: Pack
    parts: tuple[Part, ...]  # in their order
    bound: tuple[BoundPrint, ...]  # behind part 4
    papers: tuple[BoundPaper, ...]  # behind part 5
    check_url: str  # under which their codes are checked


def gather(session: Session, asked: Asked, *, signatory: str, settings: Settings) -> Gathered:
    """Return the parts and what is bound. The same register and choice give the same values."""
    ground = ground_of(session, asked)
    upkeep = Upkeep(ground=ground)
    others = (
        plan.part(ground),
        machines.part(ground, upkeep),
        assessments.part(ground),
        substances.part(ground),
        extraction.part(ground, upkeep),
        competence.part(ground),
        chains.part(ground),
        checks.part(ground, upkeep),
        faults.part(ground),
        lifted.part(ground),
        loans.part(ground),
        findings.part(ground),
        readiness.part(ground),
        gaps.part(ground, upkeep),
        retention.part(ground),
    )
    return Gathered(
        asked=asked,
        pack=_pack(ground, settings),
        parts=(
            cover.part(ground, signatory=signatory, signed=can_sign(settings), others=others),
            *others,
        ),
        bound=tuple(
            BoundPrint(
                title=each.title,
                ready=Ready(
                    revision=each.revision,
                    approval=each.approval,
                    # As it stood at the moment, so that the print of that time is used again.
                    standing=Standing(words="In force", in_force=True),
                    live_url=live_url_of(session, each.revision, settings),
                ),
            )
            for each in assessments.bound(ground)
        ),
        papers=tuple(substances.bound(ground)),
        check_url=check_url(settings),
    )


def _pack(ground: Ground, settings: Settings) -> Pack:
    site = ground.site
    return Pack(
        reference=ground.asked.reference,
        state=f"State of {day(ground.today)}",
        site=Site(
            name=site.name,
            jurisdiction=site.jurisdiction,
            local_document=site.local_document,
            local_document_confirmed_on=site.confirmed_on,
            adviser=site.adviser,
        ),
        live_url=f"{settings.public_url}/packs",
    )
