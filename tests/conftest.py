"""What tests share: a migrated database of their own, a clock that stands still, a client."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import FileSystemBytecodeCache
from werkzeug.routing import Rule

from app import create_app, schema
from app.clock import FixedClock
from app.db import Database
from app.people.models import Person
from app.settings import Settings, settings_from
from tests.app.walk import World, build
from tests.factories import NOW, PASSWORD, Workshop

_BUILDERS: dict[tuple[object, ...], Callable[..., object]] = {}
_compile_builder = Rule._compile_builder


def _compiled_once(rule: Rule, append_unknown: bool = True) -> Callable[..., object]:
    """Compile what builds an address once for all tests: each of them makes the program anew.

    Werkzeug's own result depends on the words of the rule alone.
    """
    defaults = tuple(sorted((rule.defaults or {}).items()))
    key = (rule.rule, rule.subdomain, rule.host, defaults, append_unknown)
    if key not in _BUILDERS:
        _BUILDERS[key] = _compile_builder(rule, append_unknown)
    return _BUILDERS[key]


Rule._compile_builder = _compiled_once  # type: ignore[method-assign]


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock(NOW)


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database that was brought up by the migrations, copied for each test."""
    path = tmp_path_factory.mktemp("migrated") / "chuckkey.sqlite"
    database = Database(f"sqlite:///{path}")
    schema.upgrade(database)
    database.close()
    return path


@pytest.fixture(scope="session")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("compiled")


@pytest.fixture
def settings(tmp_path: Path, migrated: Path) -> Settings:
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(migrated, folder / "chuckkey.sqlite")
    return settings_from({}, data=folder)


@pytest.fixture
def app(settings: Settings, clock: FixedClock, compiled: Path) -> Iterator[Flask]:
    app = create_app(settings, clock=clock)
    # Each test makes the program anew; its templates need not be compiled anew.
    app.jinja_env.bytecode_cache = FileSystemBytecodeCache(str(compiled))
    # Tests send forms without opening them first; tests/app/test_csrf.py leaves the guard on.
    app.config.update(TESTING=False, WTF_CSRF_ENABLED=False)
    yield app
    app.extensions["chuckkey"].database.close()


@pytest.fixture
def database(app: Flask) -> Database:
    found: Database = app.extensions["chuckkey"].database
    return found


@pytest.fixture
def shop(database: Database, clock: FixedClock) -> Workshop:
    return Workshop(database, clock)


class Visitor:
    """Somebody with a browser of their own."""

    def __init__(self, client: FlaskClient) -> None:
        self.client = client
        self.get = client.get
        self.post = client.post

    def sign_in(self, person: Person, password: str = PASSWORD) -> Visitor:
        answer = self.client.post("/sign-in", data={"login": person.email, "password": password})
        assert answer.status_code == 303, answer.text
        return self


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    return Visitor(app.test_client())


@pytest.fixture
def another(app: Flask) -> Visitor:
    return Visitor(app.test_client())


@pytest.fixture
def postgresql(tmp_path: Path) -> Iterator[Database]:
    """An empty PostgreSQL database of this test's own."""
    url = os.environ.get("CHUCKKEY_TEST_POSTGRESQL")
    if not url:
        pytest.skip("no PostgreSQL server was started for the tests")
    from sqlalchemy import create_engine, make_url, text

    name = f"chuckkey_{os.getpid()}_{abs(hash(str(tmp_path))) % 10**8}"
    server = create_engine(url, isolation_level="AUTOCOMMIT")
    with server.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    database = Database(make_url(url).set(database=name).render_as_string(hide_password=False))
    yield database
    database.close()
    with server.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    server.dispose()


@pytest.fixture
def world(shop: Workshop) -> World:
    """One of everything, so that every page can be asked for."""
    return build(shop)


@pytest.fixture
def guarded(settings: Settings, clock: FixedClock) -> Iterator[Flask]:
    """The program as it is served: the guard against forged forms is on."""
    app = create_app(settings, clock=clock)
    yield app
    app.extensions["chuckkey"].database.close()


@pytest.fixture
def register(postgresql: Database, clock: FixedClock) -> Workshop:
    """A workshop on PostgreSQL."""
    schema.upgrade(postgresql)
    return Workshop(postgresql, clock)
