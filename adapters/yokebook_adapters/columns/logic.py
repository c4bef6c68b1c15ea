"""Three-valued expressions as sqlglot syntax trees: true, false, and NULL for what is not known.

AND, OR, NOT and comparisons of SQL are three-valued themselves. CASE is not: it takes NULL for false, so that every
CASE made here has its own arm for NULL first. Constants are folded, so that what no column can say costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlglot import exp

Sql = exp.Expr

#: The longest list of words in one test. DuckDB joins with a longer one as with a table, which takes far more time.
_MOST_LISTED = 4

#: Numbers are kept as decimals of this many digits, so many of them after the point; what does not fit goes on to the
#: evaluator. So many digits are exact in a double as well, and fit in eight bytes.
DIGITS, SCALE = 15, 6
NUMBER = f"DECIMAL({DIGITS}, {SCALE})"


def true() -> Sql:
    return exp.true()


def false() -> Sql:
    return exp.false()


def null() -> Sql:
    return exp.null()


def constant(value: Sql) -> bool | str | None:
    """True, False or None for a constant; "" for anything else."""
    if isinstance(value, exp.Boolean):
        return bool(value.this)
    return None if isinstance(value, exp.Null) else ""


def truth(value: bool) -> Sql:
    return true() if value else false()


def text(value: str) -> Sql:
    """A text literal: the value is data of the syntax tree, never pasted into SQL."""
    return exp.Literal.string(value)


def column(name: str) -> Sql:
    return exp.column(name, quoted=True)


def both(parts: Iterable[Sql]) -> Sql:
    """All of them: false where one is, else NULL where one is."""
    return _joined(parts, exp.and_, decides=False)


def either(parts: Iterable[Sql]) -> Sql:
    """Any of them: true where one is, else NULL where one is."""
    return _joined(parts, exp.or_, decides=True)


def _joined(parts: Iterable[Sql], join: object, *, decides: bool) -> Sql:
    kept: dict[str, Sql] = {}
    for part in parts:
        if constant(part) is decides:
            return truth(decides)
        if constant(part) is not (not decides):
            kept.setdefault(part.sql(), part)
    if not kept:
        return truth(not decides)
    if len(kept) == 1:
        return next(iter(kept.values()))
    copies = [part.copy() for part in kept.values()]
    return exp.and_(*copies, copy=False) if join is exp.and_ else exp.or_(*copies, copy=False)


def negated(value: Sql) -> Sql:
    """False where it is true, true where it is false, NULL where it is."""
    if isinstance(value, exp.Boolean):
        return truth(not value.this)
    if isinstance(value, exp.Null):
        return null()
    if isinstance(value, exp.Not) and isinstance(value.this, exp.Paren | exp.Column):
        return value.this.unnest().copy()
    return exp.not_(value.copy())


def atom(value: Sql) -> Sql:
    """A copy that can stand beside an operator: in brackets where its own operators would come apart."""
    simple = exp.Column | exp.Literal | exp.Func | exp.Cast | exp.Case | exp.Paren | exp.Boolean | exp.Null
    connected = isinstance(value, exp.Connector | exp.Binary | exp.Predicate | exp.Not)
    return value.copy() if isinstance(value, simple) and not connected else exp.paren(value.copy(), copy=False)


def given(value: Sql) -> Sql:
    """Whether there is a value; never NULL itself."""
    if constant(value) != "" or isinstance(value, exp.Literal):
        return truth(constant(value) is not None)
    return exp.not_(exp.Is(this=atom(value), expression=null()))


def missing(value: Sql) -> Sql:
    """Whether there is none; never NULL itself."""
    if constant(value) != "" or isinstance(value, exp.Literal):
        return truth(constant(value) is None)
    return exp.Is(this=atom(value), expression=null())


def surely(value: Sql) -> Sql:
    """Whether it is true, NULL taken for false."""
    if constant(value) != "":
        return truth(constant(value) is True)
    return exp.Coalesce(this=value.copy(), expressions=[false()])


def maybe(value: Sql) -> Sql:
    """Whether it is true or may be: NULL taken for true."""
    if constant(value) != "":
        return truth(constant(value) is not False)
    return exp.Coalesce(this=value.copy(), expressions=[true()])


def first_given(values: Sequence[Sql]) -> Sql:
    """The first of them that is given."""
    kept = [value for value in values if constant(value) is not None]
    if len(kept) < 2:
        return kept[0] if kept else null()
    return exp.Coalesce(this=kept[0].copy(), expressions=[value.copy() for value in kept[1:]])


def case(arms: Iterable[tuple[Sql, Sql]], otherwise: Sql) -> Sql:
    """The first arm whose condition is true. The caller gives an arm for NULL before one that NULL would pass by."""
    kept: list[tuple[Sql, Sql]] = []
    for condition, result in arms:
        if constant(condition) in (False, None):
            continue
        if constant(condition) is True:
            otherwise = result
            break
        kept.append((condition, result))
    while kept and kept[-1][1] == otherwise:
        kept.pop()
    if not kept:
        return otherwise
    ifs = [exp.If(this=condition.copy(), true=result.copy()) for condition, result in kept]
    default = None if isinstance(otherwise, exp.Null) else otherwise.copy()
    return exp.Case(ifs=ifs, default=default)


def decided(test: Sql, if_true: Sql, if_false: Sql) -> Sql:
    """One or the other by a three-valued test, NULL where the test is."""
    if constant(test) is None:
        return null()
    if constant(test) is not False and constant(test) is not True:
        return case([(missing(test), null()), (test, if_true)], if_false)
    return if_true if constant(test) else if_false


def agreed(tests: Sequence[Sql]) -> Sql:
    """What several three-valued tests all say; NULL where they do not all say the same."""
    different = list({test.sql(): test for test in tests}.values())
    if len(different) == 1:
        return different[0]
    return case([(both(different), true()), (both(negated(test) for test in different), false())], null())


def same(values: Sequence[Sql]) -> Sql:
    """The value that several expressions all have; NULL where they do not, or one is not known."""
    different = list({value.sql(): value for value in values}.values())
    first = different[0]
    if len(different) > 1 and all(constant(value) != "" or isinstance(value, exp.Literal) for value in different):
        return null()
    equal = (exp.EQ(this=atom(first), expression=atom(other)) for other in different[1:])
    return first if len(different) == 1 else case([(both(equal), first)], null())


def among(value: Sql, words: Iterable[str | Sql]) -> Sql:
    """Whether a value is one of these; NULL where it is not known."""
    members = [text(word) if isinstance(word, str) else word for word in words]
    if not members:
        return decided_by_presence(value, false())
    if isinstance(value, exp.Literal):
        return truth(any(value == member for member in members))
    if constant(value) is None:
        return null()
    if len(members) == 1:
        return exp.EQ(this=atom(value), expression=members[0])
    parts = [members[i : i + _MOST_LISTED] for i in range(0, len(members), _MOST_LISTED)]
    return exp.or_(*(exp.In(this=atom(value), expressions=part) for part in parts), copy=False)


def decided_by_presence(value: Sql, result: Sql) -> Sql:
    """The result where there is a value, NULL where there is none."""
    return case([(given(value), result)], null())


class Steps:
    """Expressions under names, in layers: each layer's take only columns of those below, and none is worked out twice.

    Every layer becomes one common table expression, `SELECT *, ... FROM` the one below.
    """

    def __init__(self) -> None:
        self.layers: list[list[tuple[str, Sql]]] = []
        self._level: dict[str, int] = {}
        self._named: dict[str, Sql] = {}

    def name(self, wanted: str, value: Sql) -> Sql:
        """The column under which an expression is found from now on; constants and columns stay as they are."""
        if isinstance(value, exp.Column | exp.Literal | exp.Boolean | exp.Null):
            return value
        key = value.sql()
        if key not in self._named:
            level = max((self._level.get(c.name, -1) for c in value.find_all(exp.Column)), default=-1) + 1
            name = wanted
            while name in self._level:
                name += "'"
            while len(self.layers) <= level:
                self.layers.append([])
            self.layers[level].append((name, value))
            self._level[name] = level
            self._named[key] = column(name)
        return self._named[key].copy()

    def select(self, source: Sql, results: Sequence[tuple[str, Sql]]) -> exp.Select:
        """The results over a source, with all that they rest on as common table expressions."""
        select = exp.select(*(exp.alias_(value.copy(), name, quoted=True) for name, value in results))
        below: Sql = source
        chain: list[tuple[str, exp.Select]] = []
        for i, layer in enumerate(self.layers, start=1):
            added = [exp.alias_(value.copy(), name, quoted=True) for name, value in layer]
            chain.append((f"step_{i}", exp.select("*", *added).from_(below.copy())))
            below = exp.to_table(f"step_{i}")
        select = select.from_(below.copy())
        for name, query in chain:
            select = select.with_(name, as_=query)
        return select
