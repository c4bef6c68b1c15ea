"""Places as text: which edition governs from when, what amends it, and how complete that is."""

from __future__ import annotations

from collections.abc import Iterator

from yokebook.model import Adopts, Amendment, Book, Entry, Layer, NotEntered, Op, Place
from yokebook_adapters.lines import WIDTH, in_words, many, sentence, wrap


def list_of_places(book: Book, width: int = WIDTH) -> str:
    """Every place, with the kinds of document it has a line of time for and how complete its amendments are."""
    lines: list[str] = []
    for place in sorted(book.places.values(), key=lambda place: place.id):
        lines += wrap(f"{place.id}: {place.name}", width)
        for kind, line in place.lines.items():
            lines += wrap(f"{kind}: {many(len(line), 'entry', 'entries')}; {_now(book, kind, line)}", width, indent=2)
    return "\n".join(lines) + "\n"


def whole_place(book: Book, place: Place, width: int = WIDTH) -> str:
    """One place: every entry of every line of time, and every amendment of its layers."""
    lines = wrap(f"{place.name}, {place.id}", width)
    if place.within:
        within = book.places.get(place.within)
        name = within.name if within else place.within
        lines += wrap(f"Lies in {name}; that place's law governs only where an entry says so.", width)
    lines += wrap(f"Office to ask: {place.office}", width)
    for kind, line in place.lines.items():
        lines += ["", f"{kind.upper()}"]
        for entry in line:
            lines += _entry(book, entry, width)
    for layer in place.layers.values():
        lines += ["", *wrap(f"LAYER {layer.id}{layer_days(layer)}", width)]
        lines += wrap(f"May only be stricter: {layer.stricter_only}", width, indent=2) if layer.stricter_only else []
        lines += wrap(f"Meant to ask for less: {layer.less_strict}", width, indent=2) if layer.less_strict else []
        for amendment in layer.amendments:
            lines += _amendment(amendment, width)
    return "\n".join(lines) + "\n"


def _now(book: Book, kind: str, line: tuple[Entry, ...]) -> str:
    """The last entry of a line and how complete its amendments are; of one that follows, the last there too."""
    last = line[-1]
    said = [f"last: {since(last)}, {'; '.join(what_stands(book, last))}"]
    if last.not_entered is not None:
        said.append("no amendments entered")
    other = book.places.get(last.follows or "")
    if other is not None and other.lines.get(kind):
        said.append(f"there {_now(book, kind, other.lines[kind])}")
    return "; ".join(said)


def since(entry: Entry) -> str:
    """From when an entry stands, by which event."""
    return f"{entry.event} on or after {entry.on_or_after}" if entry.on_or_after else "always"


def layer_days(layer: Layer) -> str:
    """The days on which a layer applies, where another event than the entry's decides."""
    window = layer.window
    if window is None:
        return ""
    since = f" on or after {window.on_or_after}" if window.on_or_after else ""
    return f": {window.event}{since}{' and' if since and window.before else ''}" + (
        f" before {window.before}" if window.before else ""
    )


def _entry(book: Book, entry: Entry, width: int) -> list[str]:
    lines = wrap(f"{since(entry)}: {'; '.join(what_stands(book, entry))} [{entry.id}]", width, indent=2)
    if entry.says:
        lines += wrap(sentence(entry.says), width, indent=4)
    if entry.source:
        lines += wrap(f"Source: {entry.source}", width, indent=4)
    return lines


def what_stands(book: Book, entry: Entry) -> Iterator[str]:
    """What an entry of a line of time says: what it adopts or follows, that none is in force, or what is chosen."""
    if entry.adopts:
        yield _adopts(book, entry.adopts)
    elif entry.follows:
        place = book.places.get(entry.follows)
        with_layers = f" with {in_words(entry.layers)}" if entry.layers else ""
        own = f"; amendments of its own: {entry.amendments}" if entry.amendments else ""
        yield f"as in {place.name if place else entry.follows}{with_layers}{own}"
    elif entry.none_in_force is not None:
        yield f"none in force ({entry.none_in_force})"
    elif entry.not_entered is not None:
        yield f"not entered ({entry.not_entered})"
    elif entry.choice:
        yield f"the project chooses (--choice {entry.choice_id}=...): {entry.choice_asks}"
        for name, taken in entry.choice.items():
            if isinstance(taken, NotEntered):
                yield f"{name} = not entered ({taken.reason})"
            else:
                yield f"{name} = {_adopts(book, taken)}"


def _adopts(book: Book, adopts: Adopts) -> str:
    document = book.documents.get(adopts.document)
    text = f"{document.title if document else adopts.document}, {adopts.edition} edition"
    if adopts.layers:
        text += f" with {in_words(adopts.layers)}"
    return f"{text}; amendments: {adopts.amendments}"


def _amendment(amendment: Amendment, width: int) -> list[str]:
    cite, checked = amendment.cite, amendment.checked
    lines = wrap(f"{amendment.id}: {sentence(amendment.says)} ({cite.document} {cite.section})", width, indent=2)
    lines += wrap(f"checked: {checked.mark}, {checked.source}", width, indent=4)
    for op in amendment.ops:
        lines += wrap(op_text(op), width, indent=4)
    return lines


def op_text(op: Op) -> str:
    """What an amendment does to which rule, number or reading, with the pin that ties it to the text below."""
    return f"{op.op} {op.target}{_pin(op)}"


def _pin(op: Op) -> str:
    if op.pin:
        return f" (pin {op.pin})"
    return "" if op.op == "add" else " (no pin yet: run `yokebook pin`)"
