"""Which document of what was asked for, as of when; and how each one begins."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy.orm import Session

from app.site import Site, site
from assessments.document import content as doc
from assessments.document.paper import Head


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a document tells of: what had happened by ``at``, as written down by ``known``."""

    subject: int  # the row that it is about; 0: the whole site
    at: datetime
    known: datetime
    first_on: date | None = None  # of a period, both days included
    last_on: date | None = None

    def payload(self) -> dict[str, Any]:
        """Return it as a job carries it."""
        return {
            "subject": self.subject,
            "at": self.at.isoformat(),
            "known": self.known.isoformat(),
            "first_on": self.first_on.isoformat() if self.first_on else None,
            "last_on": self.last_on.isoformat() if self.last_on else None,
        }

    @classmethod
    def of(cls, payload: dict[str, Any]) -> Asked:
        """Return what a job carries."""
        first, last = payload["first_on"], payload["last_on"]
        return cls(
            subject=payload["subject"],
            at=datetime.fromisoformat(payload["at"]),
            known=datetime.fromisoformat(payload["known"]),
            first_on=date.fromisoformat(first) if first else None,
            last_on=date.fromisoformat(last) if last else None,
        )


def site_then(session: Session, asked: Asked) -> Site:
    """Return the settings in force at that moment."""
    return site(session, asked.at, asked.known)


def site_of(place: Site) -> doc.Site:
    """Return whose rules a document defers to."""
    return doc.Site(
        name=place.name,
        jurisdiction=place.jurisdiction,
        local_document=place.local_document,
        local_document_confirmed_on=place.confirmed_on,
        adviser=place.adviser,
    )


def head_of(place: Site, asked: Asked, *, reference: str, title: str, **more: Any) -> Head:
    """Return how a document begins that tells of this moment."""
    return Head(
        reference=reference,
        title=title,
        site=site_of(place),
        at=asked.at.astimezone(place.tz),
        language=place.language,
        **more,
    )
