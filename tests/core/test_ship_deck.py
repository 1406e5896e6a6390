"""The ship from above: each drum in its place, as picture and as list."""

import xml.etree.ElementTree as ET

import pytest
from django.template import Context, Template

from fleet.core.pictures.ship_deck import COLUMN_X, DeckDrum, name_lines, ship_deck


def drum(area: str, side: str, order: int = 1, **changes: str) -> DeckDrum:
    given = {"name": f"{area} {side} {order}", "due_state": "in_date", "url": f"/drums/{area}-{side}-{order}/"}
    return DeckDrum(area=area, side=side, order=order, **{**given, **changes})


SIXTEEN = [
    drum(area, side, order)
    for area in ("aft_deck", "main_aft", "main_forward", "forecastle")
    for side in ("starboard", "port")
    for order in (2, 1)
]


def html(drums: list[DeckDrum]) -> str:
    return Template("{% load parts %}{% ship_deck drums %}").render(Context({"drums": drums}))


def test_areas_run_from_bow_to_stern_and_sides_stand_in_their_columns() -> None:
    deck = ship_deck(SIXTEEN)
    assert [str(area.label) for area in deck.areas] == [
        "Forecastle", "Main deck, forward", "Main deck, aft", "Aft deck",
    ]  # fmt: skip
    tops = [min(float(cell.y) for cell in area.cells) for area in deck.areas]
    assert tops == sorted(tops)
    for area in deck.areas:
        for cell in area.cells:
            assert float(cell.x) == COLUMN_X[cell.drum.side]


def test_port_is_left_of_starboard_because_the_bow_is_up() -> None:
    assert COLUMN_X["port"] < COLUMN_X["centre"] < COLUMN_X["starboard"]


def test_drums_of_one_side_stand_in_their_order() -> None:
    port = [cell for cell in ship_deck(SIXTEEN).areas[0].cells if cell.drum.side == "port"]
    assert [cell.drum.order for cell in port] == [1, 2]
    assert float(port[0].y) < float(port[1].y)


def test_no_two_of_sixteen_drums_overlap_and_all_lie_in_the_picture() -> None:
    deck = ship_deck([*SIXTEEN, drum("forecastle", "centre"), drum("aft_deck", "centre")])
    cells = [(float(cell.x), float(cell.y)) for area in deck.areas for cell in area.cells]
    assert len(cells) == 18
    for index, (x, y) in enumerate(cells):
        assert 0 <= x <= deck.width - deck.cell_width
        assert 0 <= y <= deck.height - deck.cell_height
        for other_x, other_y in cells[index + 1 :]:
            assert abs(x - other_x) >= deck.cell_width or abs(y - other_y) >= deck.cell_height


def test_every_drum_is_a_link_in_the_picture_and_in_the_list_with_its_state_in_words() -> None:
    text = html([drum("forecastle", "port", due_state="overdue", result_state="was_too_tight"), *SIXTEEN[:3]])
    root = ET.fromstring(f"<div>{text}</div>")
    pictured = [link.attrib["href"] for link in root.iter("a") if link.get("class") == "deck-drum"]
    listed = [link.attrib["href"] for link in root.iter("a") if link.get("class") != "deck-drum"]
    assert len(pictured) == 4
    assert sorted(pictured) == sorted(listed)
    assert "overdue; was too tight, now in band</title>" in text
    assert "<span>overdue</span>" in text
    assert "<span>was too tight, now in band</span>" in text
    assert "no result yet" in text


def test_plain_dicts_do_as_well_and_an_unknown_area_stands_aft() -> None:
    deck = ship_deck(
        [
            {"name": "A", "area": "poop", "side": "middle", "order": 1, "due_state": "due", "url": "#"},
            {"name": "B", "area": "aft_deck", "side": "port", "order": 1, "due_state": "due", "url": "#"},
        ]
    )
    assert [area.label for area in deck.areas][-1] == "poop"
    assert float(deck.areas[-1].cells[0].x) == COLUMN_X["centre"]


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("port 1", ["port 1"]),
        ("starboard spring 2", ["starboard", "spring 2"]),
        ("Forecastle, starboard 4 with a very long name", ["Forecastle,", "starboard 4…"]),
        ("Donaudampfschiffahrtsgesellschaft", ["Donaudampfsc…"]),
    ],
)
def test_a_long_name_takes_two_lines_and_ends_in_an_ellipsis(name: str, lines: list[str]) -> None:
    assert [line.text for line in name_lines(name)] == lines


def test_hostile_names_are_escaped() -> None:
    text = html([drum("forecastle", "port", name="<script>x</script>", url='"><script>y</script>')])
    assert "<script" not in text


def test_a_vessel_without_drums_says_so() -> None:
    assert "No drums are registered" in html([])
