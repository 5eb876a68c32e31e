"""Draws small faults to plant, by seed: one comparison, operator, constant, branch or result of a function changes."""

import ast
import random
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

# What recording and tracing stand on: a fault here must be found by a test.
FOLDERS = (
    "trace/recording", "trace/readmodels", "trace/genealogy", "trace/codes", "trace/chain.py",
)  # fmt: skip

OPPOSITE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
OTHER_SIGN: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult, ast.Div: ast.Mult,
    ast.Mod: ast.Mult,
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One fault: in `path`, at `line`, inside the function `function` (dotted).

    begun: the line on which its statement begins. at: the place of the changed node among all nodes of the file.
    words: the fault in a person's words.
    """

    path: str
    line: int
    function: str
    begun: int
    at: int
    words: str

    @property
    def key(self) -> str:
        """Stays the same when lines are added above it."""
        return f"{self.path} {self.function}: {self.words}"

    @property
    def name(self) -> str:
        return f"{self.path}:{self.line} {self.function}: {self.words}"

    def planted(self, root: Path) -> ast.Module:
        """The whole file as Python would read it with the fault in it."""
        tree = ast.parse((root / self.path).read_text(encoding="utf-8"))
        node = next(n for at, n in enumerate(_in_order(tree)) if at == self.at)
        change = dict(changes(node))[self.words]
        planted = _Planting(self.at, change).visit(tree)
        assert isinstance(planted, ast.Module)
        return ast.fix_missing_locations(planted)


Change = tuple[str, Callable[[ast.AST], ast.AST]]


def changes(node: ast.AST) -> Iterator[Change]:
    """Every small fault that this one node can carry: words, and a function that gives the changed node."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in OPPOSITE:
        yield f"{_sign(node.ops[0])} becomes {_sign(OPPOSITE[type(node.ops[0])]())}", _other_comparison
    elif isinstance(node, ast.BoolOp):
        yield ("and becomes or" if isinstance(node.op, ast.And) else "or becomes and"), _other_junction
        yield "its last part is forgotten", _shorter
    elif isinstance(node, ast.BinOp) and type(node.op) in OTHER_SIGN and not _of_words(node):
        yield f"{_sign(node.op)} becomes {_sign(OTHER_SIGN[type(node.op)]())}", _other_sign
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "not is forgotten", lambda n: n.operand  # type: ignore[attr-defined]
    elif isinstance(node, ast.Constant) and type(node.value) is bool:
        yield f"{node.value} becomes {not node.value}", lambda n: ast.Constant(not n.value)  # type: ignore[attr-defined]
    elif isinstance(node, ast.Constant) and type(node.value) is int:
        yield f"{node.value} becomes {node.value + 1}", lambda n: ast.Constant(n.value + 1)  # type: ignore[attr-defined]
    elif isinstance(node, ast.IfExp):
        yield "the other branch is taken", lambda n: ast.IfExp(n.test, n.orelse, n.body)  # type: ignore[attr-defined]
    elif isinstance(node, ast.If):
        yield "the condition is always false", _never
    elif isinstance(node, ast.Return) and node.value is not None and not _is_none(node.value):
        yield "nothing is returned", lambda _n: ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "this step is left out", lambda _n: ast.Pass()
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("min", "max"):
        yield f"{node.func.id} becomes the other", _other_end
    elif isinstance(node, ast.comprehension) and node.ifs:
        yield "the condition of the list is forgotten", _unfiltered


def _sign(op: ast.AST) -> str:
    return type(op).__name__


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _of_words(node: ast.BinOp) -> bool:
    """Put together from texts: another sign would only raise an error."""
    texts = [n for n in ast.walk(node) if isinstance(n, ast.JoinedStr | ast.List | ast.Tuple | ast.Dict)]
    return bool(texts) or any(isinstance(n, ast.Constant) and isinstance(n.value, str) for n in ast.walk(node))


def _other_comparison(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.Compare)
    return ast.Compare(node.left, [OPPOSITE[type(node.ops[0])](), *node.ops[1:]], node.comparators)


def _other_junction(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.BoolOp)
    return ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)


def _shorter(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.BoolOp)
    return ast.BoolOp(node.op, node.values[:-1]) if len(node.values) > 2 else node.values[0]


def _other_sign(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.BinOp)
    return ast.BinOp(node.left, OTHER_SIGN[type(node.op)](), node.right)


def _never(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.If)
    return ast.If(ast.Constant(False), node.body, node.orelse)


def _other_end(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.Call)
    assert isinstance(node.func, ast.Name)
    return ast.Call(ast.Name("min" if node.func.id == "max" else "max", ast.Load()), node.args, node.keywords)


def _unfiltered(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.comprehension)
    return ast.comprehension(node.target, node.iter, [], node.is_async)


class _Planting(ast.NodeTransformer):
    """Changes the one node it was given the place of."""

    def __init__(self, at: int, change: Callable[[ast.AST], ast.AST]) -> None:
        self.at = at
        self.change = change
        self.seen = -1

    def visit(self, node: ast.AST) -> ast.AST:
        self.seen += 1
        if self.seen == self.at:
            return ast.copy_location(self.change(node), node) if hasattr(node, "lineno") else self.change(node)
        return super().visit(node)  # type: ignore[no-any-return]


def _functions(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef]]:
    """Functions of a file and methods of its classes, with dotted names; what is defined inside one belongs to it."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield node.name, node
        elif isinstance(node, ast.ClassDef):
            yield from ((f"{node.name}.{n.name}", n) for n in node.body if isinstance(n, ast.FunctionDef))


def mutants_of(path: Path, root: Path) -> list[Mutant]:
    """All faults that can be planted in the functions of one file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    place = str(path.relative_to(root))
    number = {id(node): at for at, node in enumerate(_in_order(tree))}
    found = []
    for name, function in _functions(tree):
        skipped = {id(n) for n in _said_only(function)}
        # Defaults and decorators are worked out when the file is read, so a fault in them needs another way.
        for begun, node in _with_statements(function.body):
            if id(node) not in skipped:
                line = getattr(node, "lineno", begun)
                found += [Mutant(place, line, name, begun, number[id(node)], words) for words, _ in changes(node)]
    return found


def _with_statements(nodes: Iterable[ast.AST], begun: int = 0) -> Iterator[tuple[int, ast.AST]]:
    """Each node with the line on which the statement around it begins."""
    for node in nodes:
        line = node.lineno if isinstance(node, ast.stmt) else begun
        yield line, node
        yield from _with_statements(ast.iter_child_nodes(node), line)


def _in_order(tree: ast.AST) -> Iterator[ast.AST]:
    """The nodes in the order in which a NodeTransformer meets them."""
    yield tree
    for child in ast.iter_child_nodes(tree):
        yield from _in_order(child)


def _said_only(function: ast.FunctionDef) -> Iterator[ast.AST]:
    """What only chooses words or checks what cannot be: raised errors, assertions, sentences for a person."""
    for node in ast.walk(function):
        if isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr):
            yield from ast.walk(node)


def every_mutant(root: Path) -> list[Mutant]:
    """All that can be planted, file by file."""
    files: list[Path] = []
    for folder in FOLDERS:
        place = root / folder
        files += [place] if place.is_file() else sorted(place.rglob("*.py"))
    return [mutant for path in files for mutant in mutants_of(path, root)]


def drawn(root: Path, seed: int, count: int) -> list[Mutant]:
    """`count` faults drawn by `seed` out of all that can be planted, in the order of files and lines."""
    every = every_mutant(root)
    chosen = random.Random(seed).sample(every, min(count, len(every)))
    return sorted(chosen, key=lambda m: (m.path, m.line, m.at))


def named(root: Path, lines: Iterable[str]) -> list[Mutant]:
    """The faults that these lines name, as a run prints them; where lines have moved, the nearest of that kind."""
    every = every_mutant(root)
    found: dict[Mutant, None] = {}
    for line in lines:
        printed = re.search(r"(trace/\S+\.py):(\d+) (\S+: [^(]+?) *(?:\(|$)", line)
        if printed:
            path, number, what = printed[1], int(printed[2]), printed[3]
            same = [m for m in every if m.key == f"{path} {what}" and m not in found]
            if same:
                found[min(same, key=lambda m: abs(m.line - number))] = None
            else:
                print(f"no longer there: {line.strip()}")
    return list(found)
