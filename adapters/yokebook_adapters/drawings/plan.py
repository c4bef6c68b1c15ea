"""A room: its walls laid out straight with what each receptacle reaches, and the plan with the nearest controlled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from yokebook.units import format_feet
from yokebook_adapters.drawings.measure import fit, text_width
from yokebook_adapters.drawings.placing import Box, Room
from yokebook_adapters.drawings.plan_data import Distance, Plan, Reach, Spot, Wall, lengths_of, parts_in_words
from yokebook_adapters.drawings.svg import GREY, Picture, leading
from yokebook_adapters.lines import capital, in_words

_WIDTH, _MARGIN = 680.0, 30.0
_TEXT, _SMALL, _HEAD = 11.0, 9.5, 12.5
_DISC = 9.0

_KEY = (
    "A circle with two strokes is a receptacle; a hatched circle has a half that a control switches off. Walls are "
    "laid out straight from one doorway or other break to the next, seen as one faces them, corners included."
)


def draw_plan(plan: Plan, name: str = "plan") -> Picture:
    """The drawing of one room. It may have nothing but the list of devices of which no place is given."""
    picture = Picture(name, f"Plan of {plan.room}", _description(plan), _WIDTH)
    y = picture.lines(0, 16, fit(capital(plan.room), _WIDTH, 14, bold=True), size=14, bold=True) - leading(14)
    for wall in plan.walls:
        y = _wall(picture, wall, plan.distances, y + 28)
    if plan.spots:
        y = _map(picture, plan, y + 26)
    y = _distances(picture, plan, y + 22)
    nowhere = f"Not drawn, for no place is given: {in_words(plan.nowhere)}." if plan.nowhere else ""
    for text in (nowhere, _KEY if plan else ""):
        y = picture.lines(0, y, fit(text, _WIDTH, _SMALL), size=_SMALL, ink=GREY) + (3 if text else 0)
    picture.height = y - leading(_SMALL) + 8
    return picture


def _description(plan: Plan) -> str:
    said = [_wall_words(wall) for wall in plan.walls]
    for spot in plan.spots:
        said.append(f"{spot.name}{_controlled(spot)} at {format_feet(spot.x)} right, {format_feet(spot.y)} up.")
    said += [_distance_words(each) for each in plan.distances]
    said += [f"{capital(text)}." for text in plan.ruled]
    said += [f"No place is given of {in_words(plan.nowhere)}."] if plan.nowhere else []
    return " ".join(said) or "No place is given of any receptacle."


# ---- walls ----------------------------------------------------------------------------------------------------------


def _wall_words(wall: Wall) -> str:
    on_it = [f"{spot.name}{_controlled(spot)} at {format_feet(spot.x)}" for spot in wall.spots]
    said = [f"Wall {wall.name}, {format_feet(wall.length)} long: {in_words(on_it) or 'no receptacle'}."]
    said += [f"{each.name} reaches {'' if each.exact else 'at least '}{parts_in_words([(each.low, each.high)])}."
             for each in wall.reaches]  # fmt: skip
    return " ".join([*said, *(f"{capital(text)}." for text in (*_out_of_reach(wall), *wall.ruled))])


def _out_of_reach(wall: Wall) -> list[str]:
    if not wall.reach_known:
        return ["what the receptacles reach was not measured here"]
    if not wall.maybe:
        return ["all of it is within reach"]
    if wall.sure == wall.maybe:
        return [f"out of reach: {parts_in_words(wall.sure)}, {format_feet(lengths_of(wall.sure))} in all"]
    surely = [f"surely out of reach: {parts_in_words(wall.sure)}"] if wall.sure else []
    return [*surely, f"maybe out of reach: {parts_in_words(wall.maybe)}"]


def _controlled(spot: Spot) -> str:
    if not spot.controlled:
        return ""
    return " (controlled)" if len(spot.controlled) == spot.halves else f" ({in_words(spot.controlled)} controlled)"


def _wall(picture: Picture, wall: Wall, distances: Sequence[Distance], y: float) -> float:
    """One wall: what each receptacle reaches above the floor line, the receptacles on it, what is left below."""
    head = fit(f"Wall {wall.name}, {format_feet(wall.length)}", _WIDTH, _HEAD, bold=True)
    y = picture.lines(0, y, head, size=_HEAD, bold=True) - leading(_HEAD)
    scale = (_WIDTH - 2 * _MARGIN) / float(wall.length)

    def at(place: Fraction) -> float:
        return _MARGIN + float(place) * scale

    y += 20
    for reach in wall.reaches:
        left, right = at(reach.low), at(reach.high)
        dashes = "" if reach.exact else "5 3"
        picture.line((left, y), (right, y), dashes=dashes)
        for end in (left, right):
            picture.line((end, y - 4), (end, y + 4))
        _reach_text(picture, reach, left, right, y + 3.5)
        y += 17
    floor = y + 10
    for part in wall.maybe:
        left, right = at(part[0]), at(part[1])
        if part in wall.sure:
            picture.hatch(left, floor - 7, right - left, 14, step=4, thick=1.2)
        else:
            picture.dots(left, floor - 7, right - left, 14)
        picture.box(left, floor - 7, right - left, 14, line=1)
    picture.line((at(Fraction(0)), floor), (at(wall.length), floor), thick=3)
    for corner in (Fraction(0), wall.length):
        picture.line((at(corner), floor - 10), (at(corner), floor + 10), thick=1.5)
    for spot in wall.spots:
        _receptacle(picture, spot, at(spot.x), floor)
    below = _labels(picture, [(spot, at(spot.x)) for spot in wall.spots], floor + 24)
    below = _dimensions(picture, {spot.name: at(spot.x) for spot in wall.spots}, distances, below)
    for text in (*_out_of_reach(wall), *wall.ruled):
        below = picture.lines(_MARGIN, below, fit(capital(text), _WIDTH - _MARGIN, _TEXT), size=_TEXT)
    return below - leading(_TEXT) + 4


def _reach_text(picture: Picture, reach: Reach, left: float, right: float, y: float) -> None:
    """What a receptacle reaches, on its line or beside it; without its name where that is too long for either."""
    span = parts_in_words([(reach.low, reach.high)])
    text = f"{reach.name} reaches {span}"
    wide = text_width(text, _SMALL)
    if wide < right - left - 12:
        picture.text((left + right) / 2, y, text, size=_SMALL, anchor="middle", behind=True)
    elif wide < _WIDTH - right - 6:
        picture.text(right + 6, y, text, size=_SMALL)
    elif wide < left - 6:
        picture.text(left - 6, y, text, size=_SMALL, anchor="end")
    elif text_width(span, _SMALL) < right - left - 12:
        picture.text((left + right) / 2, y, span, size=_SMALL, anchor="middle", behind=True)


def _dimensions(picture: Picture, places: dict[str, float], distances: Sequence[Distance], y: float) -> float:
    """A line from each device to the one with the nearest controlled contact device, where both are on the wall."""
    pairs = dict.fromkeys((each.of, each.to or each.of, each.text) for each in distances)
    for of, to, text in pairs:
        if of == to or of not in places or to not in places:
            continue
        left, right = sorted((places[of], places[to]))
        picture.line((left, y), (right, y), dashes="5 3")
        for end in (left, right):
            picture.line((end, y - 4), (end, y + 4))
        picture.text((left + right) / 2, y + 3.5, text, size=_SMALL, anchor="middle", behind=True)
        y += 18
    return y


def _receptacle(picture: Picture, spot: Spot, x: float, y: float) -> None:
    picture.disc((x, y), _DISC)
    if spot.controlled:
        inside = _DISC * 0.68
        picture.hatch(x - inside, y - inside, 2 * inside, 2 * inside, step=3.5)
    for aside in (-3, 3):
        picture.line((x + aside, y - 5), (x + aside, y + 5), thick=1.6)


def _labels(picture: Picture, spots: Sequence[tuple[Spot, float]], y: float) -> float:
    """Names under receptacles, each on the first row where it meets no other; returns the base line after the last."""
    ends: list[float] = []
    for spot, x in sorted(spots, key=lambda each: each[1]):
        text = f"{spot.name}{_controlled(spot)}"
        half = text_width(text, _SMALL, bold=True) / 2
        middle = min(max(x, half), _WIDTH - half)
        row = next((n for n, end in enumerate(ends) if middle - half > end + 8), len(ends))
        ends[row : row + 1] = [middle + half]
        picture.text(middle, y + row * 12, text, size=_SMALL, bold=True, anchor="middle", behind=row > 0)
    return y + len(ends) * 12 + 4


# ---- the plan -------------------------------------------------------------------------------------------------------


def _map(picture: Picture, plan: Plan, y: float) -> float:
    """The devices that have a place on the plan, with a line from each uncontrolled one to the nearest controlled. A
    name that has no room beside its device is a number there, and stands below."""
    picture.text(0, y, "On the plan (right and up as drawn there, to scale)", size=_HEAD, bold=True)
    xs, ys = [spot.x for spot in plan.spots], [spot.y for spot in plan.spots]
    wide, high = float(max(xs) - min(xs)), float(max(ys) - min(ys))
    scale = min((_WIDTH - 4 * _MARGIN) / wide if wide else 1e9, 320 / high if high else 1e9, 12.0)
    top = y + 38
    left = 2 * _MARGIN

    def at(spot: Spot) -> tuple[float, float]:
        return left + float(spot.x - min(xs)) * scale, top + float(max(ys) - spot.y) * scale

    places = {spot.name: at(spot) for spot in plan.spots}
    bottom = top + high * scale + _DISC + 2 * leading(_SMALL)
    room = Room(Box(0, y + 6, _WIDTH, bottom))
    for x, here in places.values():
        room.take(Box(x - _DISC, here - _DISC, x + _DISC, here + _DISC))
    lines = _lines_between(picture, plan, places)
    for spot in plan.spots:
        _receptacle(picture, spot, *places[spot.name])
    numbered = [text for spot in plan.spots if (text := _label(picture, spot, places[spot.name], room, plan))]
    for text, ends in lines:
        _on_line(picture, text, ends, room)
    for text in numbered:
        bottom = picture.lines(_MARGIN, bottom + 6, fit(text, _WIDTH - _MARGIN, _SMALL), size=_SMALL) - 6
    return bottom


_Ends = tuple[tuple[float, float], tuple[float, float]]


def _lines_between(picture: Picture, plan: Plan, places: Mapping[str, tuple[float, float]]) -> list[tuple[str, _Ends]]:
    """Draws a line for each distance between two devices, once; how far each is, with the ends of its line."""
    drawn: dict[tuple[str, str], tuple[str, _Ends]] = {}
    for each in plan.distances:
        pair = (each.of, each.to or each.of)
        if pair[0] != pair[1] and pair not in drawn and pair[0] in places and pair[1] in places:
            drawn[pair] = each.text, (places[pair[0]], places[pair[1]])
            picture.line(*drawn[pair][1], dashes="5 3")
    return list(drawn.values())


def _label(picture: Picture, spot: Spot, at: tuple[float, float], room: Room, plan: Plan) -> str:
    """Writes a device's name beside it, or else its number; what has to stand below in that case."""
    x, y = at
    name = f"{spot.name}{_controlled(spot)}"
    number = str(plan.spots.index(spot) + 1)
    above, below = y - _DISC - 5, y + _DISC + _SMALL + 3
    for text in (name, number):
        aside = _DISC + 4 + text_width(text, _SMALL, bold=True) / 2
        sides = ((x, above), (x, below), (x + aside, y + 3.5), (x - aside, y + 3.5))
        if (where := room.write(text, _SMALL, sides, bold=True)) is not None:
            picture.text(*where, text, size=_SMALL, bold=True, anchor="middle", behind=True)
            return "" if text == name else f"{number}: {name}."
    return f"{name}: {format_feet(spot.x)} right, {format_feet(spot.y)} up."


def _on_line(picture: Picture, text: str, ends: _Ends, room: Room) -> None:
    """Writes how far it is on its line, where there is room; it stands below in any case."""
    (x1, y1), (x2, y2) = ends
    shares = (0.5, 0.35, 0.65, 0.25, 0.75, 0.15, 0.85)
    places = [(x1 + (x2 - x1) * share, y1 + (y2 - y1) * share + 3.5) for share in shares]
    if (where := room.write(text, _TEXT, places)) is not None:
        picture.text(*where, text, size=_TEXT, anchor="middle", behind=True)


def _distances(picture: Picture, plan: Plan, y: float) -> float:
    if not plan.distances and not plan.ruled:
        return y
    if plan.distances:
        picture.text(0, y, "To the nearest controlled contact device", size=_HEAD, bold=True)
        y += 16
    for text in (*(_distance_words(each) for each in plan.distances), *(f"{capital(ruled)}." for ruled in plan.ruled)):
        y = picture.lines(_MARGIN, y, fit(text, _WIDTH - _MARGIN, _TEXT), size=_TEXT)
    return y + 4


def _distance_words(each: Distance) -> str:
    to = {None: "", each.of: ", on the same device"}.get(each.to, f", on {each.to}")
    return f"{each.of} {each.half}: {each.text}{to}."
