"""What a printed work order holds, in cells of text: the same for terminal, page and paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from strutsweep.setting_up._kinds import SIDES, Side
from strutsweep.setting_up.adjusters import STAYS, part_name, slide_text, way_text
from strutsweep.setting_up.quantities import MINUS, AngleForm, amount_text, angle_text, miss_text, toe_length
from strutsweep.setting_up.steps import MOVED_MM
from strutsweep.setting_up.work import Line, WorkOrder
from strutsweep.words import READINGS, SETTINGS

__all__ = ["Content", "Move", "Row", "content_of"]

NONE: Final = "—"
_WHICH: Final = {"left": "left", "right": "right", "cross": f"left {MINUS} right", "total": "total"}


@dataclass(frozen=True)
class Row:
    """A line of the sheet as text; ``first`` where a new reading begins."""

    reading: str
    positive: str
    which: str
    before: str
    wanted: str
    after: str
    first: bool
    quiet: bool
    missed: bool


@dataclass(frozen=True)
class Move:
    """What to do with one adjuster, left and right, as text."""

    adjuster: str
    left: str
    right: str


@dataclass(frozen=True)
class StepText:
    """A step as text: its number, title, sentences, and what the gauges should show then."""

    number: int
    title: str
    text: str
    reads: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class MarginText:
    """A limit as text."""

    name: str
    left: str
    right: str
    where: str
    kept: bool


@dataclass(frozen=True)
class Content:
    """All cells of a work order."""

    title: str
    car: str
    note: str
    verdict: str
    met: bool
    rows: tuple[Row, ...]
    moves: tuple[Move, ...]
    steps: tuple[StepText, ...]
    margins: tuple[MarginText, ...]
    words: tuple[str, ...]
    offsets: tuple[str, ...]
    order_reason: str
    steering: str

    @property
    def signs(self) -> str:
        """Which way each reading is positive, in a sentence."""
        signs = [f"{row.reading.lower()}: {row.positive}" for row in self.rows if row.positive]
        return f"Positive is: {'; '.join(signs)}."

    @property
    def has_turns(self) -> bool:
        """Whether turns of a tie rod are told, and need to be told from where they are seen."""
        return any("*" in move.adjuster for move in self.moves)


def content_of(order: WorkOrder, *, angles: AngleForm = "degrees", toe_diameter: float | None = None) -> Content:
    """The cells of a work order.

    Raises
    ------
    InputError
        A diameter that no rim or tyre has, or no such form of angles.
    """
    return Content(
        title="Work order",
        car=order.car,
        note=order.before.note,
        verdict=_verdict(order, angles),
        met=order.met,
        rows=tuple(_rows(order, angles, toe_diameter)),
        moves=tuple(_moves(order)),
        steps=tuple(
            StepText(number, step.title, step.text, tuple(_reads(step.reads, angles)))
            for number, step in enumerate(order.steps, start=1)
        ),
        margins=tuple(_margins(order)),
        words=tuple(order.words()),
        offsets=tuple(f"{side.capitalize()}: {order.anchored.offsets[side]}." for side in SIDES),
        order_reason=_order_reason(order),
        steering=_steering(order),
    )


def _verdict(order: WorkOrder, angles: AngleForm) -> str:
    if order.met:
        return "Everything wanted can be reached."
    worst = max((abs(miss), name) for side in SIDES for name, miss in order.misses[side].items())
    reasons = dict.fromkeys(order.reasons[side] for side in SIDES if order.misses[side])
    ended = " ".join(f"{_capital(reason)}." for reason in reasons)
    return (
        f"Not everything wanted can be reached: {worst[1].replace('_', ' ')} stays"
        f" {miss_text(worst[0], angles, sign=False)} off. {ended}"
    )


def _steering(order: WorkOrder) -> str:
    before, after = order.steering_before, order.steering_after
    if before.straight and after.straight:
        return "The steering wheel stands straight as the car runs straight, before and after the work."
    return f"As the car came in, {before}; after the work {after}."


def _rows(order: WorkOrder, angles: AngleForm, toe_diameter: float | None) -> list[Row]:
    rows = []
    last = ""
    for line in order.lines():
        if line.before is None and line.wanted is None and line.after is None:
            continue
        rows.append(_row(order, line, angles, None, first=line.reading != last))
        last = line.reading
    if toe_diameter is not None:
        first = True
        for line in order.lines():
            if line.reading == "toe" and line.which != "cross":
                rows.append(_row(order, line, angles, toe_diameter, first=first))
                first = False
    return rows


def _row(order: WorkOrder, line: Line, angles: AngleForm, diameter: float | None, *, first: bool) -> Row:
    def shown(value: float | None) -> str:
        if value is None:
            return NONE
        if diameter is None:
            return angle_text(value, angles)
        # A total is shared evenly here: the sine's bend over a degree is a ten-thousandth of a millimetre.
        wheels = [value / 2.0] * 2 if line.which == "total" else [value]
        return amount_text(toe_length(*wheels, diameter=diameter), "mm")

    positive = READINGS[line.reading]["positive"]
    # The list of readings calls it the toe of this wheel; here left, right and total tell whose.
    name = "toe" if line.reading == "toe" else READINGS[line.reading]["long_name"]
    if diameter is not None:
        name += f" at {diameter:g} mm"
    missed = line.which in SIDES and line.reading in order.misses["left" if line.which == "left" else "right"]
    return Row(
        reading=_capital(name) if first else "",
        positive=positive if first and diameter is None else "",
        which=_WHICH[line.which],
        before=shown(line.before),
        wanted=shown(line.wanted),
        after=shown(line.after),
        first=first,
        quiet=line.which == "cross",
        missed=missed,
    )


def _moves(order: WorkOrder) -> list[Move]:
    names = list(dict.fromkeys(name for side in SIDES for name in order.changes[side]))
    moves = []
    own = order.moves
    for name in names:
        if name in order.along:
            by_hand = name in order.free
            if by_hand:
                cells = (way_text(name, own[side].get(name, 0.0)) for side in SIDES)
                moves.append(Move(_capital(part_name(name)), *cells))
            label = f"Strut top's height, by {'shims and' if by_hand else 'the'} face"
        else:
            label = _capital(part_name(name))
        moves.append(Move(label, _moved(order, "left", name), _moved(order, "right", name)))
    slides = order.slides
    for part in ("insert", "plate"):
        if any(slides[side] for side in SIDES):
            slid = (slide_text(order.anchored.car, part, slides[side].get(part, 0.0)) for side in SIDES)
            moves.append(Move(f"{_capital(part)} along its slot" + ", not turned" * (part == "insert"), *slid))
    moves.sort(key=lambda move: move.adjuster == _capital(part_name("tie_rod")))
    if any(_turns(order, side) for side in SIDES):
        moves.append(Move("Turns of the tie rod*", *(_turns(order, side) or NONE for side in SIDES)))
    if order.travel_at == "ground" and any(abs(order.collars[side].ride_height) >= MOVED_MM for side in SIDES):
        moves.append(Move("Spring collar, to hold ride height", *(_collar(order, side) for side in SIDES)))
    return moves


def _collar(order: WorkOrder, side: Side) -> str:
    found = order.collars[side]
    if abs(found.ride_height) < MOVED_MM:
        return STAYS
    up = found.collar_for_ride_height
    text = f"{abs(up):.1f} mm {'up' if up >= 0.0 else 'down'}"
    if found.collar_turns is not None:
        text += f", {abs(found.collar_turns):.1f} turns"
    return text


def _moved(order: WorkOrder, side: Side, name: str) -> str:
    amount = order.changes[side].get(name, 0.0)
    text = way_text(name, amount)
    if name in order.standing.get(side, {}):
        text += f" (to {amount_text(order.standing[side][name] + amount, SETTINGS[name]['units'])})"
    return text


def _turns(order: WorkOrder, side: Side) -> str:
    rod = order.tie_rods[side]
    if rod.turns is None or abs(rod.longer) < 0.005:
        return ""
    return f"{abs(rod.turns):.2f} turns {'clockwise' if rod.turns > 0.0 else 'anticlockwise'}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _reads(reads: object, angles: AngleForm) -> list[tuple[str, str, str]]:
    if not isinstance(reads, dict) or not reads:
        return []
    names = [name for name in reads["left"] if name in ("camber", "caster", "toe")]
    return [
        (name.replace("_", " "), angle_text(reads["left"][name], angles), angle_text(reads["right"][name], angles))
        for name in names
    ]


def _margins(order: WorkOrder) -> list[MarginText]:
    by_name: dict[str, dict[str, object]] = {}
    for margin in order.margins:
        digits = 2 if margin.unit == "1" else 1
        unit = "" if margin.unit == "1" else f" {margin.unit}"
        cell = by_name.setdefault(margin.name, {"where": "", "kept": True, "room": float("inf")})
        text = f"{margin.room:.{digits}f}{unit}".replace("-", MINUS)
        for side in SIDES if margin.side == "both" else (margin.side,):
            cell[side] = text
        cell["kept"] = bool(cell["kept"]) and margin.kept
        room = cell["room"]
        if isinstance(room, float) and margin.room < room:
            # Where parts stand is another matter on either side.
            cell["room"] = margin.room
            cell["where"] = f"{margin.side}: {margin.where}" if margin.note else margin.where
    return [
        MarginText(
            _capital(name),
            str(cell.get("left", NONE)),
            str(cell.get("right", NONE)),
            str(cell["where"]),
            bool(cell["kept"]),
        )
        for name, cell in by_name.items()
    ]


def _order_reason(order: WorkOrder) -> str:
    names = [part_name(name) for name in order.order.order]
    if len(names) < 2:
        return ""
    text = f"In this order ({', '.join(names)}) what is set is disturbed least on this car by what follows"
    if order.order.worst > order.order.left_over + 0.5:
        text += f": by {order.order.left_over:.1f} gauge accuracies in all, not {order.order.worst:.1f} as at worst"
    return text + ". Toe is last, as everything moves it."
