"""First aiders' and wardens' certificates, and fits of equipment, before they run out. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from app.oversight.lapsing import Lapsing
from app.reminders.known import Duty, Somebody, Topic
from app.reminders.roles import NOBODY, Roles
from app.reminders.stages import Told
from app.site import Site

_RENEW_CERTIFICATE = "It runs out for somebody: find them a course, or name somebody else."
_FIT_AGAIN = "It runs out for somebody: have it fitted again, or take it back."


def certificate_duties(
    papers: Iterable[Lapsing], people: Mapping[int, Somebody], who: Roles, site: Site
) -> Iterator[Duty]:
    """Give each twice: to whoever holds it, and to whoever looks after it.

    That is who wrote it down, while they have a role here, and else the technicians of the whole
    site; late ones climb. A mail to them names nobody: mails are kept, and names can be erased.
    Not of who leaves before it runs out, or with it.
    """
    for each in papers:
        holder = people.get(each.person_id)
        if holder is None or (holder.ends_on is not None and holder.ends_on <= each.through):
            continue
        yield _own(each, site)
        yield _theirs(each, who, site)


def _own(each: Lapsing, site: Site) -> Duty:
    return Duty(
        topic=Topic.CERTIFICATE,
        subject=each.subject,
        title=each.title,
        words=f"It counts through that day. {_renew(each)}",
        due_on=each.through,
        days=_days(each, site),
        told=Told(owners=frozenset({each.person_id}), technicians=NOBODY, approvers=NOBODY),
        path="/me",
    )


def _theirs(each: Lapsing, who: Roles, site: Site) -> Duty:
    """Their own is told to somebody once, as its holder."""
    told = who.told({each.recorded_by_id} & who.everybody, ())
    holder = {each.person_id}
    return Duty(
        topic=Topic.CERTIFICATE,
        subject=f"{each.subject}:kept",
        title=f"A {each.duty}’s certificate: {each.title}" if each.duty else each.title,
        words=_RENEW_CERTIFICATE if each.duty else _FIT_AGAIN,
        due_on=each.through,
        days=_days(each, site),
        told=Told(
            owners=told.owners - holder,
            technicians=told.technicians - holder,
            approvers=told.approvers - holder,
        ),
        path="/first-aiders" if each.duty else f"/people/{each.person_id}",
    )


def _renew(each: Lapsing) -> str:
    if each.duty:
        return f"Without a newer one you are no {each.duty} here."
    return "Have it fitted again before then, or machines that need it answer no."


def _days(each: Lapsing, site: Site) -> tuple[int, ...]:
    """A course is not to be had next week, and neither is an examiner: the same days."""
    return site.remind_examination_days if each.duty else site.remind_days
