"""What every page and answer has in common: headers, words, and how an error looks."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, TypeVar

from flask import Flask, Response, current_app, jsonify, request
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import DataError, DBAPIError
from werkzeug.exceptions import HTTPException
from werkzeug.routing import IntegerConverter

from app.errors import Refused
from assessments.errors import Refused as CalculationRefused

log = logging.getLogger(__name__)

View = TypeVar("View", bound=Callable[..., Any])

POLICY = (
    "default-src 'none'; img-src 'self'; style-src 'self'; font-src 'self'; script-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)

_PLAIN = {
    400: "That could not be read.",
    403: "That is not for you.",
    404: "There is no such page.",
    405: "That cannot be done this way.",
    413: "That is too large. Nothing was recorded.",
    414: "That address is too long.",
    415: "That is not a kind of content that is read here.",
    500: "Something broke here. Nothing was half written. Tell a technician.",
}


class RowNumber(IntegerConverter):
    """The number of a row in an address: no more digits than every database can hold."""

    regex = "[0-9]{1,18}"


def takes_files(most: int) -> Callable[[View], View]:
    """Let a view take more bytes than the program's forms: a picture, a report."""

    def declare(view: View) -> View:
        view.most_bytes = most  # type: ignore[attr-defined]
        return view

    return declare


def allow_files(app: Flask) -> None:
    """Stand before everything that reads a form, the guard against forged ones first of all."""

    @app.before_request
    def allow() -> None:
        if request.endpoint is not None:
            most = getattr(current_app.view_functions[request.endpoint], "most_bytes", None)
            if most is not None:
                request.max_content_length = most


def init_app(app: Flask) -> None:
    app.url_map.converters["int"] = RowNumber
    app.after_request(_headers)
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(CalculationRefused, _calculation_refused)
    app.register_error_handler(CSRFError, _csrf)
    app.register_error_handler(DBAPIError, _database)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Exception, _broken)


def _headers(response: Response) -> Response:
    headers = response.headers
    headers.setdefault("Content-Security-Policy", POLICY)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    headers.setdefault("Referrer-Policy", "same-origin")
    headers.setdefault("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
    # Going back shows nothing old: neither an answer of yesterday nor somebody else's file.
    headers.setdefault("Cache-Control", "no-store")
    return response


def asks_for_json() -> bool:
    """Say whether whoever asks would rather read JSON than a page."""
    wants = request.accept_mimetypes
    return bool(wants["application/json"] > wants["text/html"])


def answer_error(code: str, sentence: str, status: int) -> tuple[Any, int]:
    """Return an error as a page, or as JSON to whoever asked for that.

    The page touches neither the session nor the database: it must work when they do not.
    """
    if asks_for_json():
        return jsonify(error={"code": code, "message": sentence, "fields": {}}), status
    # Past Flask's own renderer, which would look up who is signed in.
    page = current_app.jinja_env.get_template("error.html")
    return page.render(sentence=sentence, status=status), status


def _refused(error: Refused) -> tuple[Any, int]:
    return answer_error(error.code, error.sentence, error.status)


def _calculation_refused(error: CalculationRefused) -> tuple[Any, int]:
    return answer_error("refused", error.sentence, 422)


def _csrf(_error: CSRFError) -> tuple[Any, int]:
    return answer_error(
        "page-too-old",
        "This page was open too long, or in another sign-in. Nothing was recorded. "
        "Go back, reload the page, and send it again.",
        400,
    )


def _database(error: DBAPIError) -> tuple[Any, int]:
    words = str(error.orig).lower()
    log.warning("database refused: %s", error.orig)
    if isinstance(error, DataError):  # a number or a character that the database cannot hold
        return answer_error("bad-input", _PLAIN[400], 400)
    if any(sign in words for sign in ("locked", "busy", "lock timeout", "deadlock")):
        sentence = "The register is busy. Nothing was recorded; try again in a moment."
    elif "readonly" in words or "read-only" in words:
        sentence = "The register can only be read at present. Nothing was recorded."
    elif "evidence is never changed" in words:
        sentence = "Evidence is never changed. Nothing was recorded."
    else:
        log.error("database failed", exc_info=error)
        sentence = "The register cannot be reached. Nothing was recorded; tell a technician."
    return answer_error("register-unavailable", sentence, 503)


def _http(error: HTTPException) -> Any:
    status = error.code or 500
    if error.response is not None or status < 400:
        return error
    return answer_error(f"http-{status}", _PLAIN.get(status, error.name + "."), status)


def _broken(error: Exception) -> tuple[Any, int]:
    log.error("a page broke", exc_info=error)
    return answer_error("broken", _PLAIN[500], 500)
