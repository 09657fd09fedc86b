"""Machine labels: every code is read back by another decoder, and nothing is clipped."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import replace
from typing import Any, NamedTuple

import pikepdf
import pytest
import zxingcpp
from PIL import Image, ImageFilter

from assessments.document.label import label_pdf
from assessments.document.label_content import MachineLabel, Sheet
from assessments.document.label_layout import CALL, POWER, Spot, module_mm, sign_rows, spot
from assessments.document.sheets import sheet_named, sheets
from assessments.document.signs import signs
from assessments.errors import Refused

DPI = 150
MM = DPI / 25.4  # pixels in a millimetre
POINT = 25.4 / 72  # millimetres in a point

LASER = MachineLabel(
    name="Laser A, the large one",
    area="Laser bay",
    place="North wall, bench 2",
    kind="Enclosed CO₂ laser cutter",
    run_mode="open to cleared people",
    signs=("W004", "W021", "M004", "P003"),
    never=("PVC and vinyl", "Polycarbonate", "Carbon fibre"),
    inductions=("Workshop basics", "Enclosed laser cutter"),
    url="https://register.example.org/m/7k2mq4x",
    code="7K2M-Q4X",
)
DRILL = replace(
    LASER,
    name="Pillar drill",
    kind="Pillar drill",
    run_mode="supervised",
    signs=("W018", "M004", "P028"),
    never=(),
    url="HTTPS://REGISTER.EXAMPLE.ORG/M/9DW3HHZ",
    code="9DW3-HHZ",
)
SAW = replace(
    LASER,
    name="Vertical panel saw with scoring blade and automatic clamping beam",
    area="Wood bay behind the timber store",
    place="East wall, between the two roller doors, left of the planer",
    kind="Panel saw",
    run_mode="technician-run",
    signs=("W019", "W022", "M003", "M004", "M008", "P028", "P010"),
    never=tuple(f"Sheet material number {n} of several" for n in range(1, 7)),
    inductions=("Wood bay basics", "Panel saw", "Manual handling of sheet goods"),
    url="https://register.long-example.org/workshop/m/9dw3hhz-77",
    code="K3PX-77Q",
)
BARE = replace(LASER, signs=(), never=(), inductions=(), place="", kind="")
ONE_WORD = replace(SAW, name="Donaudampfschifffahrtselektrizitätenhauptbetriebswerk" * 2)
LABELS = [LASER, DRILL, SAW, BARE, ONE_WORD, LASER, DRILL, SAW, BARE]  # one more than a sheet

# On a tag there is room for a name of some words, and for an address as a label carries it.
ADDRESS = "HTTPS://REGISTER.EXAMPLE.ORG/M/9DW3HHZ9DW3HHZ"
TAGS = [
    replace(label, url=ADDRESS.replace("D", letter), code="7K2MQ4X7K2MQ4X")
    for label, letter in (
        (LASER, "D"),
        (DRILL, "A"),
        (replace(SAW, name="Vertical panel saw with scoring blade"), "B"),
        (replace(BARE, name="Cordless impact driver, 14"), "C"),
    )
] * 13

KEYS = list(sheets())


def labels_for(sheet: Sheet) -> list[MachineLabel]:
    """Return what is printed on such a sheet: a little more than one of it holds."""
    return TAGS[: sheet.places + 2] if sheet.layout == "tag" else LABELS


def pages_of(pdf: bytes) -> list[Image.Image]:
    """Raster a PDF in grey, a page an image."""
    run = ["pdftoppm", "-r", str(DPI), "-gray", "-"]
    data = subprocess.run(run, input=pdf, capture_output=True, check=True).stdout
    pages, start = [], 0
    while start < len(data):
        head = re.match(rb"P5\n(\d+) (\d+)\n255\n", data[start : start + 40])
        assert head, "not a grey raster"
        width, height = int(head[1]), int(head[2])
        first = start + head.end()
        start = first + width * height
        pages.append(Image.frombytes("L", (width, height), data[first:start]))
    return pages


Box = tuple[int, int, int, int]


def pixels(left: float, top: float, right: float, bottom: float) -> Box:
    return round(left), round(top), round(right), round(bottom)


class Word(NamedTuple):
    """A printed word and its box [mm]."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def words_of(pdf: bytes) -> list[list[Word]]:
    run = ["pdftotext", "-bbox", "-", "-"]
    html = subprocess.run(run, input=pdf, capture_output=True, check=True).stdout.decode()
    word = re.compile(r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>')
    return [
        [
            Word(match[5], *(float(match[edge]) * POINT for edge in range(1, 5)))
            for match in word.finditer(page)
        ]
        for page in html.split("<page ")[1:]
    ]


def decoded(picture: Image.Image) -> list[str]:
    return [code.text for code in zxingcpp.read_barcodes(picture)]


@pytest.fixture(scope="module", params=KEYS)
def printed(request: pytest.FixtureRequest) -> tuple[Sheet, bytes, list[Image.Image]]:
    sheet = sheet_named(request.param)
    pdf = label_pdf(labels_for(sheet), sheet=sheet)
    return sheet, pdf, pages_of(pdf)


def codes_cut_out(
    sheet: Sheet, pages: list[Image.Image]
) -> list[tuple[MachineLabel, Image.Image, float]]:
    """Return each label with its code, quiet zone included, and the quiet zone's share."""
    cut = []
    per_page = sheet.places
    for at, label in enumerate(labels_for(sheet)):
        place = spot(label, at, sheet)
        page = pages[at // per_page]
        right, bottom = place.x + sheet.width, place.y + sheet.height
        one = page.crop(pixels(place.x * MM, place.y * MM, right * MM, bottom * MM))
        (code,) = zxingcpp.read_barcodes(one)
        left, top = code.position.top_left.x, code.position.top_left.y
        quiet = 4 * place.code.side / place.code.modules * MM
        symbol = place.code.side * MM - 2 * quiet
        box = pixels(left - quiet, top - quiet, left + symbol + quiet, top + symbol + quiet)
        cut.append((label, one.crop(box), quiet))
    return cut


def test_every_code_on_a_page_reads_as_its_address(
    printed: tuple[Sheet, bytes, list[Image.Image]],
) -> None:
    sheet, _, pages = printed
    read = [text for page in pages for text in decoded(page)]
    assert sorted(read) == sorted(label.url for label in labels_for(sheet))


@pytest.mark.parametrize("harm", ["plain", "turned", "blurred", "stained white", "stained black"])
def test_every_code_is_read_when_turned_blurred_or_stained(
    printed: tuple[Sheet, bytes, list[Image.Image]], harm: str
) -> None:
    sheet, _, pages = printed
    for label, code, quiet in codes_cut_out(sheet, pages):
        assert decoded(harmed(code, harm, quiet)) == [label.url], (label.name, harm)


def harmed(code: Image.Image, harm: str, quiet: float) -> Image.Image:
    if harm == "turned":
        return code.rotate(17, expand=True, fillcolor=255)
    if harm == "blurred":
        return code.filter(ImageFilter.GaussianBlur(1.5))
    if harm.startswith("stained"):
        # A square stain over 10 % of the symbol, right of the middle, clear of the finders.
        symbol = code.width - 2 * quiet
        side = 0.1**0.5 * symbol
        left, top = quiet + 0.55 * symbol, quiet + 0.4 * symbol
        shade = 255 if harm.endswith("white") else 0
        stained = code.copy()
        stained.paste(shade, pixels(left, top, left + side, top + side))
        return stained
    return code


def test_the_quiet_zone_of_four_modules_is_clear_on_every_side(
    printed: tuple[Sheet, bytes, list[Image.Image]],
) -> None:
    # Four modules: ISO/IEC 18004 (from memory).
    sheet, _, pages = printed
    for label, code, quiet in codes_cut_out(sheet, pages):
        edge = round(quiet) - 3
        for strip in (
            (2, 2, code.width - 2, edge),
            (2, code.height - edge, code.width - 2, code.height - 2),
            (2, 2, edge, code.height - 2),
            (code.width - edge, 2, code.width - 2, code.height - 2),
        ):
            assert min(code.crop(strip).tobytes()) > 200, label.name


def test_the_page_has_the_size_of_its_sheet_and_one_place_for_each_label(
    printed: tuple[Sheet, bytes, list[Image.Image]],
) -> None:
    sheet, pdf, _ = printed
    with pikepdf.open(io.BytesIO(pdf)) as file:
        boxes = [[float(edge) * POINT for edge in page.mediabox] for page in file.pages]
    assert len(boxes) == -(-len(labels_for(sheet)) // sheet.places)
    assert all(box == pytest.approx([0, 0, sheet.page_width, sheet.page_height]) for box in boxes)


@pytest.mark.parametrize("key", [key for key in KEYS if key.startswith("a4")])
def test_a_grid_stands_in_the_middle_of_an_a4_page_without_overlap(key: str) -> None:
    # A4 is 210 by 297 mm: ISO 216. The sizes of the grids: common practice.
    sheet = sheet_named(key)
    assert (sheet.page_width, sheet.page_height) == (210, 297)
    across = (sheet.columns - 1) * sheet.pitch_x + sheet.width
    down = (sheet.rows - 1) * sheet.pitch_y + sheet.height
    assert 2 * sheet.left + across == pytest.approx(210)
    assert 2 * sheet.top + down == pytest.approx(297)
    assert sheet.pitch_x >= sheet.width
    assert sheet.pitch_y >= sheet.height
    assert int(key.removeprefix("a4-")) == sheet.places


def test_places_that_were_used_stay_empty() -> None:
    sheet = sheet_named("a4-48")
    two = TAGS[:2]
    first, second = pages_of(label_pdf(two, sheet=sheet, used=47))
    (last,) = zxingcpp.read_barcodes(first)
    assert last.text == two[0].url
    assert last.position.top_left.x > (sheet.left + 3 * sheet.pitch_x) * MM
    assert last.position.top_left.y > (sheet.top + 11 * sheet.pitch_y) * MM
    assert decoded(second) == [two[1].url]
    for wrong in (-1, 48):
        with pytest.raises(Refused) as refused:
            label_pdf(two, sheet=sheet, used=wrong)
        assert refused.value.field == "used"


def test_a_sheet_says_how_its_codes_were_made() -> None:
    # 41 modules of a version 4 symbol, quiet zone included, in 21.2 mm: 0.52 mm each.
    (page,) = words_of(label_pdf(TAGS[:1], sheet=sheet_named("a4-48")))
    said = " ".join(word.text for word in page)
    assert "error correction Q, modules of 0.57 mm, read from about 20 cm" in said
    assert "Print at 100 %, not fitted to the page." in said
    assert "outside wet and resin zones" in said


def test_the_stronger_error_correction_is_taken_where_modules_stay_large() -> None:
    assert spot(TAGS[0], 0, sheet_named("label")).code.level == "H"
    assert spot(TAGS[0], 0, sheet_named("tag")).code.level == "Q"


def words_on(place: Spot, sheet: Sheet, page: list[Word]) -> list[Word]:
    return [
        word
        for word in page
        if 0 <= word.left - place.x < sheet.width and 0 <= word.top - place.y < sheet.height
    ]


def more_on(sheet: Sheet, place: Spot) -> tuple[str, ...]:
    """Return what else is said on a label of this sheet."""
    if sheet.layout != "tag":
        return (place.where, place.label.run_mode, "outside wet and resin zones.")
    return (place.label.run_mode,) if sheet.height > 30 else ()


def test_no_word_leaves_its_label_and_none_is_missing(
    printed: tuple[Sheet, bytes, list[Image.Image]],
) -> None:
    sheet, pdf, _ = printed
    pages = words_of(pdf)
    for at, label in enumerate(labels_for(sheet)):
        place = spot(label, at, sheet)
        inside = words_on(place, sheet, pages[at // sheet.places])
        right, bottom = place.x + sheet.width - 1.4, place.y + sheet.height - 1.2
        assert all(word.right <= right and word.bottom <= bottom for word in inside), label.name
        said = "".join(word.text for word in inside)
        for part in (label.name, label.code, CALL, POWER, *more_on(sheet, place)):
            assert part.replace(" ", "") in said, (label.name, part)


def test_no_two_words_lie_on_each_other(
    printed: tuple[Sheet, bytes, list[Image.Image]],
) -> None:
    _, pdf, _ = printed
    for page in words_of(pdf):
        for at, word in enumerate(page):
            # The box of a word is taller than its letters; the middle of one inside another tells.
            for other in page[at + 1 :]:
                across = word.left < (other.left + other.right) / 2 < word.right
                down = word.top < (other.top + other.bottom) / 2 < word.bottom
                assert not (across and down), (word.text, other.text)


@pytest.mark.parametrize("key", ["label", "a4-8"])
def test_no_word_of_a_small_label_stands_on_a_sign(key: str) -> None:
    sheet = sheet_named(key)
    for label in LABELS:
        place = spot(label, 0, sheet)
        (page,) = words_of(label_pdf([label], sheet=sheet))
        _, _, high = sign_rows(len(label.signs), width=place.sizes.column, height=17.2)
        power = next(word for word in page if word.text == "A" and word.top > place.y + 30)
        beside = [word for word in page if word.left < place.x + place.sizes.column]
        above = [word.bottom for word in beside if place.y < word.top < power.top - 0.5]
        # The box of a word reaches below its line; a millimetre of it is air.
        assert max(above) <= power.top - high + 1.0, label.name


@pytest.mark.parametrize("key", ["label", "a4-8"])
def test_no_sign_of_a_small_label_stands_on_the_words_below_it(key: str) -> None:
    sheet = sheet_named(key)
    for label in LABELS:
        place = spot(label, 0, sheet)
        pdfs = [label_pdf([each], sheet=sheet) for each in (label, replace(label, signs=()))]
        below = max(word.top for word in words_of(pdfs[0])[0] if word.text == "power.")
        box = pixels(*(at / 25.4 * DPI for at in (place.x, below, place.x + sheet.width, 999)))
        with_signs, without = (pages_of(pdf)[0].crop(box) for pdf in pdfs)
        assert with_signs.tobytes() == without.tobytes(), label.name


def test_the_card_lists_inductions_materials_and_the_words_of_its_signs() -> None:
    (page,) = words_of(label_pdf([LASER], sheet=sheet_named("card")))
    said = " ".join(word.text for word in page)
    for part in ("Workshop basics", "PVC and vinyl", "Wear eye", "Laser beam", "Induction needed"):
        assert part in said


def test_the_words_of_signs_never_run_into_the_lists_below() -> None:
    wordy = replace(LASER, signs=("P007", "M021", "M007", "W041", "M001", "P011"))
    for number in range(1, 7):
        label = replace(wordy, signs=wordy.signs[:number])
        (page,) = words_of(label_pdf([label], sheet=sheet_named("card")))
        title = next(word for word in page if word.text == "Induction")
        captions = [w for w in page if title.top - 20 < w.top < title.top and w.left < 99]
        assert all(word.bottom < title.top + 1 for word in captions)
    assert "cardiac" not in {word.text for word in page}  # six such signs leave their words out


def test_a_small_label_counts_the_materials_that_it_cannot_list() -> None:
    (page,) = words_of(label_pdf([SAW], sheet=sheet_named("label")))
    said = " ".join(word.text for word in page)
    assert "Never: 6 materials." in said
    assert "number 6" not in said


def test_the_same_labels_give_the_same_bytes_tagged_and_with_their_own_fonts() -> None:
    sheet = sheet_named("card")
    pdf = label_pdf([LASER, SAW], sheet=sheet)
    assert pdf == label_pdf([LASER, SAW], sheet=sheet)
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert file.Root.MarkInfo.Marked
        assert b'pdfuaid:part="1"' in file.Root.Metadata.read_bytes()
        fonts = {
            str(font.BaseFont).split("+")[-1]
            for page in file.pages
            for font in page.Resources.Font.values()
        }
    assert all(name.startswith("Source-Sans-3") for name in fonts), fonts


def test_no_label_says_safe() -> None:
    for sheet in sheets().values():
        for page in words_of(label_pdf(labels_for(sheet)[:3], sheet=sheet)):
            assert not [word for word in page if re.search(r"\bsafe\b", word.text, re.IGNORECASE)]


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("modules", [33, 41, 45, 49, 53, 57])
def test_a_module_is_never_under_the_least_of_its_sheet(key: str, modules: int) -> None:
    sheet = sheet_named(key)
    least = sheet.least_module
    assert least >= (0.5 if sheet.layout == "tag" else 0.7)
    if least * modules > sheet.code_room:
        with pytest.raises(Refused, match="address is too long"):
            module_mm(modules, sheet)
        return
    module = module_mm(modules, sheet)
    assert module >= least
    assert module * modules <= sheet.code_room + 1e-9
    # Scan distance about ten times the side of the symbol: common practice.
    assert module == least or module * (modules - 8) <= sheet.reading_distance / 10 + 1e-9


def test_a_third_of_a_metre_asks_for_a_symbol_of_33_mm() -> None:
    # 330 mm / 10 = 33 mm over the 33 modules of a version 4 symbol: 1 mm each.
    sheet = replace(sheet_named("label"), reading_distance=330)
    assert module_mm(41, sheet) == pytest.approx(1.0)


def test_an_address_too_long_for_the_code_is_refused() -> None:
    long = replace(LASER, url="https://register.example.org/" + "x" * 200)
    with pytest.raises(Refused, match="address is too long") as refused:
        label_pdf([long], sheet=sheet_named("label"))
    assert refused.value.field == "url"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": "An endless name " * 30}, "name"),
        ({"name": " "}, "name"),
        ({"url": ""}, "url"),
        ({"code": ""}, "code"),
    ],
)
@pytest.mark.parametrize("key", KEYS)
def test_what_does_not_fit_is_refused_and_never_clipped(
    key: str, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        label_pdf([replace(TAGS[0], **change)], sheet=sheet_named(key))
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"place": "somewhere " * 40}, "place"),
        ({"run_mode": "by nobody " * 20}, "run_mode"),
        ({"signs": tuple(each.number for each in signs())}, "signs"),
        ({"signs": ("W999",)}, "sign"),
    ],
)
@pytest.mark.parametrize("key", ["label", "a4-8", "card", "card-a5"])
def test_neither_a_place_nor_a_run_mode_nor_a_sign_is_left_out_to_make_room(
    key: str, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        label_pdf([replace(LASER, **change)], sheet=sheet_named(key))
    assert refused.value.field == field


def test_no_label_and_an_unknown_sheet_are_refused() -> None:
    with pytest.raises(Refused, match="no machine"):
        label_pdf([], sheet=sheet_named("label"))
    with pytest.raises(Refused, match="a4-8"):
        sheet_named("a4-9")


def test_signs_keep_eight_millimetres_and_never_more_than_twelve() -> None:
    for count in range(1, 15):
        size, wide, high = sign_rows(count, width=93, height=20)
        assert 8 <= size <= 12
        assert wide <= 93.1
        assert high <= 20
