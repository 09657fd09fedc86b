"""Which column is what: suggested from its heading, chosen by a person, remembered."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Mapping, Sequence
from enum import StrEnum

from app.transfer.sheet import Row

HEADINGS_AMONG = 20  # the first rows that hold anything


class Field(StrEnum):
    """What a column can say of a person."""

    NAME = "name"
    GIVEN = "given name"
    FAMILY = "family name"
    EMAIL = "e-mail"
    CARD = "card"
    KEY = "key of the registry"
    COHORT = "cohort"
    STARTS = "first day"
    ENDS = "last day"
    BORN = "born on"
    OF_AGE = "18 or over"


# Headings as they are met in exports of registries, in a few languages: common practice.
_SPELLINGS: dict[Field, str] = {
    Field.NAME: "name, full name, display name, person, student, student name, participant, member,"
    " nom complet, nombre completo, nome completo, vollständiger name, teilnehmer, naam",
    Field.GIVEN: "given name, first name, forename, given, first, preferred name, vorname, rufname,"
    " prénom, nombre, nome, voornaam, fornavn, förnamn, imię, etunimi, christian name",
    Field.FAMILY: "family name, last name, surname, family, last, nachname, familienname, zuname,"
    " nom, nom de famille, apellido, apellidos, cognome, achternaam, etternavn, efternamn,"
    " nazwisko, sukunimi",
    Field.EMAIL: "e-mail, mail, e-mail address, mail address, university e-mail, campus e-mail,"
    " login, upn, user principal name, courriel, adresse mail, correo, correo electrónico,"
    " e-mail-adresse, e-post, sähköposti, posta elettronica",
    Field.CARD: "card, card number, card no, card id, card uid, badge, badge number, barcode, rfid,"
    " access card, library card, ausweis, ausweisnummer, kartennummer, carte, tarjeta, tessera",
    Field.KEY: "id, key, registry key, student id, student no, student number, person id,"
    " person no, member id, member no, membership number, staff id, staff no, employee id,"
    " external id, candidate number, matriculation number, matrikelnummer, matrikel-nr, matricola,"
    " numéro étudiant, número de matrícula, personalnummer, studentnummer, uid, uuid, sid",
    Field.COHORT: "cohort, group, course, class, programme, program, year, year group, intake,"
    " course title, module, study programme, kohorte, gruppe, kurs, studiengang, jahrgang,"
    " groupe, promotion, cours, grupo, curso, corso, groep, opleiding",
    Field.STARTS: "starts, start, start date, starts on, first day, from, valid from, enrolled,"
    " enrolment date, registration date, member since, joined, von, ab, beginn, gültig ab,"
    " début, date de début, inicio, inizio, begin",
    Field.ENDS: "ends, end, end date, ends on, last day, until, to, valid to, valid until, expires,"
    " expiry, expiry date, expected end date, leaves, leaving date, bis, ende, gültig bis,"
    " fin, date de fin, hasta, fine, einde",
    Field.BORN: "born, born on, birth date, date of birth, dob, birthday, geburtsdatum, geburtstag,"
    " date de naissance, fecha de nacimiento, data di nascita, geboortedatum",
    Field.OF_AGE: "of age, adult, over 18, 18 or over, is adult, volljährig, majeur, mayor de"
    " edad, maggiorenne",
}


def plain(heading: str) -> str:
    """Return a heading as it is compared: without accents, case, signs or blanks."""
    split = unicodedata.normalize("NFKD", heading.casefold())
    return re.sub(r"[\W_]+", "", "".join(s for s in split if not unicodedata.combining(s)))


_KNOWN: dict[str, Field] = {
    plain(spelling): field for field, words in _SPELLINGS.items() for spelling in words.split(",")
}


def suggest(headings: Sequence[str]) -> dict[Field, int]:
    """Return, for what can be recognised, the number of its column; each column once."""
    found: dict[Field, int] = {}
    for column, heading in enumerate(headings):
        field = _KNOWN.get(plain(heading))
        if field is not None and field not in found:
            found[field] = column
    # "Name" beside a given name is the family name, as many registries have it.
    if Field.GIVEN in found and Field.FAMILY not in found and Field.NAME in found:
        found[Field.FAMILY] = found.pop(Field.NAME)
    return found


def headings_at(rows: Sequence[Row]) -> int:
    """Return which of the first rows holds the headings: the one of which most is recognised."""
    known = [len(suggest(cells)) for _number, cells in rows[:HEADINGS_AMONG]]
    return known.index(max(known)) if any(known) else 0


def headings_digest(headings: Sequence[str]) -> str:
    """Return what a row of headings is remembered under."""
    return hashlib.sha256("\n".join(map(plain, headings)).encode()).hexdigest()


def width(rows: Sequence[Row]) -> int:
    """Return how many columns hold anything."""
    return max(len(cells) for _number, cells in rows)


def letter(column: int) -> str:
    """Return the letters that a spreadsheet gives a column.

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'AA')
    """
    column, words = column + 1, ""
    while column:
        column, rest = divmod(column - 1, 26)
        words = chr(ord("A") + rest) + words
    return words


def missing(chosen: Mapping[Field, int]) -> str | None:
    """Say what must still be chosen, or None."""
    if Field.NAME not in chosen and not {Field.GIVEN, Field.FAMILY} <= chosen.keys():
        return "Choose the column of the name, or those of given and family name."
    if not {Field.KEY, Field.EMAIL, Field.CARD} & chosen.keys():
        return (
            "Choose a column by which the same person is known again: the key of the registry, "
            "the card or the e-mail."
        )
    if Field.NAME in chosen and {Field.GIVEN, Field.FAMILY} & chosen.keys():
        return "Choose either the whole name, or given and family name."
    if len(set(chosen.values())) < len(chosen):
        return "Each column can be one thing only."
    return None
