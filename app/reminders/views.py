"""The pages of reminders: one's own, what went out, and the addresses that work signed out."""

from __future__ import annotations

from flask import Blueprint, Flask, Response, current_app, flash, render_template, url_for
from flask.blueprints import BlueprintSetupState
from flask_login import user_logged_in
from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response as Answer

from app.errors import BadInput, NotFound
from app.forms import choice, redirect_to, text, whole_or_none
from app.machines.areas import area_or_404
from app.machines.models import Area
from app.parts import now, parts, reading, this_site, writing
from app.people.access import PUBLIC, SIGNED_IN, access, actor, insist
from app.people.identity import Actor
from app.people.models import Person
from app.people.rights import Act
from app.reminders import shown
from app.reminders.choices import STOPPABLE, choose
from app.reminders.due import lines
from app.reminders.feeds import close_feed, feed_or_404, feeds_of, open_feed, written
from app.reminders.gather import hours_of, known, stopped, today_of
from app.reminders.known import Line, Topic
from app.reminders.links import feed_of, feed_token, person_of_stop
from app.reminders.mail import grouped
from app.reminders.models import CalendarFeed
from app.reminders.plan import plan
from app.reminders.quiet import may_send
from app.sessions.calendar import MEDIA_TYPE

bp = Blueprint("reminders", __name__)


def _standing(session: Session, person_id: int) -> list[Line]:
    """Return what somebody would be told now, whether it was sent or not."""
    site = this_site()
    theirs = known(session, now=now(), site=site, only=person_id)
    found = lines(theirs, today_of(session, site, now()))
    return [line for line in found if line.person_id == person_id]


def _secret() -> str:
    return str(current_app.config["SECRET_KEY"])


# --- one's own ---------------------------------------------------------------------------


@bp.get("/me/reminders")
@access(SIGNED_IN)
def mine() -> str:
    """Show what stands for whoever looks, what they were sent, and what they may do without."""
    session, me = reading(), actor()
    off = {topic for _person, topic in stopped(session, me.id)}
    feeds = feeds_of(session, me.id)
    names = {area.id: area.name for area in session.execute(select(Area)).scalars()}
    return render_template(
        "reminders/mine.html",
        groups=grouped(_standing(session, me.id)),
        email=session.get_one(Person, me.id).email,
        mailed=parts().settings.smtp is not None,
        stoppable=[(topic, topic in off) for topic in STOPPABLE],
        always=[topic for topic in Topic if not topic.stoppable],
        sent=shown.sent_to(session, me.id),
        feeds=[(row, names.get(row.area_id or 0, ""), _address(row)) for row in feeds],
        areas=[
            (area_id, name)
            for area_id, name in sorted(names.items(), key=lambda each: each[1])
            if me.may(Act.CHECK, area_id=area_id)
        ],
    )


def _address(row: CalendarFeed) -> str:
    path = url_for("reminders.calendar", feed=feed_token(row.id, secret=_secret()))
    return f"{parts().settings.public_url}{path}"


def _say_at_the_sign_in(_app: Flask, user: Actor) -> None:
    """Tell whoever gets no mails, as they sign in, how many reminders stand for them."""
    session = reading()
    if parts().settings.smtp is not None and session.get_one(Person, user.id).email is not None:
        return
    count = len(_standing(session, user.id))
    if count:
        things = "reminder" if count == 1 else "reminders"
        flash(f"{count} {things} for you: see “Your reminders” on the page of your machines.")


@bp.record
def _when_somebody_signs_in(state: BlueprintSetupState) -> None:
    user_logged_in.connect(_say_at_the_sign_in, state.app)


@bp.post("/me/reminders")
@access(SIGNED_IN)
def choose_own() -> Answer:
    """Start or stop one sort of reminders."""
    topic, wanted = choice("topic", Topic), text("wanted", most=3)
    if wanted not in ("yes", "no"):
        raise BadInput("Say yes or no.", status=422)
    with writing() as session:
        choose(session, actor().id, (topic,), wanted=wanted == "yes", by_link=False, now=now())
    flash("You are reminded of it again." if wanted == "yes" else "Stopped.")
    return redirect_to(url_for("reminders.mine"))


# --- calendars ---------------------------------------------------------------------------


@bp.post("/me/calendars")
@access(SIGNED_IN)
def new_calendar() -> Answer:
    """Give an address for one's own calendar, or for that of an area one looks after."""
    area_id = whole_or_none("area_id")
    with writing() as session:
        if area_id is not None:
            area_or_404(session, area_id)
            insist(Act.CHECK, area_id=area_id)
        open_feed(session, person_id=actor().id, area_id=area_id, now=now())
    flash("Here is the address. Whoever has it reads the calendar: give it to nobody.")
    return redirect_to(url_for("reminders.mine", _anchor="calendars"))


@bp.post("/me/calendars/<int:feed_id>/end")
@access(SIGNED_IN)
def end_calendar(feed_id: int) -> Answer:
    with writing() as session:
        own = {row.id: row for row in feeds_of(session, actor().id)}
        if feed_id not in own:
            raise NotFound("You have no such calendar.")
        close_feed(session, own[feed_id], now=now())
    flash("That address is worth nothing any more.")
    return redirect_to(url_for("reminders.mine", _anchor="calendars"))


@bp.get("/calendar/<feed>.ics")
@access(PUBLIC)
def calendar(feed: str) -> Response:
    """Hand a calendar out to whoever has its address: no calendar program signs in."""
    session, site = reading(), this_site()
    row = feed_or_404(session, feed_of(feed, secret=_secret()), now=now(), site=site)
    public_url = parts().settings.public_url
    answer = Response(
        written(session, row, now=now(), site=site, public_url=public_url),
        content_type=MEDIA_TYPE,
    )
    answer.headers["Content-Disposition"] = 'inline; filename="calendar.ics"'
    return answer


# --- stopped from a mail -----------------------------------------------------------------


@bp.get("/reminders/stop/<stop>")
@access(PUBLIC)
def stop_page(stop: str) -> str:
    """Ask before anything is stopped: a program that looks at links must change nothing."""
    person_of_stop(stop, secret=_secret())
    return render_template("reminders/stop.html", stop=stop, done=False)


@bp.post("/reminders/stop/<stop>")
@access(PUBLIC)
def stop_now(stop: str) -> str:
    """Stop what may be stopped, from the page or from a mail program's own button (RFC 8058).

    No sign-in and no token of a form: the signed address itself says who may, and nothing else
    can be done with it.
    """
    person_id = person_of_stop(stop, secret=_secret())
    with writing() as session:
        choose(session, person_id, STOPPABLE, wanted=False, by_link=True, now=now())
    return render_template("reminders/stop.html", stop=stop, done=True)


# --- what went out -----------------------------------------------------------------------


@bp.get("/reminders")
@access(Act.SEE_PEOPLE)
def sent() -> str:
    """Show what went out, what did not arrive, and who has to be told by somebody."""
    session, site = reading(), this_site()
    smtp = parts().settings.smtp
    found = plan(session, now=now(), site=site)
    return render_template(
        "reminders/sent.html",
        state=shown.mail_state(session, set_up=smtp is not None, now=now()),
        days=shown.days_of_mails(session, now=now()),
        failed=shown.not_delivered(session, now=now()),
        without=[(letter.to, grouped(letter.lines)) for letter in found.without_mail],
        next_up=(len(found.letters), sum(len(each.lines) for each in found.letters)),
        mailed=smtp is not None,
        quiet=not may_send(hours_of(session, site), now(), site.tz),
        site=site,
    )
