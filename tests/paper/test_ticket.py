"""The printed ticket, read back."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import UTC, date, datetime

import cv2
import numpy as np
import pypdf
import pytest

from rickyard.measure.units import CORD_M3
from rickyard.paper import (
    CAUTIONS,
    PAGES_MM,
    Dryness,
    Party,
    TicketData,
    TicketLine,
    picture_ticket,
    render_ticket,
    ticket_name,
    ticket_texts,
)
from rickyard.show import find_raw_english
from rickyard.text import T_

LINE = TicketLine(
    ware="Mixed hardwood, 16 in",
    species=(("yellow birch", 0.3), ("sugar maple", 0.55), ("American beech", 0.15)),
    quantities=(("cord", 1.5), ("stacked_m3", 1.5 * CORD_M3), ("ft3", 192.0)),
    form="split",
    piece_length_m=0.4064,
    dimensions_m=(3.6576, 1.2192, 1.2192),
    measured=T_("measured at the yard on {day}", day=date(2026, 11, 3)),
    dryness=Dryness(
        claim="seasoned",
        low_mc_wet=0.161,
        mid_mc_wet=0.19,
        high_mc_wet=0.22,
        on=date(2026, 11, 5),
        how="forecast",
    ),
    unit_price_minor=32_000,
    price_unit="cord",
)
TICKET = TicketData(
    seller=Party(
        name="Keswick Ridge Firewood", address="118 Mill Brook Road\nKeswick Ridge NB", phone="506-555-0142"
    ),
    buyer=Party(name="Rosalie Thibodeau", address="27 Sawmill Lane\nMactaquac NB", phone="506-555-0177"),
    number=42,
    order_number=118,
    issued_at=datetime(2026, 11, 5, 18, 7, tzinfo=UTC),
    delivered_on=date(2026, 11, 5),
    lines=(LINE,),
    price_minor=48_000,
    tax_minor=7_200,
    total_minor=55_200,
    paid_minor=20_000,
    tax_rate=0.15,
    harvests=("York County, New Brunswick, Canada", "Carleton County, New Brunswick, Canada"),
    treatment="HT-0071",
    vehicle="CVT 482",
    driver="Owen Tasker",
    note="Left beside the garage",
    qr="ticket 42 | https://yard.example/t/42",
    place="CA-NB",
    timezone="America/Moncton",
)
TWELVE = (
    "sugar maple|red maple|yellow birch|white birch|American beech|white ash|red oak|bur oak|eastern hop-hornbeam"
    "|black cherry|trembling aspen|balsam poplar"
).split("|")


def read(data: TicketData) -> str:
    """All text of the PDF, every run of blanks as one, words broken after their hyphen joined again."""
    reader = pypdf.PdfReader(io.BytesIO(render_ticket(data)))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    return re.sub(r"(?<=\w)- (?=\w)", "-", text)


def code_in(data: TicketData) -> str:
    found, *_ = cv2.QRCodeDetector().detectAndDecode(picture(data))
    return str(found)


def picture(data: TicketData, page: int = 0) -> np.ndarray:
    drawn = np.frombuffer(picture_ticket(data, ppi=200)[page], np.uint8)
    image = cv2.imdecode(drawn, cv2.IMREAD_GRAYSCALE)
    assert image is not None
    return image


@pytest.mark.parametrize(
    "said",
    [
        "Keswick Ridge Firewood",
        "118 Mill Brook Road",
        "506-555-0142",
        "Rosalie Thibodeau",
        "27 Sawmill Lane",
        "0042",
        "Delivered on November 5, 2026",
        "Nov 5, 2026, 2:07 p.m.",  # 18:07 UTC in Moncton, standard time
        "Order 118",
        "1 1/2 cords",
        "5.44 stacked m³",
        "192 ft³",
        "ranked and well stowed",
        "$320.00 per cord",
        "Mixed hardwood, 16 in",
        "55% sugar maple 30% yellow birch 15% American beech",
        "Form split",
        "Piece length 16 in",
        "12 ft × 4 ft × 4 ft; measured at the yard on Nov 3, 2026",
        "seasoned; 19% of total mass (23% of dry mass)",
        "between 16% and 22% of total mass",
        "estimated from weather and wood since it was stacked; Nov 5, 2026",
        "York County, New Brunswick, Canada; Carleton County, New Brunswick, Canada",
        "certificate HT-0071",
        "Movement not checked",
        "CVT 482",
        "Owen Tasker",
        "Left beside the garage",
        "Before tax $480.00",
        "Tax (15%) $72.00",
        "Total CAD $552.00",
        "Paid $200.00",
        "Owed $352.00",
        "Received by",
        "Delivered by",
        "A cord here is 128 ft³",
    ],
)
def test_every_field_is_on_the_paper(said, text):
    assert said in text


@pytest.fixture(scope="module")
def text() -> str:
    return read(TICKET)


def test_cautions_are_printed_and_defer_to_local_codes(text):
    for caution in CAUTIONS:
        assert str(caution).split(";")[0].split(",")[0] in text
    assert "Local codes" in text


def test_a_rick_is_no_measure_and_is_not_on_the_paper():
    """A rick has no lawful size; the tool's own name holds the word, so it stays off tickets too."""
    pdf = render_ticket(TICKET)
    assert not re.search("rick", read(TICKET), re.IGNORECASE)
    assert b"ickyard" not in pdf


def test_the_same_data_give_the_same_bytes():
    assert render_ticket(TICKET) == render_ticket(replace(TICKET))
    assert render_ticket(TICKET) != render_ticket(replace(TICKET, number=43))


def test_the_file_says_when_it_was_issued_and_nothing_else():
    info = pypdf.PdfReader(io.BytesIO(render_ticket(TICKET))).metadata
    assert info is not None
    assert info.creation_date == info.modification_date == TICKET.issued_at
    assert info.title == "Delivery ticket 0042"


def test_it_is_tagged_for_screen_readers():
    """PDF/UA-1 (ISO 14289-1): language, title shown, structure tree, figures with alternative text."""
    root = pypdf.PdfReader(io.BytesIO(render_ticket(TICKET))).root_object
    assert root["/Lang"] == "en-CA"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert "/StructTreeRoot" in root
    assert b"<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data()


@pytest.mark.parametrize("page", sorted(PAGES_MM))
def test_page_sizes(page):
    reader = pypdf.PdfReader(io.BytesIO(render_ticket(replace(TICKET, page=page))))
    box = reader.pages[0].mediabox
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(
        PAGES_MM[page], abs=0.05
    )
    assert len(reader.pages) == 1


def test_the_code_reads_back():
    assert code_in(TICKET) == TICKET.qr
    accents = replace(TICKET, qr="billet 42 | Érablière de l’Ouest | 1,5 corde")
    assert code_in(accents) == accents.qr


def test_no_code_when_there_is_nothing_to_say():
    assert code_in(replace(TICKET, qr="")) == ""


def test_twelve_species_are_all_there_largest_first():
    shares = tuple((name, share / 78) for share, name in enumerate(TWELVE, start=1))
    text = read(replace(TICKET, lines=(replace(LINE, species=shares),)))
    assert all(name in text for name in TWELVE)
    assert text.index("balsam poplar") < text.index("sugar maple")


def test_one_species_needs_no_percent():
    text = read(replace(TICKET, lines=(replace(LINE, species=(("red oak", 1.0),)),)))
    assert "red oak" in text
    assert "100%" not in text


def test_the_size_of_a_cord_is_the_places_own():
    """Minnesota's cord of wood sawed and split is 120 ft³ ranked (Minn. Stat. 239.33)."""
    split = replace(LINE, quantities=(("cord", 1.6), ("ft3", 192.0)))
    assert "A cord here is 120 ft³" in read(replace(TICKET, lines=(split,)))
    metric = replace(LINE, quantities=(("stacked_m3", CORD_M3), ("cord", 1.0)))
    assert "A cord here is 128 ft³" in read(replace(TICKET, lines=(metric,)))
    alone = replace(LINE, quantities=(("cord", 1.0),), unit_price_minor=None)
    assert "A cord here" not in read(replace(TICKET, lines=(alone,)))


def test_no_tax_is_said_in_words():
    text = read(replace(TICKET, tax_minor=0, total_minor=48_000, tax_rate=0.0))
    assert "No tax charged" in text
    assert "Total CAD $480.00" in text


def test_payment_stays_off_the_paper_unless_it_is_known():
    assert "Owed" not in read(replace(TICKET, paid_minor=None))
    assert "Paid $0.00 Owed $552.00" in read(replace(TICKET, paid_minor=0))


def test_an_odd_tax_rate_is_not_rounded():
    """Quebec's two sales taxes together are 14.975 %."""
    text = read(replace(TICKET, tax_rate=0.14975, tax_minor=7_188, total_minor=55_188))
    assert "Tax (14.975%) $71.88" in text


def test_money_that_does_not_add_up_is_never_printed():
    with pytest.raises(ValueError, match="48000 \\+ 7200 is not 55201"):
        render_ticket(replace(TICKET, total_minor=55_201))


def test_a_ticket_needs_wood_a_quantity_and_a_zone():
    with pytest.raises(ValueError, match="without wood"):
        render_ticket(replace(TICKET, lines=()))
    with pytest.raises(ValueError, match="no quantity"):
        render_ticket(replace(TICKET, lines=(replace(LINE, quantities=()),)))
    with pytest.raises(ValueError, match="without a time zone"):
        render_ticket(replace(TICKET, issued_at=datetime(2026, 11, 5)))  # noqa: DTZ001


LONG = "Établissements forestiers et bois de chauffage des Hautes-Terres de l’Œuvre-Saint-Rémi-du-Côteau"


def test_long_names_with_accents_stay_inside_the_page():
    data = replace(
        TICKET,
        seller=replace(TICKET.seller, name=LONG),
        buyer=replace(TICKET.buyer, name=LONG, address="\n".join([LONG] * 3)),
        lines=(replace(LINE, ware=LONG),),
        note=LONG,
    )
    text = read(data)
    assert text.count("Saint-Rémi-du-Côteau") >= 4
    image = picture(data)
    edge = 30  # pixels; the margin is 10 mm, 79 pixels
    assert image[:, :edge].min() == image[:, -edge:].min() == 255


@pytest.mark.parametrize("quantity", [("stacked_m3", 14.5), ("loose_m3", 123.4), ("ft3", 1792.0)])
@pytest.mark.parametrize("locale", ["en_CA", "fr_CA"])
def test_a_large_quantity_stays_in_its_column(quantity, locale):
    """Between the quantity and the wood there is white paper from rule to rule."""
    image = picture(replace(TICKET, lines=(replace(LINE, quantities=(quantity,)),), locale=locale))
    margin, gutter = (round(mm / 25.4 * 200) for mm in (10, 5))
    inside = image.shape[1] - 2 * margin
    ruled = np.flatnonzero((image[:, margin:-margin] < 128).mean(axis=1) > 0.95)
    _, top, bottom = [int(rows[0]) for rows in np.split(ruled, np.flatnonzero(np.diff(ruled) > 5) + 1)][:3]
    left = margin + round(0.4 * inside)

    assert image[top + 8 : bottom - 8, left + 4 : left + gutter - 4].min() == 255
    assert image[top + 8 : bottom - 8, margin:left].min() < 64, "the quantity is there"


def test_what_would_break_a_template_is_only_text():
    """Data never become part of the template, so its signs mean nothing."""
    nasty = '#panic("x") $ \\ { } [ ] * _ ` <b> @ref // "quoted" #{sys}'
    text = read(replace(TICKET, note=nasty, buyer=Party(name=nasty)))
    assert text.count('#panic("x") $ \\ { } [ ] * _ ` <b> @ref // "quoted" #{sys}') == 2


def test_many_lines_run_over_to_a_second_page_with_the_number_on_it():
    data = replace(
        TICKET, lines=(LINE, replace(LINE, ware="Softwood, 12 in"), replace(LINE, ware="Kindling"))
    )
    reader = pypdf.PdfReader(io.BytesIO(render_ticket(data)))
    assert len(reader.pages) == 2
    assert "Delivery ticket 0042" in reader.pages[1].extract_text()
    assert "Received by" in reader.pages[1].extract_text()


def test_nothing_is_claimed_that_was_not_said():
    bare = TicketData(
        seller=Party(name="Yard"),
        buyer=Party(name=""),
        number=1,
        issued_at=TICKET.issued_at,
        delivered_on=TICKET.delivered_on,
        lines=(
            TicketLine(
                ware="Oak", species=(("red oak", 1.0),), quantities=(("loose_m3", 2.0),), piled="loose"
            ),
        ),
        price_minor=1000,
        tax_minor=0,
        total_minor=1000,
    )
    text = read(bare)
    assert "Buyer at the gate" in text
    assert "2 loose m³" in text
    assert "loose, as thrown" in text
    assert "none; the wood was not heat-treated" in text
    assert "Harvested in not stated" in text
    assert "cord" not in text
    assert "Dryness" not in text
    unknown = replace(bare, lines=(replace(bare.lines[0], dryness=Dryness()),))
    assert "Dryness not stated" in read(unknown)


def test_nothing_on_the_pseudo_ticket_is_raw_english():
    data = replace(
        TICKET,
        locale="en_XA",
        lines=(replace(LINE, species=tuple((f"⟦{n}⟧", s) for n, s in LINE.species)),),
    )
    text = read(data)
    names = [
        data.seller.name,
        *data.seller.address.split("\n"),
        data.buyer.name,
        *data.buyer.address.split("\n"),
    ]
    names += [LINE.ware, *data.harvests, data.treatment, data.vehicle, data.driver, data.note]
    assert find_raw_english(f"<p>{text}</p>", names) == []
    assert "⟦Ðéĺíṽéŕ" in text or "⟦Đéĺíṽéŕéđ" in text


def test_metric_and_french_numbers():
    text = read(replace(TICKET, locale="fr_CA", units="metric"))
    assert "5,44" in text
    assert "552,00 $" in text
    assert "41 cm" in text
    assert "3,66 m × 1,22 m × 1,22 m" in text
    assert "5 novembre 2026" in text


def test_texts_for_the_check_of_words():
    texts = ticket_texts(TICKET)
    joined = "\n".join(texts).replace("\u00a0", " ")
    for said in (
        "1 1/2 cords",
        "$320.00 per cord",
        "Mixed hardwood, 16 in",
        "55% sugar maple",
        "seasoned",
        "garage",
    ):
        assert said in joined
    assert "Keswick" not in joined
    assert "Thibodeau" not in joined
    odd = ticket_texts(replace(TICKET, lines=(replace(LINE, ware="Face cord of oak"),)))
    assert "Face cord of oak" in odd


def test_the_name_of_the_file():
    assert ticket_name(TICKET) == "ticket-0042.pdf"
    assert ticket_name({"number": 12345}) == "ticket-12345.pdf"
