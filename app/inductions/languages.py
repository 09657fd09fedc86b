"""The languages that an induction can be written in: tag, own name, direction. Pure.

Tags are those of BCP 47 (RFC 5646), with the subtags of ISO 639; the names are what speakers call
their language, as the Unicode Common Locale Data Repository has them (from memory). A
language that is wanted and not here is one more line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Language:
    """A written language."""

    tag: str
    name: str  # as its speakers call it
    english: str
    direction: str = "ltr"  # or rtl: what the dir attribute of a page says


_LINES = """
ar|العربية|Arabic|rtl
bg|български|Bulgarian
bn|বাংলা|Bengali
cs|čeština|Czech
cy|Cymraeg|Welsh
da|dansk|Danish
de|Deutsch|German
el|Ελληνικά|Greek
en|English|English
es|español|Spanish
et|eesti|Estonian
fa|فارسی|Persian|rtl
fi|suomi|Finnish
fr|français|French
ga|Gaeilge|Irish
he|עברית|Hebrew|rtl
hi|हिन्दी|Hindi
hr|hrvatski|Croatian
hu|magyar|Hungarian
it|italiano|Italian
ja|日本語|Japanese
ko|한국어|Korean
lt|lietuvių|Lithuanian
lv|latviešu|Latvian
mt|Malti|Maltese
nb|norsk bokmål|Norwegian Bokmål
nl|Nederlands|Dutch
pa|ਪੰਜਾਬੀ|Punjabi
pl|polski|Polish
ps|پښتو|Pashto|rtl
pt|português|Portuguese
ro|română|Romanian
ru|русский|Russian
sk|slovenčina|Slovak
sl|slovenščina|Slovenian
sq|shqip|Albanian
sr|српски|Serbian
sv|svenska|Swedish
ta|தமிழ்|Tamil
tr|Türkçe|Turkish
uk|українська|Ukrainian
ur|اردو|Urdu|rtl
vi|Tiếng Việt|Vietnamese
zh-Hans|简体中文|Chinese, simplified
zh-Hant|繁體中文|Chinese, traditional
"""

LANGUAGES: dict[str, Language] = {
    tag: Language(tag=tag, name=name, english=english, direction=rest[0] if rest else "ltr")
    for tag, name, english, *rest in (line.split("|") for line in _LINES.split("\n") if line)
}


def language(tag: str) -> Language:
    """Return the language of a tag; one that is not known is shown by its tag, left to right.

    >>> language("ar").direction
    'rtl'
    """
    return LANGUAGES.get(tag) or Language(tag=tag, name=tag, english=tag)


def best(wanted: Iterable[str], offered: Iterable[str]) -> str | None:
    """Return which of the offered languages serves a reader best, or None.

    ``wanted``: tags as a browser lists them, the dearest first. They are matched by lookup of
    RFC 4647, section 3.4: a tag is cut from its end until one is offered.

    >>> best(["fr-CA", "en"], ["en", "fr"])
    'fr'
    """
    known = {tag.casefold(): tag for tag in offered}
    for tag in wanted:
        parts = tag.casefold().split("-")
        while parts:
            if (found := known.get("-".join(parts))) is not None:
                return found
            parts.pop()
            if parts and len(parts[-1]) == 1:  # a singleton falls with what it leads in
                parts.pop()
    return None
