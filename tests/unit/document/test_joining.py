"""Joined files keep their tags, links, attachments and claims, and each page says which it is."""

from __future__ import annotations

from datetime import date

import pikepdf
import pypdf
import pytest

from assessments.document.joining import PAGE_LINK, Beside, Joint, drawn_digest, join, pages_of
from assessments.document.renderer import pdf

WORDS = ("Lathe", "Panel saw", "Kiln")


def page(word: str, pages: int, link: int | None = None) -> bytes:
    leads = f'<p><a href="{PAGE_LINK}{link}">to {link}</a></p>' if link else ""
    body = "".join(
        f'<h2>{word} {n}</h2><p style="break-after: page">About {word} {n}.</p>'
        for n in range(1, pages)
    )
    return pdf(
        f'<html lang="en"><head><title>{word}</title></head><body>{leads}{body}'
        f"<h2>{word} {pages}</h2></body></html>",
        css="print.css",
    )


@pytest.fixture(scope="module")
def joints(tmp_path_factory):
    folder = tmp_path_factory.mktemp("joints")
    made = []
    for place, (word, count) in enumerate(zip(WORDS, (1, 3, 2), strict=True)):
        path = folder / f"{word}.pdf"
        path.write_bytes(page(word, count, link=5 if place == 0 else None))
        made.append(Joint(path=path, title=word, level=int(place == 2), label=str(place + 1)))
    return made


@pytest.fixture(scope="module")
def joined(joints, tmp_path_factory):
    out = tmp_path_factory.mktemp("joined") / "whole.pdf"
    beside = [Beside(name="rows.csv", says="Rows", media_type="text/csv", data=b"a\r\n1\r\n")]
    found = join(
        joints,
        out,
        title="The whole",
        language="en-GB",
        on=date(2026, 3, 1),
        beside=lambda _: beside,
    )
    assert found.pages == (1, 3, 2)
    return out


def test_every_page_is_there_in_order_and_says_which_of_how_many_it_is(joined):
    pages = pypdf.PdfReader(joined).pages
    assert pages_of(joined) == len(pages) == 6
    for number, each in enumerate(pages, start=1):
        assert f"pack page {number} of 6" in each.extract_text()
    said = " ".join(each.extract_text() for each in pages)
    places = [said.index(f"{word} 1") for word in WORDS]
    assert places == sorted(places)


def test_one_structure_tree_leads_to_the_pages_of_each_file(joined, joints):
    with pikepdf.open(joined) as file:
        root = file.Root.StructTreeRoot
        (document,) = root.K
        assert document.S == "/Document"
        assert [str(part.T) for part in document.K] == list(WORDS)
        numbers = [int(n) for n in list(root.ParentTree.Nums)[::2]]
        assert numbers == sorted(set(numbers))
        assert int(root.ParentTreeNextKey) > max(numbers)
        parents = dict(zip(numbers, list(root.ParentTree.Nums)[1::2], strict=True))
        for each in file.pages:
            elements = parents[int(each.obj.StructParents)]
            assert all(e.Pg.objgen == each.obj.objgen for e in elements if "/Pg" in e)
        assert file.Root.MarkInfo.Marked


def test_what_each_element_stands_for_is_what_it_stood_for_before(joined, joints):
    def spoken(path):
        with pikepdf.open(path) as file:
            return _types(file.Root.StructTreeRoot.K)

    with pikepdf.open(joined) as file:
        (document,) = file.Root.StructTreeRoot.K
        parts = [_types(part.K) for part in document.K]
    assert parts == [spoken(joint.path)[0][1] for joint in joints]


def _types(kids):
    found = []
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            found.append((str(kid.S), _types(kid.K) if "/K" in kid else []))
    return found


def test_a_link_of_the_contents_leads_to_the_page_that_it_names(joined):
    with pikepdf.open(joined) as file:
        (link,) = [a for p in file.pages for a in p.obj.get("/Annots", ())]
        assert link.Dest[0].objgen == file.pages[4].obj.objgen
        assert "/A" not in link


def test_bookmarks_and_page_labels_follow_the_parts(joined):
    with pikepdf.open(joined) as file, file.open_outline() as outline:
        assert [item.title for item in outline.root] == ["Lathe", "Panel saw"]
        assert [item.title for item in outline.root[1].children] == ["Kiln"]
        labels = list(file.Root.PageLabels.Nums)
        assert [(int(labels[i]), str(labels[i + 1].P)) for i in (0, 2, 4)] == [
            (0, "1-"),
            (1, "2-"),
            (4, "3-"),
        ]


def test_data_are_attached_and_named_once_in_the_catalogue(joined):
    with pikepdf.open(joined) as file:
        assert file.attachments["rows.csv"].get_file().read_bytes() == b"a\r\n1\r\n"
        (named,) = file.Root.AF
        assert named.AFRelationship == "/Data"


def test_the_same_files_give_the_same_bytes(joined, joints, tmp_path):
    again = tmp_path / "again.pdf"
    beside = [Beside(name="rows.csv", says="Rows", media_type="text/csv", data=b"a\r\n1\r\n")]
    join(
        joints,
        again,
        title="The whole",
        language="en-GB",
        on=date(2026, 3, 1),
        beside=lambda _: beside,
    )
    assert again.read_bytes() == joined.read_bytes()


def test_what_is_drawn_has_the_same_digest_before_and_after(joined, joints):
    with pikepdf.open(joined) as file:
        pages = [page.obj for page in file.pages]
        after = [drawn_digest(pages[a:b]) for a, b in ((0, 1), (1, 4), (4, 6))]
    before = []
    for joint in joints:
        with pikepdf.open(joint.path) as file:
            before.append(drawn_digest(page.obj for page in file.pages))
    assert after == before
    assert len(set(after)) == 3


def test_the_stamp_is_an_artifact_outside_of_the_structure(joined):
    with pikepdf.open(joined) as file:
        for each in file.pages:
            drawn = b"".join(part.read_bytes() for part in each.obj.Contents)
            assert drawn.count(b"/Artifact <</Type /Pagination>> BDC") == 1
            form = next(
                value for name, value in each.obj.Resources.XObject.items() if "PackPage" in name
            )
            assert b"BDC" not in form.read_bytes()
            assert "/StructParents" not in form


def test_a_file_that_is_no_pdf_is_not_joined(joints, tmp_path):
    bad = tmp_path / "bad.pdf"
    bad.write_bytes(b"not a document")
    with pytest.raises(pikepdf.PdfError):
        join(
            [*joints, Joint(path=bad, title="bad")],
            tmp_path / "out.pdf",
            title="x",
            language="en",
            on=date(2026, 3, 1),
        )
    assert not (tmp_path / "out.pdf").exists()
