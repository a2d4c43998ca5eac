"""The coach's own wording of drafts, in a small part of the Jinja language.

Allowed are text, values, `if`, comparisons, arithmetic on numbers, and the filters of `draft_values.FILTERS`. Loops,
calls, macros, assignments, attributes and includes are refused when the template is read, so that no template can run
on, grow without end, or reach outside its values; Jinja's sandbox stands behind that.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncview.errors import SyncviewError
from syncview.notes.draft_values import FILTERS, ORDINALS, VALUES, Unknown, Value

if TYPE_CHECKING:
    from jinja2 import Environment, nodes

LONGEST_TEMPLATE = 10_000
LONGEST_DRAFT = 1_000
DEFAULT_FILE = Path(__file__).with_name("default_draft.txt")


class TemplateError(SyncviewError):
    """A template cannot be used; says which line, why, and what to write instead."""

    exit_code = 8


def default_template() -> str:
    """The template that is used until the coach sets another."""
    return DEFAULT_FILE.read_text("utf-8")


def checked_template(text: str) -> str:
    """The template as it is kept; raises `TemplateError` when it is not of the language."""
    _parsed(text)
    return text


def render(text: str, values: Mapping[str, Value], filters: Mapping[str, Callable[..., str]]) -> str:
    """A draft from a template; blanks, left-over commas and capitals are put in order.

    Raises `TemplateError`, also for an unknown value that is printed without asking whether it is known.
    """
    import jinja2

    template = _compiled(text)
    known = {name: _for_template(name, value) for name, value in values.items()}
    written: list[str] = []
    length = 0
    try:
        for piece in template.generate(known, _filters=filters):
            length += len(piece)
            if length > 4 * LONGEST_TEMPLATE:
                raise TemplateError("the draft never ends", "Shorten the template.", where="template")
            written.append(piece)
    except jinja2.UndefinedError as error:
        raise TemplateError(str(error), _ASK, where=_where(error)) from None
    except (TypeError, ValueError, ArithmeticError, jinja2.TemplateError) as error:
        remedy = "Compare and reckon only with numbers that are known."
        raise TemplateError(f"the template cannot be worked out ({error})", remedy, where=_where(error)) from None
    draft = tidy("".join(written))
    if len(draft) > LONGEST_DRAFT:
        problem = f"a draft of {len(draft)} characters is longer than {LONGEST_DRAFT}"
        raise TemplateError(problem, "Shorten the template.", where="template")
    return draft


_ASK = "Ask first, as in {% if brake_speed %} … {% endif %}, or write {{ brake_speed | default('?') }}."
_LINE = "template, line "


def tidy(text: str) -> str:
    """One blank between words, none before a sign, no sign without words before it, capitals at sentence starts."""
    flat = " ".join(text.split())
    flat = re.sub(r" +([,;.!?:])", r"\1", flat)
    flat = re.sub(r"[,;:]+(?=[,;:.!?])", "", flat)
    flat = re.sub(r"([.!?])(?:[ ]?[.,;:])+", r"\1", flat)
    flat = re.sub(r"^[ ,;:.]+", "", flat)
    flat = re.sub(r"[ ,;:]+$", ".", flat)
    if flat and flat[-1] not in ".!?…":
        flat += "."
    return re.sub(r"(^|[.!?] )(\w)", lambda m: m[1] + (m[2].upper() if len(m[2].upper()) == 1 else m[2]), flat)


def _where(error: BaseException) -> str:
    """The template's line that a fault at work came from."""
    line, trace = None, error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename == "<template>":
            line = trace.tb_lineno
        trace = trace.tb_next
    return "template" if line is None else f"{_LINE}{line}"


def _for_template(name: str, value: Value) -> object:
    if isinstance(value, Unknown):
        return _unknown_type()(hint=f"{name} is not known here: {value.why or 'not in the data'}", name=name)
    return _Number(value) if isinstance(value, float) else value


class _Number(float):
    """A measured number: true even when it is 0."""

    def __bool__(self) -> bool:
        return True


@cache
def _unknown_type() -> type[Any]:
    """What stands for an unknown value: false when asked, a fault when printed or reckoned with."""
    import jinja2

    class NotKnown(jinja2.StrictUndefined):
        def __bool__(self) -> bool:  # type: ignore[override]
            return False

    return NotKnown


@cache
def _compiled(text: str) -> Any:
    from jinja2.exceptions import TemplateSyntaxError

    environment = _environment()
    _parsed(text)
    try:
        return environment.from_string(text)
    except TemplateSyntaxError as error:  # pragma: no cover - parsing has seen it before
        raise TemplateError(str(error.message), "See the default template.", where=f"{_LINE}{error.lineno}") from None


def _environment() -> Environment:
    """A fresh environment with nothing in it but our filters."""
    import jinja2
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(undefined=jinja2.StrictUndefined, autoescape=False, finalize=_printed)
    environment.globals.clear()
    environment.tests = {name: environment.tests[name] for name in _TESTS}
    plain: dict[str, Callable[..., str]] = {
        "round": _round, "upper": _upper, "lower": _lower, "ordinal": _ordinal, "correction_words": _correction_words,
    }  # fmt: skip
    environment.filters = {name: _of_known(plain[name] if name in plain else _with_unit(name)) for name in FILTERS}
    environment.filters["default"] = _default
    return environment


def _with_unit(name: str) -> Callable[..., str]:
    """A filter that is given with the values, since it depends on the coach's units."""
    import jinja2

    @jinja2.pass_context
    def filtered(context: Any, value: float) -> str:
        chosen: Callable[..., str] = context["_filters"][name]
        return chosen(value)

    return filtered


def _of_known(of: Callable[..., str]) -> Callable[..., str]:
    """The filter, which says what is missing when its value is unknown."""
    from functools import wraps

    import jinja2

    @wraps(of)
    def checked(*given: Any) -> str:
        for value in given:
            if isinstance(value, jinja2.Undefined):
                str(value)  # raises, and says which value it is and why it is unknown
        return of(*given)

    return checked


def _printed(value: object) -> object:
    """Numbers are printed whole."""
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value:.0f}"
    return value


def _round(number: float, places: int = 0) -> str:
    if not 0 <= places <= 3:
        raise ValueError("round takes 0 to 3 decimals")
    return f"{number:.{int(places)}f}"


def _upper(text: str) -> str:
    return str(text).upper()


def _lower(text: str) -> str:
    return str(text).lower()


def _ordinal(number: float) -> str:
    gear = round(number)
    return ORDINALS[gear - 1] if 1 <= gear <= len(ORDINALS) else f"gear {gear}"


def _correction_words(number: float) -> str:
    return "one steering correction" if number == 1 else f"{number:.0f} steering corrections"


def _default(value: object, instead: object = "") -> object:
    import jinja2

    return instead if isinstance(value, jinja2.Undefined) else value


_TESTS = ("defined", "undefined")
_REFUSED = {
    "For": "loops", "Call": "calls", "Getattr": "attributes (a point after a name)", "Getitem": "indexes",
    "Macro": "macros", "CallBlock": "macros", "Assign": "set", "AssignBlock": "set", "With": "with",
    "Include": "include", "Import": "import", "FromImport": "import", "Extends": "extends", "Block": "blocks",
    "FilterBlock": "filter blocks", "Pow": "powers", "Mod": "%", "Concat": "~", "List": "lists", "Tuple": "tuples",
    "Dict": "tables", "Slice": "slices",
}  # fmt: skip
_ALLOWED = frozenset(
    ("Template", "Output", "TemplateData", "Name", "Const", "If", "CondExpr", "Filter", "Test", "Compare", "Operand",
     "And", "Or", "Not", "Add", "Sub", "Mul", "Div", "Neg", "Pos", "Keyword")
)  # fmt: skip


def _parsed(text: str) -> nodes.Template:
    from jinja2.exceptions import TemplateSyntaxError

    if len(text) > LONGEST_TEMPLATE:
        problem = f"a template of {len(text)} characters is longer than {LONGEST_TEMPLATE}"
        raise TemplateError(problem, "Shorten it.", where="template")
    if not text.strip():
        raise TemplateError("the template is empty", "Write what a draft should say, or use --reset.", where="template")
    environment = _environment()
    try:
        tree = environment.parse(text)
    except TemplateSyntaxError as error:
        remedy = "See the default template (--reset, then --show) for how it is written."
        problem = str(error.message).rstrip(".")
        raise TemplateError(problem[:1].lower() + problem[1:], remedy, where=f"{_LINE}{error.lineno}") from None
    except RecursionError:
        raise TemplateError("the template is nested too deeply", "Simplify it.", where="template") from None
    _refuse(tree)
    return tree


def _refuse(tree: nodes.Template) -> None:
    """Raise `TemplateError` for the first thing that is not of the language."""
    from jinja2 import nodes

    stack: list[nodes.Node] = [tree]
    while stack:
        node = stack.pop()
        stack.extend(reversed(list(node.iter_child_nodes())))
        kind, where = type(node).__name__, f"{_LINE}{node.lineno}"
        if kind not in _ALLOWED:
            what = _REFUSED.get(kind, kind.lower())
            remedy = "Use only text, values, if and the filters that --help lists."
            raise TemplateError(f"{what} are not part of the language of templates", remedy, where=where)
        if isinstance(node, nodes.Name) and node.name not in VALUES:
            problem = f"there is no value “{node.name}”"
            raise TemplateError(problem, f"Values are: {', '.join(VALUES)}.", where=where)
        if isinstance(node, nodes.Filter) and node.name not in FILTERS:
            raise TemplateError(f"there is no filter “{node.name}”", f"Filters are: {', '.join(FILTERS)}.", where=where)
        if isinstance(node, nodes.Test) and node.name not in _TESTS:
            raise TemplateError(f"there is no test “{node.name}”", "Use if, ==, < and the like.", where=where)
        if isinstance(node, nodes.BinExpr) and _has_text(node):
            raise TemplateError("words cannot be reckoned with", "Write them beside each other.", where=where)


def _has_text(node: nodes.Node) -> bool:
    """Whether an arithmetic expression has words or a huge number in it (“'a' * 1000000000”)."""
    from jinja2 import nodes

    words = {"name", "side", "brake_marker", "wheel_at_full"}
    return any(
        (isinstance(leaf, nodes.Const) and (isinstance(leaf.value, str) or abs(float(leaf.value or 0)) > 1e9))
        or (isinstance(leaf, nodes.Name) and leaf.name in words)
        or isinstance(leaf, nodes.Filter)
        for leaf in node.find_all((nodes.Const, nodes.Name, nodes.Filter))
    )
