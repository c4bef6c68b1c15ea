"""Straight code for what a question's table makes of flat records, where nothing that counts is open.

It does what `Parts.found`, `Left.key` and `Being.unsure` do, one look-up after the other, and is made of names of its
own and whole numbers alone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from yokebook.flat.being import ALL_SURE, Being
from yokebook.flat.left import Left
from yokebook.flat.parts import Parts

#: The key for records with a number; None where that is to be found the long way.
Key = Callable[[int], tuple[int, ...] | None]


def straight(parts: Parts, left: Left, being: Being) -> Key:
    """What gives the key of `left` for records with a number, of which nothing is unsure and every input is known."""
    names: dict[str, Any] = {"unsure": being.unsure_by_found.get, "ALL_SURE": ALL_SURE}
    lines = ["def key(s):", f"    if s & {being.may_not_apply}:", "        return None"]
    for i, part in enumerate(parts.parts):
        names[f"c{i}"] = part.came_to.get
        made = f"s & {part.mask}"
        if part.made_of:
            made = f"({made}, {', '.join(f'f{j}' for j in part.made_of)})"
        lines += [f"    f{i} = c{i}({made})", f"    if f{i} is None:", "        return None"]
    allowed = [str(left.all_bits)]
    for i, fact in enumerate(left.facts):
        names[f"g{i}"] = fact.allowed.get
        allowed.append(f"g{i}(s & {fact.field})")
    for i, figure in enumerate(left.figures):
        names[f"h{i}"] = figure.allowed.get
        allowed.append(f"h{i}(f{figure.place})")
    found = []
    for i, group in enumerate(being.groups):
        names[f"b{i}"] = group.found.get
        found.append(f"b{i}(s & {group.mask}), ")
    lines += ["    try:", f"        left = {' & '.join(allowed)}"]  # what is not known is None, which `&` refuses
    lines += ["    except TypeError:", "        return None"]
    lines += [f"    if unsure(({''.join(found)})) is not ALL_SURE:", "        return None"]
    lines.append(f"    return (left, s & {left.there})")
    exec(compile("\n".join(lines) + "\n", "<straight>", "exec"), names)
    key: Key = names["key"]
    return key
