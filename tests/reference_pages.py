"""A page for each public name, made from its docstring; the parts that every docstring must have.

``python tests/docs_pages.py`` writes the pages into ``reports/docs/reference/``; a house test holds
them to what would be written.
"""

from __future__ import annotations

import ast
import dataclasses
import doctest
import enum
import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from names_page import first_line, page_name

import fleetstats
from fleetstats.core.value import Value
from fleetstats.names import GROUPS

SECTIONS = ("Parameters", "Attributes", "Returns", "Raises", "Notes", "References", "Examples")
HEAD = re.compile(rf"^({'|'.join(SECTIONS)})\n-{{3,}}\n", re.MULTILINE)
ITEM = re.compile(r"^(\S[^\n]*)\n((?:[ ]{4}[^\n]*\n|\n)*)", re.MULTILINE)

NO_FORMULA = frozenset({"A study from its folder", "Records, audit, mends", "Errors"})
"""Groups whose names compute nothing that a source would be named for."""


@dataclasses.dataclass(frozen=True)
class Item:
    """An entry of a section: names, what they are, and what is said of them."""

    names: tuple[str, ...]
    kind: str
    told: str


def sections(text: str) -> dict[str, str]:
    """Return the sections of a docstring by their heads; ``""`` holds what comes before."""
    parts = HEAD.split(text + "\n")
    return {"": parts[0].strip()} | dict(zip(parts[1::2], parts[2::2], strict=True))


def items(section: str) -> list[Item]:
    """Return the entries of a section of names."""
    out = []
    for head, body in ITEM.findall(section.strip("\n") + "\n"):
        names, _, kind = head.partition(" : ")
        told = " ".join(textwrap.dedent(body).split("\n")).strip()
        out.append(Item(tuple(x.strip().lstrip("*") for x in names.split(",")), kind, told))
    return out


def doc_of(held: Any) -> dict[str, str]:
    """Return the sections of what a thing says of itself."""
    return sections(inspect.getdoc(held) or "")


def is_formula(name: str) -> bool:
    """Return whether a name computes something that has a source."""
    group = next(g for g, names in GROUPS.items() if name in names)
    return group not in NO_FORMULA and not isinstance(getattr(fleetstats, name), type)


def direct_raises(held: Any) -> set[str]:
    """Return the errors that a function raises in its own lines, whoever makes them."""
    inner = inspect.unwrap(held)
    tree = ast.parse(textwrap.dedent(inspect.getsource(inner)))
    calls = [n.exc for n in ast.walk(tree) if isinstance(n, ast.Raise) and n.exc is not None]
    names = [c.func if isinstance(c, ast.Call) else c for c in calls]
    made = [(n.id, inner.__globals__.get(n.id)) for n in names if isinstance(n, ast.Name)]
    return {
        inspect.signature(x).return_annotation if inspect.isfunction(x) else name
        for name, x in made
    }


def missing_parts(name: str) -> Iterator[str]:
    """Yield what the docstring of a public name leaves unsaid."""
    held = getattr(fleetstats, name)
    doc = doc_of(held)
    asked = [p for p in inspect.signature(held).parameters if p not in ("self", "args", "kwargs")]
    if isinstance(held, type) and not dataclasses.is_dataclass(held):
        asked = []
    told = {n for k in ("Parameters", "Attributes") for i in items(doc.get(k, "")) for n in i.names}
    for p in asked:
        if p not in told:
            yield f"parameter {p}"
    if "Examples" not in doc:
        yield "Examples"
    if isinstance(held, type):
        return
    if "Returns" not in doc:
        yield "Returns"
    raised = {n for i in items(doc.get("Raises", "")) for n in i.names}
    if not raised and not hasattr(held, "__gate__"):
        yield "Raises"
    for error in direct_raises(held) - raised:
        yield f"Raises {error}"
    if is_formula(name) and "References" not in doc:
        yield "References"


def linked(text: str, own: str = "") -> str:
    """Return docstring text as Markdown: code in single marks, public names led to their pages."""
    text = re.sub(r"``(.+?)``", r"`\1`", text)

    def lead(m: re.Match[str]) -> str:
        name = m[1].removeprefix("fs.")
        if name == own or name not in fleetstats.__all__:
            return m[0]
        return f"[`fs.{name}`]({page_name(name)})"

    return re.sub(r"(?<!\[)`([\w.]+)`", lead, text)


def paragraphs(text: str, own: str) -> str:
    """Return paragraphs, each on one line but where it is set in."""
    out = []
    text = re.sub(r"^\.\. \[\d+\] ", "\n", text, flags=re.MULTILINE)
    for part in re.split(r"\n\s*\n", text.strip("\n")):
        code = part.startswith("    ")
        out.append(part if code else linked(" ".join(part.split()), own))
    return "\n\n".join(out)


def listed(section: str, own: str, *, lead: bool = False) -> str:
    """Return the entries of a section as a list; `lead` links their names to pages."""
    out = []
    for item in items(section):
        names = ", ".join(linked(f"`{n}`", own) if lead else f"`{n}`" for n in item.names)
        kind = re.sub(r"\b[A-Z][A-Za-z]+\b", lambda m: typed(m[0], own), item.kind)
        told = f": {linked(' '.join(item.told.split()), own)}" if item.told else ""
        out.append(f"- {names}{', ' if kind else ''}{linked(kind, own)}{told}")
    return "\n".join(out)


def typed(word: str, own: str) -> str:
    """Return a word of an entry's kind, as a link where it is a public type."""
    public = word in fleetstats.__all__ and word != own
    return f"[{word}]({page_name(word)})" if public else word


def bare(told: object) -> str:
    """Return a signature or an argument as a reader writes it: annotations without quotes."""
    text = re.sub(r"(: |-> )'([^']*)'", r"\1\2", str(told)).replace("<factory>", "...")
    return re.sub(r"<function (\w+) at 0x[0-9a-f]+>", r"\1", text)


def called(name: str, told: inspect.Signature) -> str:
    """Return how a name is called, one argument to a line where it is long."""
    line = f"fs.{name}{bare(told)}"
    if len(line) <= 96:
        return line
    args = [bare(p) for p in told.parameters.values()]
    kinds = [p.kind for p in told.parameters.values()]
    if inspect.Parameter.KEYWORD_ONLY in kinds:
        args.insert(kinds.index(inspect.Parameter.KEYWORD_ONLY), "*")
    end = line.rpartition(")")[2]
    return f"fs.{name}(\n    " + ",\n    ".join(args) + f",\n){end}"


def without_return(told: inspect.Signature) -> inspect.Signature:
    """Return a signature that does not say what is returned."""
    return told.replace(return_annotation=inspect.Signature.empty)


def example(section: str) -> str:
    """Return the example as a block of code, with what it prints below each statement."""
    out = []
    for e in doctest.DocTestParser().parse(textwrap.dedent(section)):
        if isinstance(e, str):
            out += [f"# {x}" for x in e.splitlines() if x.strip()]
            continue
        out.append(e.source.rstrip("\n"))
        out += [f"# → {x}".rstrip() for x in e.want.splitlines()]
        if e.exc_msg is not None:
            out[-len(e.want.splitlines()) :] = [f"# → {e.exc_msg.strip()}"]
    return "```python\n" + "\n".join(out) + "\n```"


COMMON = frozenset(dir(Value)) | frozenset(dir(BaseException)) | frozenset(dir(int))


def own_signature(made: Any) -> inspect.Signature:
    """Return the arguments of a method without the value itself."""
    told = without_return(inspect.signature(made))
    rest = [p for n, p in told.parameters.items() if n not in ("self", "cls")]
    return told.replace(parameters=rest)


def makers(cls: type, own: str) -> Iterator[str]:
    """Yield what is said of each way to make a value that has arguments of its own."""
    for n in sorted(set(dir(cls)) - COMMON):
        x = inspect.getattr_static(cls, n)
        if n.startswith("_") or not isinstance(x, classmethod | staticmethod):
            continue
        doc = sections(inspect.getdoc(x.__func__) or "")
        if doc.get("Parameters"):
            yield f"## `{own}.{n}`"
            yield f"```python\n{called(f'{own}.{n}', own_signature(x.__func__))}\n```"
            yield paragraphs(doc[""], own)
            yield listed(doc["Parameters"], own)
            if doc.get("Raises"):
                yield "Errors:"
                yield listed(doc["Raises"], own, lead=True)


def tables(cls: type) -> Iterator[str]:
    """Yield the keys of each table of settings: what it means, and what stands where none is."""
    for f in dataclasses.fields(cls):
        made = f.default_factory
        if not isinstance(made, type) or not dataclasses.is_dataclass(made):
            continue
        held = made()
        yield f"## `{f.name}`"
        yield "\n".join(
            f"- `{k.name}`, {shown(getattr(held, k.name))}: {k.metadata['doc']}"
            for k in dataclasses.fields(made)
            if "doc" in k.metadata
        )


def shown(default: object) -> str:
    """Return what a key is where the study does not say."""
    if default is None or default == "":
        return "not given"
    words = list(default) if isinstance(default, tuple) else default
    return f"`{words!r}`"


def says(cls: type) -> Iterator[str]:
    """Yield a line for each thing that values of a type can say, beside their fields."""
    held = {f.name for f in dataclasses.fields(cls)} if dataclasses.is_dataclass(cls) else set()
    for n in sorted(set(dir(cls)) - COMMON - held):
        x = inspect.getattr_static(cls, n)
        text = inspect.getdoc(getattr(cls, n)) if not n.startswith("_") else None
        if not text or isinstance(x, int):
            continue
        made = getattr(x, "__func__", x)
        call = "" if isinstance(x, property) else bare(own_signature(made))
        yield f"- `{n}{call}`: {linked(' '.join(text.split(chr(10) * 2)[0].split()))}"


def fields_of(cls: type) -> str:
    """Return what a type holds and says: its fields, told or at least named, then the rest."""
    doc = doc_of(cls)
    told = doc.get("Parameters") or doc.get("Attributes") or ""
    out = [listed(told, cls.__name__)] if told else []
    if issubclass(cls, enum.Enum):
        out += [f"- `{m.name}`, {m.value!r}" for m in cls]
    if dataclasses.is_dataclass(cls):
        known = {n for i in items(told) for n in i.names}
        left = [f for f in dataclasses.fields(cls) if f.name not in known and f.name[0] != "_"]
        out += [f"- `{f.name}`, {f.type}" for f in left]
    return "\n".join([*out, *says(cls)])


def returned(held: Any) -> list[type]:
    """Return the types of ours, without a page, that a function's answer is made of."""
    inner = inspect.unwrap(held)
    words = re.findall(r"\w+", str(inspect.signature(held).return_annotation))
    found = [inner.__globals__.get(w) for w in words]
    public = {
        getattr(fleetstats, n)
        for n in fleetstats.__all__
        if isinstance(getattr(fleetstats, n), type)
    }
    ours = [c for c in found if isinstance(c, type) and c.__module__.startswith("fleetstats.")]
    return [c for c in ours if c not in public]


def errors(held: Any, own: str) -> str:
    """Return the errors of a function, with the one that its gate raises for any argument."""
    told = doc_of(held).get("Raises", "")
    out = [listed(told, own, lead=True)] if told else []
    names = {n for i in items(told) for n in i.names}
    if hasattr(held, "__gate__") and "ArgumentError" not in names:
        out.append(f"- {linked('`ArgumentError`')}: {GATED}")
    return "\n".join(out)


def page_of(name: str) -> str:
    """Return the page of a public name."""
    held = getattr(fleetstats, name)
    doc = doc_of(held)
    group = next(g for g, names in GROUPS.items() if name in names)
    is_type = isinstance(held, type)
    out = [f"# `fs.{name}`", f"[{group}](README.md#{anchor(group)})"]
    if not is_type or dataclasses.is_dataclass(held):
        told = inspect.signature(held)
        out.append(f"```python\n{called(name, without_return(told) if is_type else told)}\n```")
    out.append(paragraphs(doc[""], name))
    if is_type:
        inside = fields_of(held)
        out += ["## What it holds and says", inside] if inside else []
        out += makers(held, name)
        out += tables(held) if dataclasses.is_dataclass(held) else []
    elif doc.get("Parameters"):
        out += ["## Arguments", listed(doc["Parameters"], name)]
    if doc.get("Returns"):
        out += ["## Returns", listed(doc["Returns"], name, lead=True)]
    if not is_type:
        for cls in returned(held):
            inside = fields_of(cls)
            first = paragraphs(doc_of(cls)[""], name)
            out += [f"### `{cls.__name__}`", first, inside] if inside else []
    if told := errors(held, name):
        out += ["## Errors", told]
    if doc.get("Notes"):
        out += ["## How", paragraphs(doc["Notes"], name)]
    if doc.get("References"):
        out += ["## Source", paragraphs(doc["References"], name)]
    out += ["## Example", example(doc["Examples"])]
    return "\n\n".join(x for x in out if x) + "\n"


def anchor(title: str) -> str:
    """Return the anchor that a heading gets."""
    return re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-")


def index() -> str:
    """Return the list of all pages by group."""
    out = ["# Every public name", INTRO]
    for group, names in GROUPS.items():
        out.append(f"## {group}")
        lines = [
            f"- [`fs.{n}`]({page_name(n)}): {first_line(getattr(fleetstats, n))}" for n in names
        ]
        out.append("\n".join(lines))
    return "\n\n".join(out) + "\n"


GATED = "If an argument is not what it stands for."
INTRO = """\
A page for each name of `import fleetstats as fs`, made from what the name says of itself; the tests
run every example. Hours are hours, a level is two-sided, a probability lies in [0, 1]; `(n,)` is
the shape of an array. Every value has `to_frame()` (a table), `to_dict()` (plain data) and a `repr`
besides what its page lists. [The guide](../api.md) shows them at work."""


def pages() -> dict[str, str]:
    """Return all pages by their files."""
    return {"README.md": index()} | {page_name(n): page_of(n) for n in fleetstats.__all__}


def write_reference(docs: Path) -> None:
    """Write the pages into the folder of docs, and take away those of names that are gone."""
    folder = docs / "reference"
    folder.mkdir(exist_ok=True)
    made = pages()
    for path in folder.glob("*.md"):
        if path.name not in made:
            path.unlink()
    for name, text in made.items():
        (folder / name).write_text(text, encoding="utf-8")
