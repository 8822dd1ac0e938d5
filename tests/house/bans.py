"""What no room may do, found by reading the syntax tree: each ban with the places where it is let off.

A scan of names sees what is written, not what happens: it follows imports and their new names, not values.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.house.syntax import at_import, dotted_names, imported_names, last_name, parents_of
from tests.house.tree import python_files

Finder = Callable[[ast.Module, str], Iterator[tuple[int, str]]]


@dataclass(frozen=True, slots=True)
class Ban:
    """One ban. allowed: rooms (`cli`) or files (`web/forms.py`) below the program in which it does not hold."""

    name: str
    rule: str
    find: Finder
    allowed: tuple[str, ...] = ()

    def holds_in(self, path: str) -> bool:
        """True if the file, given by its path below the program, is not let off."""
        return not any(
            path in {place, f"{place}.py"} or path.startswith(f"{place.rstrip('/')}/") for place in self.allowed
        )


@dataclass(frozen=True, slots=True)
class Breach:
    """A line that breaks a ban."""

    ban: str
    path: str
    line: int
    what: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.what} ({self.ban})"


def breaches_in(source: str, path: str, bans: Iterable[Ban]) -> list[Breach]:
    """Every breach in one file, given by its text and its path below the program."""
    tree = ast.parse(source, path)
    found = {
        Breach(ban.name, path, line, what) for ban in bans if ban.holds_in(path) for line, what in ban.find(tree, path)
    }
    return sorted(found, key=lambda breach: (breach.path, breach.line, breach.ban, breach.what))


def breaches_below(package: Path, bans: Iterable[Ban]) -> list[Breach]:
    """Every breach in a folder of Python files."""
    bans = tuple(bans)
    return [
        breach
        for file in python_files(package)
        for breach in breaches_in(file.read_text(encoding="utf-8"), file.relative_to(package).as_posix(), bans)
    ]


def drawers_in(paths: Iterable[Path]) -> list[Path]:
    """Files and folders whose name says that nobody knew what they are for."""
    return [path for path in paths if any(Path(part).stem in DRAWERS for part in path.parts)]


DRAWERS = frozenset({"util", "utils", "helper", "helpers", "common", "misc", "model", "models"})


def _uses(*banned: str, methods: Iterable[str] = ()) -> Finder:
    """Finds names as they are called where they come from, whatever they are called here; and methods by name."""
    method_names = frozenset(methods)

    def is_banned(name: str) -> bool:
        return any(name == one or name.startswith(f"{one}.") for one in banned)

    def find(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
        for line, name in dotted_names(tree):
            if is_banned(name):
                yield line, name
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and node.attr in method_names:
                yield node.lineno, f".{node.attr}"

    return find


def _bare_calls(*banned: str, methods: Iterable[str] = ()) -> Finder:
    """Finds calls that are harmless with an argument and ask the machine without one."""
    method_names = frozenset(methods)

    def find(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
        names = imported_names(tree)
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or node.args or node.keywords:
                continue
            called = last_name(node.func)
            full = ast.unparse(node.func)
            root, _, rest = full.partition(".")
            resolved = f"{names.get(root, root)}.{rest}" if rest else names.get(root, root)
            if resolved in banned or (isinstance(node.func, ast.Attribute) and called in method_names):
                yield node.lineno, f"{full}() without an argument"

    return find


def _both(*finders: Finder) -> Finder:
    def find(tree: ast.Module, path: str) -> Iterator[tuple[int, str]]:
        for finder in finders:
            yield from finder(tree, path)

    return find


def _builtin_calls(name: str) -> Finder:
    def find(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
        names = imported_names(tree)
        for node in ast.walk(tree):
            if isinstance(node, ast.Name) and node.id == name and isinstance(node.ctx, ast.Load) and name not in names:
                yield node.lineno, name

    return find


def _now_in_numpy(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and last_name(node.func) == "datetime64" and node.args:
            first = node.args[0]
            if isinstance(first, ast.Constant) and first.value in {"now", "today"}:
                yield node.lineno, f"datetime64({first.value!r})"


def _catch_all(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
    everything = {"Exception", "BaseException"}

    def names_everything(caught: ast.expr | None) -> bool:
        if caught is None:
            return True
        parts = caught.elts if isinstance(caught, ast.Tuple) else [caught]
        return any(last_name(part) in everything for part in parts)

    for node in ast.walk(tree):
        if isinstance(node, ast.ExceptHandler) and names_everything(node.type):
            last = node.body[-1]
            passes_on = isinstance(last, ast.Raise) and last.exc is None
            if not passes_on:
                yield node.lineno, f"except {ast.unparse(node.type) if node.type else ''}".strip()
        elif (
            isinstance(node, ast.Call) and last_name(node.func) == "suppress" and any(map(names_everything, node.args))
        ):
            yield node.lineno, ast.unparse(node)


BUILDERS = frozenset(
    {
        *("create_engine", "create_async_engine", "engine_from_config", "sessionmaker", "Session", "connect"),
        *("load_settings", "Settings", "FastAPI", "Starlette", "TestClient", "Environment"),
        *("BackgroundScheduler", "BlockingScheduler", "AsyncIOScheduler", "SMTP", "SMTP_SSL", "Client", "AsyncClient"),
        *("open", "read_text", "read_bytes", "getenv", "MachineClock", "RandomKeys"),
    }
)


def _built_at_import(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
    for node in at_import(tree):
        if isinstance(node, ast.Call) and last_name(node.func) in BUILDERS:
            yield node.lineno, f"{ast.unparse(node.func)}(...)"


def _loose_tables(tree: ast.Module, path: str) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.ClassDef):
            continue
        if not any(
            keyword.arg == "table" and isinstance(keyword.value, ast.Constant) and keyword.value.value is True
            for keyword in node.keywords
        ):
            continue
        if not node.name.endswith("Row"):
            yield node.lineno, f"table class {node.name} does not end in Row"
        if not path.startswith("store/"):
            yield node.lineno, f"table class {node.name} stands outside store"
        for inner in ast.walk(node):
            if isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef):
                yield inner.lineno, f"table class {node.name} has a method, {inner.name}"
            elif isinstance(inner, ast.Call) and last_name(inner.func) == "Relationship":
                yield inner.lineno, f"table class {node.name} has a Relationship"


_ORDER_LOST_ANYWAY = frozenset({"sorted", "any", "all", "min", "max", "len", "set", "frozenset"})
_ORDER_KEPT = frozenset({"list", "tuple", "enumerate", "iter", "next", "zip", "map", "filter", "join", "sum", "chain"})


def _order_of_sets(tree: ast.Module, _path: str) -> Iterator[tuple[int, str]]:
    parents = parents_of(tree)

    def is_set(node: ast.expr) -> bool:
        return isinstance(node, ast.Set | ast.SetComp) or (
            isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"set", "frozenset"}
        )

    def loses_order(node: ast.AST) -> bool:
        parent = parents.get(node)
        return isinstance(node, ast.SetComp) or (
            isinstance(parent, ast.Call) and node in parent.args and last_name(parent.func) in _ORDER_LOST_ANYWAY
        )

    for node in ast.walk(tree):
        what = ""
        if isinstance(node, ast.For) and is_set(node.iter):
            what = "a loop"
        elif isinstance(node, ast.ListComp | ast.DictComp | ast.GeneratorExp | ast.SetComp):
            what = "a comprehension" if any(is_set(part.iter) for part in node.generators) else ""
        elif isinstance(node, ast.Call) and last_name(node.func) in _ORDER_KEPT:
            what = f"{last_name(node.func)}()" if any(map(is_set, node.args)) else ""
        if what and isinstance(node, ast.expr | ast.stmt) and not loses_order(node):
            yield node.lineno, f"{what} over a set"


BANS = (
    Ban(
        "clock",
        "Only clock.py asks the machine for the time; everybody else is told.",
        _both(
            _uses(
                *(
                    "datetime.datetime.now",
                    "datetime.datetime.utcnow",
                    "datetime.datetime.today",
                    "datetime.date.today",
                ),
                *("time.time", "time.time_ns", "time.monotonic", "time.monotonic_ns", "time.perf_counter"),
                *("time.perf_counter_ns", "time.process_time", "time.localtime", "time.gmtime", "time.ctime"),
                *("time.asctime", "time.strftime", "time.tzname", "time.timezone", "timeit", "email.utils.make_msgid"),
                *("sqlalchemy.func.now", "sqlmodel.func.now", "sqlalchemy.func.current_timestamp"),
            ),
            # Without an argument these three fill in the time or the time zone of the machine.
            _bare_calls("email.utils.formatdate", "email.utils.localtime", methods=("astimezone",)),
            _now_in_numpy,
        ),
        allowed=("clock",),
    ),
    Ban(
        "chance",
        "Only chance.py draws; identifiers are derived from what they name.",
        _uses(
            *("random", "secrets", "numpy.random", "os.urandom", "os.getrandom"),
            *("uuid.uuid1", "uuid.uuid4", "uuid.uuid6", "uuid.uuid7", "uuid.uuid8", "uuid.getnode"),
            methods=("rvs",),
        ),
        allowed=("chance",),
    ),
    Ban(
        "environment",
        "Only settings looks at the environment and at whose machine this is.",
        _uses(
            *("os.environ", "os.environb", "os.getenv", "os.getenvb", "os.putenv", "os.getlogin", "os.path.expanduser"),
            *("os.path.expandvars", "pathlib.Path.home", "platformdirs", "getpass.getuser", "socket.gethostname"),
            *("socket.getfqdn", "platform.node"),
            methods=("expanduser",),
        ),
        allowed=("settings",),
    ),
    Ban("print", "Only cli prints; everybody else returns.", _builtin_calls("print"), allowed=("cli",)),
    Ban(
        "catch-all",
        "Catch what you can name; a handler that ends by passing the error on catches nothing.",
        _catch_all,
        allowed=("cli", "web", "timetable"),
    ),
    Ban(
        "import time",
        "Nothing is built or read at import; assemble does it once.",
        _built_at_import,
        # Alembic runs its env.py by importing it.
        allowed=("store/migrations",),
    ),
    Ban("tables", "Table classes end in Row, hold columns and nothing else, and stay in store.", _loose_tables),
    Ban("hash", "The builtin hash differs from run to run; use hashlib.", _builtin_calls("hash")),
    Ban("set order", "The order of a set differs from run to run; sort it before it is seen.", _order_of_sets),
)
