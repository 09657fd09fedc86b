"""What every answer carries: a policy that lets no script in, and cookies kept to themselves."""

from __future__ import annotations

from html.parser import HTMLParser
from http.cookies import SimpleCookie

import pytest

from app import create_app
from app.settings import settings_from
from tests.app.walk import rules
from tests.factories import PASSWORD, Workshop

EXPECTED = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class Inline(HTMLParser):
    """Collects what a policy without 'unsafe-inline' would stop, and what leads elsewhere."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "style" or (tag == "script" and "src" not in given):
            self.found.append(f"<{tag}>")
        for name, value in given.items():
            if name == "style" or name.startswith("on"):
                self.found.append(f"{tag} {name}={value}")
            elsewhere = (value or "").lower().startswith(("http:", "https:", "//", "javascript:"))
            if name in ("href", "src", "action", "formaction", "data") and elsewhere:
                self.found.append(f"{tag} {name}={value}")


def directives(policy: str) -> dict[str, list[str]]:
    return {words[0]: words[1:] for part in policy.split(";") if (words := part.split())}


def test_no_page_has_a_script_or_a_style_of_its_own_or_loads_from_elsewhere(app, world, visitor):
    pages = 0
    for who in (None, world.technician, world.shop.chief):
        if who is not None:
            visitor.sign_in(who)
        for rule in rules(app, "GET"):
            with visitor.get(world.address(app, rule)) as answer:
                if answer.mimetype in ("text/html", "image/svg+xml"):
                    pages += 1
                    assert Inline(answer.get_data(as_text=True)).found == [], rule
    assert pages > 20


def test_every_answer_carries_the_headers(app, world, visitor):
    visitor.sign_in(world.technician)
    addresses = [world.address(app, rule) for rule in rules(app, "GET")]
    for address in [*addresses, "/nowhere", "/m/UNKNOWN", "/people/999999"]:
        with visitor.get(address) as answer:
            headers = answer.headers
        for name, value in EXPECTED.items():
            assert headers[name] == value, (address, name)
        policy = directives(headers["Content-Security-Policy"])
        assert policy["default-src"] == ["'none'"], address
        assert policy["frame-ancestors"] == ["'none'"]
        assert policy["base-uri"] == ["'none'"]
        assert policy["form-action"] == ["'self'"]
        allowed = {word for words in policy.values() for word in words}
        assert allowed <= {"'none'", "'self'"}, address


def test_no_answer_about_a_person_is_kept_by_a_shared_cache(app, world, visitor):
    visitor.sign_in(world.technician)
    for rule in rules(app, "GET"):
        if rule.endpoint in ("static", "scan.sign_image"):
            continue
        control = visitor.get(world.address(app, rule)).headers["Cache-Control"]
        assert "public" not in control, rule
        assert control == "no-store", rule


def test_a_scan_is_not_kept_by_the_browser(world, visitor):
    assert visitor.get(f"/m/{world.code}").headers["Cache-Control"] == "no-store"


def cookies(answer) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {}
    for line in answer.headers.getlist("Set-Cookie"):
        for name, morsel in SimpleCookie(line).items():
            found[name] = dict(morsel.items())
    return found


@pytest.mark.parametrize("scheme", ["http", "https"])
def test_cookies_are_kept_from_scripts_and_other_sites(settings, clock, scheme):
    environ = {"CHUCKKEY_PUBLIC_URL": f"{scheme}://workshop.example"}
    app = create_app(settings_from(environ, data=settings.data), clock=clock)
    app.config["WTF_CSRF_ENABLED"] = False
    database = app.extensions["chuckkey"].database
    technician = Workshop(database, clock).author
    client = app.test_client()
    sent = {"login": technician.email, "password": PASSWORD}
    base = f"{scheme}://workshop.example"
    given = cookies(client.post("/sign-in", data=sent, base_url=base))
    assert set(given) == {"chuckkey", "chuckkey_remembered"}
    given |= cookies(client.post("/device", data={"name": "Tablet"}, base_url=base))
    assert "chuckkey_device" in given
    for name, flags in given.items():
        if flags["expires"] and "1970" in str(flags["expires"]):
            continue  # one that is taken back
        assert flags["httponly"] is True, name
        assert flags["samesite"] == "Lax", name
        assert bool(flags["secure"]) is (scheme == "https"), name
    database.close()


def test_a_cookie_that_was_tampered_with_is_nobody(world, visitor):
    visitor.sign_in(world.technician)
    for name in ("chuckkey", "chuckkey_remembered"):
        kept = visitor.client.get_cookie(name)
        visitor.client.set_cookie(name, kept.value[:-3] + "AAA")
    assert visitor.get("/me").status_code == 303
