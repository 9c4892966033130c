"""Drawings of top plates, read back from their files and measured."""

from __future__ import annotations

import io
import itertools
import math
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any, Final

import ezdxf
import numpy as np
import pypdf
import pytest
import shapely
from ezdxf import path as dxf_path
from reportlab.pdfbase.pdfmetrics import stringWidth

import strutsweep as ss
from strutsweep import drawings, top_plates

FILE_MM: Final = 0.01
"""What a file may be off: far less than any cutter."""
MM_PER_POINT: Final = 25.4 / 72.0


def plan_for(car: ss.Axle) -> top_plates.SlotPlan:
    assert car.top_plate is not None
    static = car.left.solve().caster
    return ss.slots(car.left, car.top_plate, camber=(-3.5, -0.5), caster=(static - 0.75, static + 0.75))


@pytest.fixture(scope="module", params=ss.demos())
def car(request: pytest.FixtureRequest) -> ss.Axle:
    return ss.demo(request.param)


@pytest.fixture(scope="module")
def plan(car: ss.Axle) -> top_plates.SlotPlan:
    return plan_for(car)


@pytest.fixture(scope="module")
def sheets(car: ss.Axle, plan: top_plates.SlotPlan) -> dict[str, drawings.Drawing]:
    return {side: drawings.plate_drawing(getattr(car, side), plan.top_plate) for side in ("left", "right")}


@pytest.fixture(scope="module")
def files(sheets: dict[str, drawings.Drawing], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("drawings")
    return {
        f"{side}{form}": drawings.save(sheet, folder / f"plate-{side}{form}")
        for side, sheet in sheets.items()
        for form in (".dxf", ".svg", ".pdf")
    }


def cut_areas(file: Path) -> list[shapely.Polygon]:
    """Contours on the layer of cuts, as polygons of many chords, from the largest to the smallest."""
    areas = []
    for entity in ezdxf.readfile(file).modelspace().query('*[layer=="cut"]'):
        points = [(p.x, p.y) for p in dxf_path.make_path(entity).flattening(1e-4)]
        assert math.dist(points[0], points[-1]) < 1e-6, "an open contour"
        areas.append(shapely.Polygon(points))
    return sorted(areas, key=lambda area: -area.area)


def slots_of(file: Path, width: float) -> list[tuple[float, float, float]]:
    """Length over all, width and heading of the contours that are slots of this width."""
    found = []
    for area in cut_areas(file):
        ring = np.asarray(shapely.minimum_rotated_rectangle(area).exterior.coords)
        sides = np.linalg.norm(np.diff(ring, axis=0), axis=1)
        if abs(sides.min() - width) < FILE_MM and sides.max() > width + FILE_MM:
            along = np.diff(ring, axis=0)[int(np.argmax(sides))]
            found.append((float(sides.max()), float(sides.min()), math.degrees(math.atan2(along[1], along[0])) % 180.0))
    return found


@pytest.mark.parametrize("side", ["left", "right"])
def test_slots_of_the_dxf_have_the_lengths_and_widths_of_the_plan(
    files: dict[str, Path], plan: top_plates.SlotPlan, side: str
) -> None:
    # SECOND METHOD: contours flattened by the library that reads the file, measured as rectangles around them.
    found = slots_of(files[f"{side}.dxf"], 9.0)
    upright = [slot for slot in found if abs(slot[2] - 90.0) < 0.01]
    level = [slot for slot in found if min(slot[2], 180.0 - slot[2]) < 0.01]
    assert len(upright) == 3
    assert len(level) == 2
    for slot, cut in ((plan.slots[0], upright), (plan.slots[1], level)):
        for length, width, _ in cut:
            assert length == pytest.approx(slot.length, abs=FILE_MM)
            assert width == pytest.approx(slot.width, abs=FILE_MM)


def test_dxf_is_in_millimetres_with_three_layers_closed_cuts_and_no_doubled_lines(files: dict[str, Path]) -> None:
    for side in ("left", "right"):
        document = ezdxf.readfile(files[f"{side}.dxf"])
        assert document.units == ezdxf.units.MM
        assert document.header["$MEASUREMENT"] == 1
        assert set(drawings.LAYERS) <= {layer.dxf.name for layer in document.layers}
        space = document.modelspace()
        assert {entity.dxf.layer for entity in space} == set(drawings.LAYERS)
        cuts = space.query('*[layer=="cut"]')
        assert {entity.dxftype() for entity in cuts} <= {"LWPOLYLINE", "CIRCLE"}
        assert all(entity.closed for entity in cuts if entity.dxftype() == "LWPOLYLINE")
        keys = []
        for entity in space:
            if entity.dxftype() in ("TEXT", "HATCH"):
                continue
            points = np.round([(p.x, p.y) for p in dxf_path.make_path(entity).flattening(0.01)], 3)
            keys.append((entity.dxf.layer, tuple(sorted(map(tuple, points.tolist())))))
        assert len(keys) == len(set(keys)) > 40
        audit = document.audit()
        assert not audit.errors


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_dxf_dimensions_window_and_insert_slots_from_the_datum(
    files: dict[str, Path], car: ss.Axle, side: str
) -> None:
    """Read back from the file: numbers beside the plate are the distances of what is cut from the datum line."""
    space = ezdxf.readfile(files[f"{side}.dxf"]).modelspace()
    plate = max(cut_areas(files[f"{side}.dxf"]), key=lambda area: area.area)
    inside = [area for area in cut_areas(files[f"{side}.dxf"])[1:] if plate.contains(area)]
    window = inside[0]
    level = [area for area in inside[1:] if area.bounds[2] - area.bounds[0] > area.bounds[3] - area.bounds[1] + FILE_MM]
    assert len(level) == 2
    studs = car.top_plate.studs  # type: ignore[union-attr]
    assert studs is not None
    # The datum's height on the sheet: the stud circle's centre.
    (circle,) = [entity for entity in space.query("CIRCLE") if abs(entity.dxf.radius - studs["circle"] / 2.0) < FILE_MM]
    datum = circle.dxf.center.y
    expected = [window.bounds[3] - datum, datum - window.bounds[1]]
    expected += [abs((area.bounds[1] + area.bounds[3]) / 2.0 - datum) for area in level]
    # The rear stud's slot: the middle of the round at its rear end.
    rear = min((area for area in inside[1:] if area not in level), key=lambda area: area.bounds[1])
    expected.append(datum - (rear.bounds[1] + (rear.bounds[2] - rear.bounds[0]) / 2.0))
    uprights = [
        text
        for text in space.query("TEXT")
        if text.dxf.rotation == 90.0
        and re.fullmatch(r"\d+\.\d\d", text.dxf.text)
        and text.get_placement()[1].x < plate.bounds[0]
    ]
    lines = [
        line
        for line in space.query("LINE")
        if line.dxf.start.x == line.dxf.end.x and line.dxf.start.x < plate.bounds[0] and line.dxf.layer == "reference"
    ]
    told = []
    for text in uprights:
        at = text.get_placement()[1]
        line = min(lines, key=lambda one: abs(one.dxf.start.x - 1.0 - at.x))
        beside = [
            one
            for one in lines
            if one.dxf.start.x == line.dxf.start.x
            and min(one.dxf.start.y, one.dxf.end.y) < at.y < max(one.dxf.start.y, one.dxf.end.y)
        ]
        (line,) = beside
        # What the number says is how long its line is.
        assert float(text.dxf.text) == pytest.approx(abs(line.dxf.end.y - line.dxf.start.y), abs=FILE_MM)
        if min(abs(line.dxf.start.y - datum), abs(line.dxf.end.y - datum)) < FILE_MM:
            told.append(float(text.dxf.text))
    assert sorted(told) == pytest.approx(sorted(expected), abs=FILE_MM)


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_dxf_dimensions_the_windows_ends_across(files: dict[str, Path], side: str) -> None:
    space = ezdxf.readfile(files[f"{side}.dxf"]).modelspace()
    plate, *rest = cut_areas(files[f"{side}.dxf"])
    window = next(area for area in rest if plate.contains(area))
    (datum,) = {
        entity.dxf.center.x
        for entity in space.query("CIRCLE")
        if entity.dxf.layer == "reference" and plate.contains(shapely.Point(entity.dxf.center.x, entity.dxf.center.y))
    }
    told = {}
    for text in space.query("TEXT"):
        at = text.get_placement()[1]
        if re.fullmatch(r"\d+\.\d\d", text.dxf.text) and window.contains(shapely.Point(at.x, at.y)):
            told["inboard" if (at.x > datum) == (side == "left") else "outboard"] = float(text.dxf.text)
    ends = (window.bounds[2] - datum, datum - window.bounds[0])
    inboard, outboard = ends if side == "left" else ends[::-1]
    assert told["inboard"] == pytest.approx(inboard, abs=FILE_MM)
    assert told["outboard"] == pytest.approx(outboard, abs=FILE_MM)


def test_no_number_of_the_insert_slots_stands_on_the_opening(car: ss.Axle, plan: top_plates.SlotPlan) -> None:
    assert car.top_plate is not None
    for corner, plate in itertools.product((car.left, car.right), (car.top_plate, plan.top_plate)):
        sheet = drawings.plate_drawing(corner, plate)
        (opening,) = [shape for shape in sheet.on("reference") if getattr(shape, "name", "") == "tower opening"]
        edge = drawings.geometry.polygon_of(opening).exterior  # type: ignore[arg-type]
        for text in sheet.on("reference"):
            if isinstance(text, drawings.Text) and re.fullmatch(r"\d+\.\d\d", text.words):
                assert not drawings.geometry.extent_of(text).intersects(edge), (corner.side, text.words)


def test_dashes_of_the_dxf_are_millimetres_long(files: dict[str, Path], car: ss.Axle) -> None:
    document = ezdxf.readfile(files["left.dxf"])
    assert document.header.get("$LTSCALE", 1.0) == 1.0
    for name, longest in (("DASHED", 3.0), ("CHAIN", 8.0)):
        tags = document.linetypes.get(name).pattern_tags.tags
        assert max(tag.value for tag in tags if tag.code == 49) == longest
    reference = document.modelspace().query('*[layer=="reference"]')
    dashed = [entity for entity in reference if entity.dxf.linetype == "DASHED"]
    assert {entity.dxftype() for entity in dashed} <= {"CIRCLE", "LWPOLYLINE"}
    assert len(dashed) == 2, "the bearing's housing and the tower's opening"
    for entity in dashed:
        assert entity.dxf.ltscale == 1.0
        assert entity.dxftype() == "CIRCLE" or entity.get_flag_state(128)


def test_an_opening_of_any_shape_is_drawn(car: ss.Axle) -> None:
    plate = car.top_plate
    assert plate is not None
    openings = (
        {"radius": 40.0},
        {"half_axes": [50.0, 36.0], "turned": 20.0},
        {"corners": [[-40, -35], [50, -30], [10, 45]]},
    )
    for side, opening in itertools.product(("left", "right"), openings):
        sheet = drawings.plate_drawing(getattr(car, side), plate.replace(opening={**opening, "centre": [5.0, 2.0]}))
        (drawn,) = [shape for shape in sheet.on("reference") if getattr(shape, "name", "") == "tower opening"]
        found = drawings.geometry.polygon_of(drawn)  # type: ignore[arg-type]
        # IDENTITY: the area is the opening's, and its middle lies inboard of the datum: to the right on the left sheet.
        area = top_plates.clearing.opening_area(plate.replace(opening={**opening, "centre": [5.0, 2.0]}))
        assert area is not None
        assert found.area == pytest.approx(area.area, rel=1e-3)
        datum = next(
            shape.centre
            for shape in sheet.on("reference")
            if isinstance(shape, drawings.Circle) and shape.style == "chain"
        )
        sign = 1.0 if side == "left" else -1.0
        assert found.centroid.x - datum[0] == pytest.approx(sign * area.centroid.x, abs=FILE_MM)
        assert found.centroid.y - datum[1] == pytest.approx(-area.centroid.y, abs=FILE_MM)


def test_holes_lie_in_their_part_and_apart(files: dict[str, Path], sheets: dict[str, drawings.Drawing]) -> None:
    areas = cut_areas(files["left.dxf"])
    plate, insert = areas[0], next(area for area in areas[1:] if not area.within(areas[0]))
    holes = [area for area in areas if area is not plate and area is not insert]
    assert len(holes) == 3 + 2 + 1 + 2
    assert all(hole.within(plate) or hole.within(insert) for hole in holes)
    webs = [a.distance(b) for a, b in itertools.combinations([hole for hole in holes if hole.within(plate)], 2)]
    webs += [hole.distance(plate.exterior) for hole in holes if hole.within(plate)]
    assert min(webs) == pytest.approx(sheets["left"].web, abs=FILE_MM)


def test_the_right_part_is_the_mirror_image_of_the_left(files: dict[str, Path]) -> None:
    left, right = (cut_areas(files[f"{side}.dxf"]) for side in ("left", "right"))
    for one, other in ((left[0], right[0]), (left[1], right[1])):
        middle = (one.bounds[0] + one.bounds[2]) / 2.0
        holes = shapely.union_all([area for area in left if area.within(one) and area is not one])
        other_holes = shapely.union_all([area for area in right if area.within(other) and area is not other])
        mirrored = shapely.affinity.scale(holes, xfact=-1.0, origin=(middle, 0.0))
        shift = other.bounds[0] - one.bounds[0]
        moved = shapely.affinity.translate(mirrored, shift, 0.0)
        assert moved.symmetric_difference(other_holes).area < 0.5
    words = {
        side: [text.dxf.text for text in ezdxf.readfile(files[f"{side}.dxf"]).modelspace().query("TEXT")]
        for side in ("left", "right")
    }
    for side, other in (("left", "right"), ("right", "left")):
        assert side.upper() in words[side]
        assert other.upper() not in words[side]
        assert "FRONT" in words[side]
        assert any(f"The {other} parts are the mirror image" in text for text in words[side])


def test_arrow_points_to_the_front(sheets: dict[str, drawings.Drawing]) -> None:
    for sheet in sheets.values():
        (arrow,) = [shape for shape in sheet.on("engrave") if getattr(shape, "name", "") == "front"]
        assert isinstance(arrow, drawings.Contour)
        (x0, y0, _), (x1, y1, _) = arrow.vertices
        assert x0 == x1
        assert y1 > y0


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("of", ["insert", "plate"])
def test_marks_of_the_dxf_are_where_the_slides_put_them(
    car: ss.Axle, plan: top_plates.SlotPlan, files: dict[str, Path], side: str, of: str
) -> None:
    lines = ezdxf.readfile(files[f"{side}.dxf"]).modelspace().query('LINE[layer=="engrave"]')
    upright = [(line.dxf.start.x, line.dxf.start.y) for line in lines if line.dxf.start.x == line.dxf.end.x]
    level = [(line.dxf.start.x, line.dxf.start.y) for line in lines if line.dxf.start.y == line.dxf.end.y]
    corner = getattr(car, side)
    sign = 1.0 if side == "left" else -1.0
    areas = cut_areas(files[f"{side}.dxf"])
    # The plate's middle on the sheet is that of the tower's studs: the rear slot's line, and the slots' heights.
    slots = [area for area in areas if area.within(areas[0])]
    rear = min(slots, key=lambda area: area.centroid.y)
    centre_x = rear.centroid.x
    stud = plan.top_plate.studs["circle"] / 2.0  # type: ignore[index]
    reach = plan.top_plate.plate_slot["reach"]
    centre_y = rear.centroid.y + stud - (reach[0] + reach[1]) / 2.0
    if of == "plate":
        expected = centre_y - stud + top_plates.marks(corner, plan.top_plate, of="plate").slide.values
        found = sorted(y for _, y in level)
    else:
        ladders = [top_plates.marks(corner, plan.top_plate, position=position) for position in (0, 1)]
        expected = centre_x + sign * np.concatenate([ladder.slide.values for ladder in ladders])
        found = sorted(
            x
            for x, y in upright
            if areas[0].contains(shapely.Point(x, y)) and abs(abs(y - centre_y) - 60.0) > 0.0 and _is_mark(x, y, lines)
        )
    np.testing.assert_allclose(found, np.sort(expected), atol=FILE_MM)


def _is_mark(x: float, y: float, lines: Any) -> bool:
    """A mark's length, not the arrow's or a pointer's."""
    (line,) = [line for line in lines if (line.dxf.start.x, line.dxf.start.y) == (x, y)]
    return bool(np.isclose(line.dxf.start.distance(line.dxf.end), [2.5, 4.5], atol=1e-6).any())


def test_svg_is_full_size_and_its_slots_measure_the_same(files: dict[str, Path], plan: top_plates.SlotPlan) -> None:
    root = ElementTree.parse(files["left.svg"]).getroot()
    assert root.attrib["width"] == "420mm"
    assert root.attrib["height"] == "297mm"
    assert root.attrib["viewBox"] == "0 0 420 297"
    space = "{http://www.w3.org/2000/svg}"
    groups = {group.attrib["id"]: group for group in root.findall(f"{space}g")}
    assert list(groups) == list(drawings.LAYERS)
    for slot in plan.slots:
        paths = [
            path.attrib["d"]
            for path in groups["cut"].findall(f"{space}path")
            if path.attrib.get("data-name", "").startswith(f"{slot.name} slot")
        ]
        assert len(paths) == (3 if slot.name == "plate" else 2)
        for path in paths:
            straight = re.findall(r"[ML] ([-\d.]+) ([-\d.]+)", path)
            ends = np.array(straight[:2], dtype=float)
            assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(2.0 * slot.half_travel, abs=FILE_MM)
            radii = {float(radius) for radius in re.findall(r"A ([\d.]+) ", path)}
            assert radii == {slot.width / 2.0}
            assert path.endswith("Z")


def test_numerals_are_large_enough(sheets: dict[str, drawings.Drawing]) -> None:
    # MEMORY: ISO 3098 gives 2.5 mm as the least height of letters on drawings; of what is engraved, all of it.
    for sheet in sheets.values():
        engraved = [shape for shape in sheet.on("engrave") if isinstance(shape, drawings.Text)]
        assert len(engraved) > 10
        assert all(text.height >= 2.5 for text in engraved)


def test_no_cut_takes_an_engraved_letter_away(sheets: dict[str, drawings.Drawing], car: ss.Axle) -> None:
    assert car.top_plate is not None
    for sheet in (*sheets.values(), drawings.plate_drawing(car.left, car.top_plate)):
        cuts = shapely.union_all([drawings.geometry.polygon_of(shape).exterior for shape in sheet.on("cut")])
        for text in sheet.on("engrave"):
            if isinstance(text, drawings.Text):
                # As the PDF sets them: Helvetica, whose capitals are 0.718 of its size (its metrics, in reportlab).
                width = stringWidth(text.words, "Helvetica-Bold" if text.bold else "Helvetica", text.height / 0.718)
                left = {"left": 0.0, "middle": -width / 2.0, "right": -width}[text.align]
                area = shapely.affinity.rotate(
                    shapely.box(left, 0.0, left + width, text.height), text.turned, origin=(0.0, 0.0)
                )
                assert not shapely.affinity.translate(area, *text.at).intersects(cuts), text.words


def test_pdf_is_full_size_and_its_bar_is_100_mm(files: dict[str, Path], sheets: dict[str, drawings.Drawing]) -> None:
    for side, sheet in sheets.items():
        reader = pypdf.PdfReader(files[f"{side}.pdf"])
        (page,) = reader.pages
        size = [float(page.mediabox.width) * MM_PER_POINT, float(page.mediabox.height) * MM_PER_POINT]
        assert size == pytest.approx(list(sheet.size), abs=FILE_MM)
        stream = page.get_contents()
        assert stream is not None
        content = stream.get_data().decode("latin-1")
        scales = [float(scale) for scale in re.findall(r"([\d.]+) 0 0 [\d.]+ 0 0 cm", content)]
        assert math.prod(scales) == pytest.approx(1.0 / MM_PER_POINT, rel=1e-4)
        runs = re.findall(r"n ([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l\s+S", content)
        level = [float(x1) - float(x0) for x0, y0, x1, y1 in runs if y0 == y1]
        assert any(abs(length - 100.0) < FILE_MM for length in level)
        text = page.extract_text()
        for words in ("SAFETY PART", "licensed engineer", "MATERIAL", "100 mm", side.upper()):
            assert words in text


def test_files_are_the_same_bytes_each_time(sheets: dict[str, drawings.Drawing], tmp_path: Path) -> None:
    for form in (".svg", ".pdf"):
        one, other = (drawings.save(sheets["left"], tmp_path / f"{name}{form}").read_bytes() for name in "ab")
        assert one == other


def test_drawings_refuse_what_cannot_be_drawn(car: ss.Axle, tmp_path: Path) -> None:
    plate = car.top_plate
    assert plate is not None
    with pytest.raises(
        ss.InputError, match="plate slot 2 and insert slot|insert slot 1 and window|run into each other"
    ):
        drawings.plate_drawing(car.left, plate.replace(insert_bolts={"circle": 30.0}))
    bare = ss.TopPlate.from_dict({"plate_slot": {"reach": [-1, 1]}, "insert_slot": {"reach": [-1, 1]}})
    with pytest.raises(ss.InputError, match="top_plate.studs is missing"):
        drawings.plate_drawing(car.left, bare)
    with pytest.raises(ss.InputError, match="does not fit a sheet of 420 by 297 mm"):
        drawings.plate_drawing(car.left, plate.replace(studs={"circle": 400.0}))
    with pytest.raises(ss.InputError, match="edge = inf"):
        drawings.plate_drawing(car.left, plate, edge=math.inf)
    with pytest.raises(ss.InputError, match="edge = -1"):
        drawings.plate_drawing(car.left, plate, edge=-1.0)
    sheet = drawings.plate_drawing(car.left, plate)
    with pytest.raises(ss.InputError, match=r"\.dxf, \.svg or \.pdf"):
        drawings.save(sheet, tmp_path / "plate.png")
    with pytest.raises(ss.InputError, match="No such file"):
        drawings.save(sheet, tmp_path / "nowhere" / "plate.svg")


def test_thin_webs_are_told_on_the_sheet(car: ss.Axle) -> None:
    plate = car.top_plate
    assert plate is not None
    room = drawings.plate_drawing(car.left, plate).web
    circle = plate.insert_bolts["circle"]  # type: ignore[index]
    # IDENTITY: the front slot's edge and the window's are as far apart as bolts, half a width, housing and room leave.
    apart = circle / 2.0 - 4.5 - (plate.clearing["insert"] or 0.0) - 0.5
    near = plate.replace(insert_bolts={"circle": circle - 2.0 * (apart - 1.5)})
    sheet = drawings.plate_drawing(car.left, near)
    assert sheet.web == pytest.approx(1.5, abs=FILE_MM)
    assert sheet.web < 3.0 < room
    words = [shape.words for shape in sheet.on("reference") if isinstance(shape, drawings.Text)]
    assert any("LOOK: only" in text for text in words)


def test_picture_shows_every_shape(sheets: dict[str, drawings.Drawing]) -> None:
    sheet = sheets["right"]
    (axes,) = drawings.picture(sheet, width_in=8.0).axes
    words = [shape for shape in sheet.shapes if isinstance(shape, drawings.Text)]
    assert [text.get_text() for text in axes.texts] == [text.words for text in words]
    assert len(axes.patches) == len(sheet.shapes) - len(words)
    width, height = axes.figure.get_size_inches()
    assert width / height == pytest.approx(420.0 / 297.0)


def test_holes_without_travel_are_round(car: ss.Axle) -> None:
    plate = car.top_plate
    assert plate is not None
    still = plate.replace(plate_slot={"reach": [0, 0]}, insert_slot={"reach": [-6, 6]})
    sheet = drawings.plate_drawing(car.left, still, kind="millimetres")
    assert sum(isinstance(shape, drawings.Circle) for shape in sheet.on("cut")) == 3 + 2
    assert io.BytesIO(drawings.writers.FORMS[".pdf"](sheet)).getvalue().startswith(b"%PDF")


POINTER_MM: Final = 2.0
"""A pointer's tip is one short of the insert's end, the ladder half a one beyond it."""
ROW_MM: Final = 10.0
"""Another ladder lies in between where both are at one end."""


def laid_on(shape: Any, corner: ss.Corner, turned_deg: float, slide: float, datum: Any, middle: Any) -> Any:
    """A shape of the insert's view where it lies on the plate: turned from inboard towards rearward, slid inboard."""
    sign = 1.0 if corner.side == "left" else -1.0
    # On the left sheet inboard is right and rearward down: that way is clockwise.
    turned = shapely.affinity.rotate(shape, -sign * turned_deg, origin=tuple(middle))
    return shapely.affinity.translate(turned, datum[0] - middle[0] + sign * slide, datum[1] - middle[1])


def test_the_insert_covers_none_of_its_marks_and_its_pointer_stands_at_each(
    car: ss.Axle, plan: top_plates.SlotPlan
) -> None:
    """IDENTITY: the insert as cut, laid on the plate as cut, bolts in their slots, at each of the marks."""
    assert car.top_plate is not None
    for corner, plate in itertools.product((car.left, car.right), (car.top_plate, plan.top_plate)):
        sheet = drawings.plate_drawing(corner, plate)
        named = {getattr(shape, "name", ""): shape for shape in sheet.shapes}
        outline = drawings.geometry.polygon_of(named["insert outline"])  # type: ignore[arg-type]
        middle = np.mean([shape.centre for name, shape in named.items() if name.startswith("insert hole")], axis=0)
        (datum,) = {shape.centre for shape in sheet.on("reference") if getattr(shape, "style", "") == "chain"
                    and isinstance(shape, drawings.Circle)}  # fmt: skip
        pointers = [shape for shape in sheet.on("engrave") if getattr(shape, "name", "").startswith("pointer")]
        for position, name in enumerate("AB"):
            turned = plate.insert["angles"][position] - plate.insert["angles"][0]
            (pointer,) = [shape for shape in pointers if name in shape.name.removeprefix("pointer ")]
            ticks = [shape for shape in sheet.on("engrave") if getattr(shape, "name", "") == f"mark insert {name}"]
            slides = np.sort(top_plates.marks(corner, plate, position=position).slide.values)
            sign = 1.0 if corner.side == "left" else -1.0
            ticks.sort(key=lambda tick: sign * tick.vertices[0][0])
            assert len(ticks) == len(slides) > 2
            for tick, slide in zip(ticks, slides, strict=True):
                lying = laid_on(outline, corner, turned, slide, datum, middle)
                for other in ticks:
                    assert not lying.intersects(drawings.geometry.extent_of(other).buffer(0.05)), (corner.side, name)
                tip = laid_on(shapely.Point(pointer.vertices[2][:2]), corner, turned, slide, datum, middle)
                foot = tick.vertices[0]
                assert tip.x == pytest.approx(foot[0], abs=FILE_MM)
                apart = abs(foot[1] - tip.y)
                assert apart < POINTER_MM + (ROW_MM if len(pointers) > 1 else 0.0)
                # It points towards the mark, from the plate's middle outward.
                assert (foot[1] - tip.y) * (tip.y - datum[1]) > 0.0


def test_marks_of_a_stud_begin_beyond_its_washer(car: ss.Axle) -> None:
    # MEMORY: ISO 7089, the washer of an M8 is 16 mm across.
    assert car.top_plate is not None
    sheet = drawings.plate_drawing(car.left, car.top_plate)
    slot = drawings.geometry.polygon_of(  # type: ignore[arg-type]
        next(shape for shape in sheet.on("cut") if getattr(shape, "name", "") == "plate slot 1")
    )
    ticks = [shape for shape in sheet.on("engrave") if getattr(shape, "name", "").startswith("mark plate")]
    assert all(abs(tick.vertices[0][0] - slot.centroid.x) > 8.0 for tick in ticks)  # type: ignore[union-attr]


def test_positions_that_ask_for_unlike_slides_of_the_plate_have_caster_marks_of_their_own(car: ss.Axle) -> None:
    assert car.top_plate is not None
    quarters = car.top_plate.replace(
        insert={"angles": [0, 90]}, insert_bolts={"count": 4, "first": 45, "circle": 106}, studs={"circle": 190},
        insert_slot={"reach": [-6, 6]},
    )  # fmt: skip
    sheet = drawings.plate_drawing(car.left, quarters, edge=8.0)
    zeros = {}
    for position, name in enumerate("AB"):
        ticks = [shape for shape in sheet.on("engrave") if getattr(shape, "name", "") == f"mark plate {name}"]
        slides = top_plates.marks(car.left, quarters, of="plate", position=position)
        assert len(ticks) == slides.sizes["mark"] > 1
        zeros[name] = float(slides.slide[slides.label == "0"].item())
        words = [shape.words for shape in sheet.on("engrave") if isinstance(shape, drawings.Text)]
        assert any(word.startswith(("CASTER", "deg")) and word.endswith(f", INSERT {name}") for word in words)
    # IDENTITY: turned by a quarter, the offset of 6 mm lies rearward, and the plate has to go back forward by as much.
    assert zeros["A"] - zeros["B"] == pytest.approx(6.0, abs=1e-9)


def test_pointers_of_quarter_turns_stand_at_their_ladders(car: ss.Axle) -> None:
    plate = car.top_plate
    assert plate is not None
    quarters = plate.replace(
        insert={"angles": [45, 135, 225, 315]},
        insert_bolts={"count": 4, "first": 45, "circle": 110},
        insert_slot={"reach": [-6, 6]},
        studs={"circle": 190},
    )
    for corner in (car.left, car.right):
        sheet = drawings.plate_drawing(corner, quarters, kind="millimetres", edge=8.0)
        lines = [shape for shape in sheet.on("engrave") if isinstance(shape, drawings.Contour)]
        holes = [shape.centre for shape in sheet.on("cut") if shape.name.startswith("insert hole")]
        middle = np.mean(holes, axis=0)
        slots = [shape for shape in sheet.on("cut") if shape.name.startswith("insert slot")]
        plate_middle = np.mean([np.mean([vertex[:2] for vertex in slot.vertices], axis=0) for slot in slots], axis=0)
        sign = 1.0 if corner.side == "left" else -1.0
        found = ""
        for pointer in (shape for shape in lines if shape.name.startswith("pointer")):
            tip = np.array(pointer.vertices[2][:2]) - middle
            for name in pointer.name.removeprefix("pointer "):
                found += name
                # IDENTITY: position B is A turned by a quarter, inboard towards rearward: clockwise on the left sheet.
                turn = -sign * math.radians(90.0 * "ABCD".index(name))
                turned = np.array(
                    [
                        tip[0] * math.cos(turn) - tip[1] * math.sin(turn),
                        tip[0] * math.sin(turn) + tip[1] * math.cos(turn),
                    ]
                )
                ticks = [shape for shape in lines if shape.name == f"mark insert {name}"]
                ladder = np.mean([tick.vertices[0][:2] for tick in ticks], axis=0) - plate_middle
                assert np.dot(turned, ladder) > 0.85 * np.linalg.norm(turned) * np.linalg.norm(ladder), name
        assert sorted(found) == ["A", "B", "C", "D"]
        letters = [shape.words for shape in sheet.on("engrave") if isinstance(shape, drawings.Text)]
        assert {"A", "B", "C", "D"} <= set("".join(letters))
        words = [shape.words for shape in sheet.on("reference") if isinstance(shape, drawings.Text)]
        assert any("each of its pointers reads the ladder of its letter" in word for word in words)


def test_marks_say_that_they_are_changes_and_from_where(sheets: dict[str, drawings.Drawing], car: ss.Axle) -> None:
    words = [shape.words for shape in sheets["left"].shapes if isinstance(shape, drawings.Text)]
    static = car.left.solve()
    assert any("CHANGE" in word for word in words)
    zero = f"0 is the top as measured (camber {static.camber:+.2f}, caster {static.caster:+.2f} deg at design height)"
    assert any(zero in word for word in words)


def test_words_keep_on_the_sheet_and_off_each_other(sheets: dict[str, drawings.Drawing]) -> None:
    for sheet in sheets.values():
        written = []
        for text in (shape for shape in sheet.shapes if isinstance(shape, drawings.Text)):
            width = stringWidth(text.words, "Helvetica-Bold" if text.bold else "Helvetica", text.height / 0.718)
            left = {"left": 0.0, "middle": -width / 2.0, "right": -width}[text.align]
            area = shapely.affinity.rotate(
                shapely.box(left, 0.0, left + width, text.height), text.turned, origin=(0.0, 0.0)
            )
            written.append((text, shapely.affinity.translate(area, *text.at)))
        page = shapely.box(0.0, 0.0, *sheet.size)
        for text, area in written:
            assert page.contains(area), text.words
        for (one, a), (other, b) in itertools.combinations(written, 2):
            if one.layer == other.layer == "engrave":
                assert not a.intersects(b), (one.words, other.words)
