"""Joining keeps everything that a part has, mixes no two parts up, and stamps each page."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from pypdf import PdfReader

from assessments.document.carrying import leaves
from assessments.document.joining import (
    PAGE_LINK,
    Joined,
    Joint,
    drawn_digest,
    join,
    look,
)
from assessments.errors import Refused
from tests.unit.document.parts import CSV, DAY, part, two

OF = {"title": "The yearly <pack>", "name": "Pack 2026", "language": "en-GB", "on": DAY}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Joint], Joined]:
    folder = tmp_path_factory.mktemp("joined")
    parts = two(folder)
    out = folder / "whole.pdf"
    return out, parts, join(parts, out, beside=lambda _: [CSV], **OF)


@pytest.fixture(scope="module")
def whole(made: tuple[Path, list[Joint], Joined]) -> pikepdf.Pdf:
    return pikepdf.open(made[0])


def told(element: Any) -> Any:
    """Return a tree of tags as words: what each is, and how much drawing it stands for."""
    if isinstance(element, int):
        return "drawing"
    if isinstance(element, pikepdf.Dictionary) and "/S" in element:
        kids: Any = element.get("/K", pikepdf.Array())
        kids = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
        return [str(element.S), *(told(kid) for kid in kids)]
    return sorted(element.keys())


def test_the_pages_of_all_parts_follow_each_other(made, whole) -> None:
    out, parts, joined = made
    assert (joined.pages, len(whole.pages)) == ((2, 2), 4)
    assert look(parts[0].path, "first").pages == 2
    words = [page.extract_text() for page in PdfReader(out).pages]
    assert "First part" in words[0]
    assert "The end of Zweiter Teil: säge." in words[3]


def test_each_page_says_which_it_is_of_what_as_an_artifact(made, whole) -> None:
    digest = hashlib.sha256(CSV.data).hexdigest()[:16]
    for number, page in enumerate(PdfReader(made[0]).pages, start=1):
        line = f"page {number} of 4 of the whole: Pack 2026, {digest}"
        assert line in page.extract_text()
    for page in whole.pages:
        stamp = page.obj.Contents[-1].read_bytes()
        assert stamp.startswith(b"Q\n/Artifact << /Type /Pagination")
        assert b"MCID" not in stamp


def test_the_tags_of_each_part_are_as_they_were(made, whole) -> None:
    _, parts, _ = made
    (document,) = whole.Root.StructTreeRoot.K
    assert document.S == "/Document"
    for each, carried in zip(parts, document.K, strict=True):
        with pikepdf.open(each.path) as alone:
            before = told(alone.Root.StructTreeRoot.K[0])
        after = told(carried)
        assert (before[0], after[0]) == ("/Document", "/Part")
        assert before[1:] == after[1:]
        assert len(str(before)) > 300
        assert str(carried.T) == each.title


def test_every_drawing_leads_to_its_own_tag(whole) -> None:
    """ISO 32000-1, 14.7.4.4: entry MCID of the array under a page's StructParents is its tag."""
    parents = {int(k): v for k, v in leaves(whole.Root.StructTreeRoot.ParentTree, "/Nums")}
    keys = [int(page.obj.StructParents) for page in whole.pages]
    assert len(set(keys)) == 4
    asked = 0
    for page in whole.pages:
        tags = parents[int(page.obj.StructParents)]
        for number, tag in enumerate(tags):
            kids: Any = tag.get("/K")
            kids = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
            of_page = [k.get("/MCID") if isinstance(k, pikepdf.Dictionary) else k for k in kids]
            assert number in of_page
            assert tag.Pg.objgen == page.obj.objgen
            asked += 1
    assert asked > 20


def test_two_parts_with_the_same_identifier_keep_theirs_apart(whole) -> None:
    names = [bytes(name) for name, _ in leaves(whole.Root.StructTreeRoot.IDTree, "/Names")]
    assert len(set(names)) == len(names) > 1
    assert names == sorted(names)
    assert {name[:2] for name in names} == {b"a/", b"b/"}
    for name, tag in leaves(whole.Root.StructTreeRoot.IDTree, "/Names"):
        assert bytes(tag.ID) == bytes(name)


def test_links_lead_to_their_own_part_and_across(whole) -> None:
    names = {bytes(name): to for name, to in leaves(whole.Root.Names.Dests, "/Names")}
    links = [
        [bytes(link.get("/Dest", link.get("/A", {}).get("/D"))) for link in page.obj.Annots]
        for page in whole.pages
        if "/Annots" in page.obj
    ]
    assert links == [[b"a/end", b"b/", b"b/end"], [b"b/end"]]
    pages = [page.obj.objgen for page in whole.pages]
    assert pages.index(names[b"a/end"][0].objgen) == 1
    assert pages.index(names[b"b/"][0].objgen) == 2
    assert pages.index(names[b"b/end"][0].objgen) == 3


def test_the_outline_has_a_line_for_each_part_and_theirs_below(whole) -> None:
    pages = [page.obj.objgen for page in whole.pages]
    with whole.open_outline() as outline:
        found = [(str(each.title), [str(e.title) for e in each.children]) for each in outline.root]
        starts = [
            pages.index(each.to_dictionary_object(whole).Dest[0].objgen)
            if each.destination is None
            else pages.index(each.destination[0].objgen)
            for each in outline.root
        ]
    assert [title for title, _ in found] == ["First part", "Zweiter Teil: säge"]
    assert found[0][1] == ["More of First part"]  # its own title is not said twice
    assert starts == [0, 2]


def test_pages_have_labels_of_their_part(made) -> None:
    assert PdfReader(made[0]).page_labels == ["A-1", "A-2", "B-1", "B-2"]


def test_files_ride_with_their_type_and_relationship(whole) -> None:
    files = {str(spec.UF): spec for _, spec in leaves(whole.Root.Names.EmbeddedFiles, "/Names")}
    assert sorted(files) == ["a-text.json", "b-text.json", "rows.csv"]
    assert {spec.objgen for spec in files.values()} == {spec.objgen for spec in whole.Root.AF}
    assert files["rows.csv"].EF.F.read_bytes() == CSV.data
    assert files["rows.csv"].EF.F.Subtype == "/text/csv"
    assert files["rows.csv"].AFRelationship == "/Data"
    assert files["b-text.json"].EF.F.read_bytes() == '"Zweiter Teil: säge"'.encode()
    assert files["b-text.json"].AFRelationship == "/Source"


def test_what_is_drawn_has_the_same_digest_before_and_after(made, whole) -> None:
    _, parts, joined = made
    pages = [page.obj for page in whole.pages]
    assert joined.drawn == (drawn_digest(pages[:2]), drawn_digest(pages[2:]))
    for each, drawn in zip(parts, joined.drawn, strict=True):
        with pikepdf.open(each.path) as alone:
            assert drawn_digest(page.obj for page in alone.pages) == drawn
    assert len(set(joined.drawn)) == 2


def test_what_is_added_to_a_stamp_is_no_stamp_any_more(made) -> None:
    out, _, joined = made
    with pikepdf.open(out) as pdf:
        page = pdf.pages[0]
        stamp = page.obj.Contents[-1].read_bytes()
        page.obj.Contents[-1] = pdf.make_stream(stamp + b"0 0 100 100 re f\n")
        assert drawn_digest(p.obj for p in list(pdf.pages)[:2]) != joined.drawn[0]


def test_a_link_of_the_contents_leads_to_the_page_that_it_names(tmp_path: Path) -> None:
    lead = f'<a href="{PAGE_LINK}3">3</a>'
    parts = [part(tmp_path, "a", "Contents", link=lead), part(tmp_path, "b", "Second")]
    join(parts, tmp_path / "out.pdf", **OF)
    with pikepdf.open(tmp_path / "out.pdf") as pdf:
        link = pdf.pages[0].obj.Annots[1]
        assert link.Dest[0].objgen == pdf.pages[2].obj.objgen
        assert "/A" not in link
    parts[0] = part(tmp_path, "a", "Contents", link=lead.replace("3", "9"))
    with pytest.raises(Refused, match="page 9"):
        join(parts, tmp_path / "again.pdf", **OF)


def test_files_below_another_stand_below_it_and_go_on_counting(made, tmp_path: Path) -> None:
    one = replace(made[1][1], key="", label="5")
    more = [replace(one, title="Bound", level=1), replace(one, title="Rest", listed=False)]
    join([one, *more], tmp_path / "out.pdf", **OF)
    reader = PdfReader(tmp_path / "out.pdf")
    assert reader.page_labels == ["5-1", "5-2", "5-3", "5-4", "5-5", "5-6"]
    with pikepdf.open(tmp_path / "out.pdf") as pdf, pdf.open_outline() as outline:
        (first,) = outline.root
        more = f"More of {one.title}"
        assert [str(each.title) for each in first.children] == [more, "Bound", more]


def test_a_file_that_is_no_pdf_is_not_joined(tmp_path: Path) -> None:
    bad = tmp_path / "bad.pdf"
    bad.write_bytes(b"not a document")
    with pytest.raises(pikepdf.PdfError):
        join([Joint(path=bad, title="bad")], tmp_path / "out.pdf", **OF)
    assert not (tmp_path / "out.pdf").exists()


def test_the_same_parts_give_the_same_bytes_and_what_they_share_is_there_once(
    made, tmp_path: Path
) -> None:
    out, parts, _ = made
    again = tmp_path / "again.pdf"
    join(parts, again, beside=lambda _: [CSV], **OF)
    assert again.read_bytes() == out.read_bytes()
    copies = [replace(parts[0], key=f"p{at}") for at in range(12)]
    copies = [replace(each, path=parts[1].path) for each in copies]  # which links to no other part
    sizes = []
    for many in (2, 7, 12):
        join(copies[:many], again, **OF)
        sizes.append(again.stat().st_size)
    steps = [later - earlier for earlier, later in pairwise(sizes)]
    assert max(steps) < 5 * parts[1].path.stat().st_size / 3, "fonts are written once"
    assert max(steps) < 1.2 * min(steps), "linear"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda parts: [parts[0]], "leads to the part “b”"),
        (lambda parts: [parts[1], parts[1]], "two have it"),
        (lambda parts: [replace(parts[1], key="B/")], "cannot be the key"),
    ],
)
def test_what_cannot_be_joined_is_refused(made, tmp_path: Path, change, words: str) -> None:
    with pytest.raises(Refused, match=words):
        join(change(made[1]), tmp_path / "out.pdf", **OF)


def test_a_part_without_tags_or_claims_is_refused(made, tmp_path: Path) -> None:
    plain = tmp_path / "plain.pdf"
    with pikepdf.open(made[1][1].path) as pdf:
        del pdf.Root["/StructTreeRoot"]
        pdf.save(plain)
    with pytest.raises(Refused, match="not a tagged PDF/A-3a"):
        join([replace(made[1][1], path=plain)], tmp_path / "out.pdf", **OF)


def test_a_name_that_the_stamp_cannot_draw_is_refused(made, tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"U\+1F525"):
        join([made[1][1]], tmp_path / "out.pdf", **{**OF, "name": "Pack \U0001f525"})


@pytest.mark.parametrize(
    "words", ["(12 0 R) \\) /ID (x)", "]]> &lt;script&gt;", "\u202eright to left"]
)
def test_words_that_look_like_pdf_are_words(tmp_path: Path, words: str) -> None:
    one = part(tmp_path, "odd", f"Odd {words}", words=words)
    out = tmp_path / "out.pdf"
    join([one], out, **OF)
    with pikepdf.open(out) as pdf, pdf.open_outline() as outline:
        assert pdf.check_pdf_syntax() == []
        with pikepdf.open(one.path) as alone, alone.open_outline() as before:
            assert outline.root[0].children[0].title == before.root[0].children[0].title
