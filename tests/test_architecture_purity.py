"""Firmware touches no device, clock, thread, file, environment or chance, and holds nothing that changes."""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).parents[1]

BANNED_NAMES = frozenset(
    {
        "open",
        "input",
        "print",
        "exec",
        "eval",
        "__import__",
        "breakpoint",
        "globals",
        "environ",
        "getenv",
        "exit",
        "quit",
    }
)
BANNED_MEMBERS = {
    "random": "chance without a passed generator",
    "now": "the clock",
    "today": "the clock",
    "environ": "the environment",
    "load": "a file",
    "save": "a file",
    "savez": "a file",
    "loadtxt": "a file",
    "savetxt": "a file",
    "genfromtxt": "a file",
    "fromfile": "a file",
    "memmap": "a file",
}
"""Members of numpy (and of what dates and modules offer) that reach outside; json.load and the like read files too."""
FILE_READERS_OF = frozenset({"np", "numpy", "json", "tomllib", "datetime", "date", "os"})

LISTS = frozenset({"list", "dict", "set", "bytearray", "defaultdict", "deque", "Counter", "OrderedDict"})
READ_ONLY = frozenset({"Mapping", "Sequence", "Collection", "Set", "AbstractSet"})
CHANGERS = frozenset(
    {
        "append",
        "extend",
        "insert",
        "add",
        "update",
        "setdefault",
        "pop",
        "popitem",
        "remove",
        "discard",
        "clear",
        "sort",
    }
    | {"fill", "put", "resize", "partition", "itemset"}
)
"""Methods by which a list, dict, set or array changes."""

MAY_CHANGE = {
    "firmware/hearing/own_sound.py:_Room": "the estimate of one stream, held by one OwnSound and never handed out",
}
"""Dataclasses of firmware that are not frozen, as "firmware/path.py:Name", each with its reason."""


def member(node: ast.expr) -> tuple[str, str] | None:
    """('np', 'load') of the expression np.load."""
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        return node.value.id, node.attr
    return None


def ends_in(node: ast.AST, last: str) -> bool:
    """Whether an expression ends in random.<last>."""
    inner = node.value if isinstance(node, ast.Attribute) and node.attr == last else None
    return isinstance(inner, ast.Attribute) and inner.attr == "random"


def impurities(path: str, text: str) -> list[str]:
    """Find uses of the outside world in a file; numpy's generator is none when it is passed or given a seed."""
    nodes = list(ast.walk(ast.parse(text)))
    seeded = [
        node.func
        for node in nodes
        if isinstance(node, ast.Call) and ends_in(node.func, "default_rng") and (node.args or node.keywords)
    ]
    passed = [node for node in nodes if ends_in(node, "Generator")]
    allowed = {id(part) for node in seeded + passed for part in ast.walk(node)}
    found = []
    for node in nodes:
        if id(node) in allowed:
            continue
        if isinstance(node, ast.Name) and node.id in BANNED_NAMES:
            found.append(f"{path}:{node.lineno} uses {node.id}")
        elif isinstance(node, ast.Global):
            found.append(f"{path}:{node.lineno} changes a global")
        elif isinstance(node, ast.Attribute):
            pair = member(node)
            if pair and pair[0] in FILE_READERS_OF and pair[1] in BANNED_MEMBERS:
                found.append(f"{path}:{node.lineno} reaches {BANNED_MEMBERS[pair[1]]} by {pair[0]}.{pair[1]}")
    return found


def unfrozen(path: str, text: str) -> list[str]:
    """Dataclasses of a file that are not frozen."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.ClassDef):
            continue
        for mark in node.decorator_list:
            called = mark.func if isinstance(mark, ast.Call) else mark
            if ast.unparse(called).split(".")[-1] != "dataclass":
                continue
            words = {word.arg: ast.unparse(word.value) for word in mark.keywords} if isinstance(mark, ast.Call) else {}
            if words.get("frozen") != "True" or words.get("slots") != "True":
                found.append(f"{path}:{node.name}")
    return found


def changeable_globals(path: str, text: str) -> list[str]:
    """Module-level names bound to a list, dict or set that nothing keeps from changing, and memories without bound.

    A table passes when its annotation says Mapping, since mypy then refuses to change it, or Final, since `changed`
    then looks for changes, or inside MappingProxyType. A list is no table: it could as well be a tuple.
    """
    tree = ast.parse(text)
    found = []
    for node in tree.body:
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        note = ast.unparse(node.annotation) if isinstance(node, ast.AnnAssign) else ""
        words = note.replace("]", "[").replace(".", "[").split("[")
        value = node.value
        table = isinstance(value, ast.Dict | ast.DictComp | ast.Set | ast.SetComp)
        if READ_ONLY.intersection(words) or (table and "Final" in words):
            continue
        literal = isinstance(value, ast.List | ast.Dict | ast.Set | ast.ListComp | ast.DictComp | ast.SetComp)
        made = isinstance(value, ast.Call) and ast.unparse(value.func).split(".")[-1] in LISTS
        target = ast.unparse(node.target if isinstance(node, ast.AnnAssign) else node.targets[0])
        if (literal or made) and target != "__all__":
            found.append(f"{path}:{node.lineno} {target} can change: use a tuple, frozenset or Mapping annotation")
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            marks = [ast.unparse(mark).split(".")[-1] for mark in node.decorator_list]
            if any(mark == "cache" or mark.replace(" ", "") == "lru_cache(maxsize=None)" for mark in marks):
                found.append(f"{path}:{node.lineno} {node.name} remembers without bound: give lru_cache a size")
    return found


def tables_of(text: str) -> frozenset[str]:
    """Constants that a file binds at its top or imports: names in capitals, and any name for a dict or set."""
    found = set()
    for node in ast.parse(text).body:
        if isinstance(node, ast.Assign | ast.AnnAssign):
            name = ast.unparse(node.target if isinstance(node, ast.AnnAssign) else node.targets[0])
            if name.isupper() or isinstance(node.value, ast.Dict | ast.DictComp | ast.Set | ast.SetComp):
                found.add(name)
        elif isinstance(node, ast.ImportFrom):
            found |= {alias.asname or alias.name for alias in node.names if alias.name.isupper()}
    return frozenset(found)


def changed(path: str, text: str) -> list[str]:
    """Find changes of the constants that a file binds or imports: by item, method, operator, as output, by a module."""
    tables = tables_of(text)

    def is_table(node: ast.AST) -> bool:
        named = isinstance(node, ast.Name) and node.id in tables
        return named or (isinstance(node, ast.Attribute) and node.attr.isupper() and isinstance(node.value, ast.Name))

    found = []
    for node in ast.walk(ast.parse(text)):
        item = isinstance(node, ast.Subscript) and not isinstance(node.ctx, ast.Load) and is_table(node.value)
        method = isinstance(node, ast.Attribute) and node.attr in CHANGERS and is_table(node.value)
        operator = isinstance(node, ast.AugAssign) and is_table(node.target)
        output = isinstance(node, ast.keyword) and node.arg == "out" and is_table(node.value)
        if item or method or operator or output:
            found.append(f"{path}:{node.lineno} changes {ast.unparse(node)}")
    return found


def changeable_arrays(module: ModuleType) -> list[str]:
    """Arrays at a module's top, also inside tuples and dicts, that can be written to and are not named as constants."""
    found = []
    for name, value in vars(module).items():
        if name.startswith("__") or name.isupper():
            continue
        found += [f"{module.__name__}.{name}" for array in arrays_in(value) if array.flags.writeable]
    return found


def arrays_in(value: object) -> Iterator[np.ndarray]:
    """Arrays in a value of a module."""
    if isinstance(value, np.ndarray):
        yield value
    elif isinstance(value, tuple | list):
        for part in value:
            yield from arrays_in(part)
    elif isinstance(value, dict):
        yield from arrays_in(tuple(value.values()))


def sources(package: str = "firmware") -> list[tuple[str, str]]:
    """Path and text of each file of a package."""
    paths = sorted((ROOT / package).rglob("*.py"))
    return [(path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8")) for path in paths]


def test_firmware_touches_nothing_outside() -> None:
    assert [line for path, text in sources() for line in impurities(path, text)] == []


def test_firmware_dataclasses_are_frozen_with_slots_or_listed_with_a_reason() -> None:
    assert {name for path, text in sources() for name in unfrozen(path, text)} - MAY_CHANGE.keys() == set()
    assert all(len(reason) > 10 for reason in MAY_CHANGE.values())


def test_firmware_has_no_global_that_changes() -> None:
    assert [line for path, text in sources() for line in changeable_globals(path, text)] == []
    everywhere = sources("firmware") + sources("hardware")
    assert [line for path, text in everywhere for line in changed(path, text)] == []


def test_firmware_arrays_at_module_level_are_constants_or_read_only() -> None:
    names = [path.removesuffix(".py").removesuffix("/__init__").replace("/", ".") for path, _ in sources()]
    assert [line for name in names for line in changeable_arrays(importlib.import_module(name))] == []


@pytest.mark.parametrize(
    "text",
    [
        "open('x')",
        "def f():\n    print('x')",
        "input()",
        "exec('1')",
        "import numpy as np\nnp.random.rand(3)",
        "import numpy as np\nnp.random.default_rng()",
        "import numpy as np\nnp.load('x')",
        "json.load(f)",
        "datetime.now()",
        "os.environ['HOME']",
        "def f():\n    global count\n    count = 1",
    ],
)
def test_the_check_sees_an_impurity(text: str) -> None:
    assert impurities("x.py", text)


@pytest.mark.parametrize(
    "text",
    [
        "rng = np.random.default_rng(seed)",
        "def f(rng: np.random.Generator) -> float:\n    return rng.random()",
        "json.loads('1')",
    ],
)
def test_the_check_lets_a_passed_generator_and_text_be(text: str) -> None:
    assert impurities("x.py", text) == []


@pytest.mark.parametrize("mark", ["@dataclass", "@dataclass(slots=True)", "@dataclasses.dataclass(frozen=True)"])
def test_the_check_sees_an_unfrozen_dataclass(mark: str) -> None:
    assert unfrozen("x.py", f"{mark}\nclass A:\n    a: int\n") == ["x.py:A"]


def test_the_check_lets_a_frozen_dataclass_be() -> None:
    assert unfrozen("x.py", "@dataclass(frozen=True, slots=True)\nclass A:\n    a: int\n") == []


@pytest.mark.parametrize(
    "text",
    [
        "A = []",
        "A = {}",
        "A: Final = [1, 2]",
        "A: dict[int, int] = {1: 2}",
        "A = {n for n in range(3)}",
        "A = defaultdict(list)",
        "@cache\ndef f(x):\n    return x",
        "@functools.lru_cache(maxsize=None)\ndef f(x):\n    return x",
    ],
)
def test_the_check_sees_a_global_that_changes(text: str) -> None:
    assert changeable_globals("x.py", text)


@pytest.mark.parametrize(
    "text",
    [
        "A = (1, 2)",
        "A: Final[Mapping[int, int]] = {1: 2}",
        "A: Mapping[str, int] = {}",
        "A: Final = {1: 2}",
        "A = MappingProxyType({1: 2})",
        "@lru_cache(maxsize=64)\ndef f(x):\n    return x",
        "def f():\n    found = []\n    return found",
    ],
)
def test_the_check_lets_constants_be(text: str) -> None:
    assert changeable_globals("x.py", text) == []


@pytest.mark.parametrize(
    "text",
    [
        "A: Final = {}\ndef f():\n    A[1] = 2",
        "A: Final = {}\ndef f():\n    A.update(b=1)",
        "A: Final = {1}\ndef f():\n    del A[1]",
        "from firmware.messages import BY_CODE\nBY_CODE.pop('x')",
        "import firmware.messages as m\nm.BY_CODE['x'] = 1",
        "A: Final = {1}\nA |= {2}",
        "A: Final = np.zeros(3)\ndef f():\n    A[0] = 1",
        "A: Final = np.zeros(3)\ndef f():\n    A.fill(1)",
        "A: Final = np.zeros(3)\ndef f(x):\n    np.add(x, x, out=A)",
    ],
)
def test_the_check_sees_a_table_that_is_changed(text: str) -> None:
    assert changed("x.py", text)


def test_the_check_lets_reading_a_table_be() -> None:
    assert changed("x.py", "A: Final = {1: 2}\ndef f(found):\n    found[A[1]] = A.get(2)\n    found.pop(A[1])") == []


def test_the_check_sees_a_writable_array() -> None:
    module = ModuleType("sample")
    frozen = np.zeros(3)
    frozen.flags.writeable = False
    vars(module).update(a=np.zeros(3), b=(1, (np.ones(2),)), c=frozen, d={1: np.ones(1)}, E=np.ones(1))
    assert changeable_arrays(module) == ["sample.a", "sample.b", "sample.d"]
