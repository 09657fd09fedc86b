"""Chuckkey, put together. The only place that knows every part."""

from __future__ import annotations

import secrets

from flask import Flask
from flask_wtf.csrf import CSRFProtect
from jinja2 import StrictUndefined
from werkzeug.middleware.proxy_fix import ProxyFix

from app import parts, web, words
from app.actions.owners import names_to_choose
from app.authoring import views as authoring
from app.calculations import views as calculations
from app.clearance import checks
from app.clearance import override_views as overrides
from app.clearance import views as clearance
from app.clock import Clock
from app.dates import local_date
from app.db import Database
from app.desk import views as desk
from app.documents import views as documents
from app.documents import work_views as work
from app.house import views as house
from app.inductions import reader_views as reader
from app.labels import views as labels
from app.machines import area_views as areas
from app.machines import edit_views as machine_edit
from app.machines import views as machines
from app.matrix import views as matrix
from app.oversight import finding_views as audits
from app.oversight import readiness_views as readiness
from app.own import views as own
from app.pack import views as pack
from app.paper import morning_views as morning
from app.paper import views as paper
from app.people import access, people_pages, session, visitor_pages
from app.people import views as people
from app.presence import booking_views as bookings
from app.presence import duty_views as duty
from app.presence import use_views as uses
from app.publishing import views as risk_assessments
from app.reminders import views as reminders
from app.reporting import views as reporting
from app.retention import views as retention
from app.rounds import views as rounds
from app.scan import job_views as jobs
from app.scan import loan_views as loans
from app.scan import views as scan
from app.sessions import views as sessions
from app.settings import Settings, settings_from
from app.storage import Files
from app.training import file_views as person_file
from app.training import own_views as own_path
from app.training import views as training
from app.transfer import views as transfer


def create_app(settings: Settings | None = None, *, clock: Clock | None = None) -> Flask:
    """Put the program together. The schema must be in order: see `app.schema.prepare`."""
    from app.cli import commands  # it imports the parts below by itself

    settings = settings or settings_from()
    app = Flask(__name__)
    app.config.update(
        SECRET_KEY=settings.secret_key,
        SESSION_COOKIE_NAME="chuckkey",
        SESSION_COOKIE_SECURE=settings.secure_cookies,
        SESSION_COOKIE_HTTPONLY=True,
        # Lax: the phone's camera opens the address of a label from outside the browser.
        SESSION_COOKIE_SAMESITE="Lax",
        REMEMBER_COOKIE_NAME="chuckkey_remembered",
        REMEMBER_COOKIE_SECURE=settings.secure_cookies,
        REMEMBER_COOKIE_HTTPONLY=True,
        REMEMBER_COOKIE_SAMESITE="Lax",
        MAX_CONTENT_LENGTH=1024 * 1024,
        MAX_FORM_MEMORY_SIZE=256 * 1024,
        MAX_FORM_PARTS=500,
        # A form is good for as long as its sign-in: a sign-off takes as long as it takes.
        WTF_CSRF_TIME_LIMIT=None,
        WTF_CSRF_SSL_STRICT=True,
    )
    app.extensions["chuckkey"] = parts.Parts(
        settings=settings,
        database=Database(settings.database_url),
        clock=clock or Clock(),
        files=Files(settings.files),
    )
    if settings.proxies:
        # Believe as many proxies as the site says it has, and no header beyond them.
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=settings.proxies, x_proto=settings.proxies)  # type: ignore[method-assign]
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    # A form that is opened gets a key of its own: sent twice, it is recorded once.
    app.jinja_env.globals.update(
        new_key=lambda: secrets.token_urlsafe(16),
        owner_names=lambda: names_to_choose(
            parts.reading(), local_date(parts.now(), parts.this_site().tz)
        ),
    )
    web.allow_files(app)
    # The address that stops reminders is signed and works from a mail program: RFC 8058.
    CSRFProtect(app).exempt(reminders.stop_now)
    app.teardown_appcontext(parts.end_of_request)
    for part in (web, words, session, access):
        part.init_app(app)
    for capability in (
        people,
        people_pages,
        visitor_pages,
        machines,
        areas,
        machine_edit,
        house,
        reader,
        desk,
        matrix,
        checks,
        calculations,
        authoring,
        risk_assessments,
        training,
        person_file,
        own_path,
        clearance,
        overrides,
        reminders,
        reporting,
        audits,
        readiness,
        pack,
        rounds,
        sessions,
        paper,
        morning,
        documents,
        labels,
        own,
        work,
        transfer,
        retention,
        scan,
        uses,
        duty,
        jobs,
        loans,
        bookings,
    ):
        app.register_blueprint(capability.bp)
    for command in commands.commands.values():
        app.cli.add_command(command)
    return app
