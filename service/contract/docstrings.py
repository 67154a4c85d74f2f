"""Docstrings under the fields of wire structs, which Python itself throws away."""

import ast
import inspect
import textwrap
from functools import cache


@cache
def field_docstrings(cls: type) -> dict[str, str]:
    """Texts standing as a string under a field, by field name, base classes included.

    Read from the class's source, so it works from a checkout and from an installed wheel, and
    raises OSError where only bytecode is shipped.
    """
    texts: dict[str, str] = {}
    for base in reversed(cls.__mro__):
        if base.__module__.startswith("service."):
            texts.update(_own_docstrings(base))
    return texts


def _own_docstrings(cls: type) -> dict[str, str]:
    body = ast.parse(textwrap.dedent(inspect.getsource(cls))).body[0]
    assert isinstance(body, ast.ClassDef)
    texts: dict[str, str] = {}
    for field, below in zip(body.body, body.body[1:], strict=False):
        if (
            isinstance(field, ast.AnnAssign)
            and isinstance(field.target, ast.Name)
            and isinstance(below, ast.Expr)
            and isinstance(below.value, ast.Constant)
            and isinstance(below.value.value, str)
        ):
            texts[field.target.id] = " ".join(below.value.value.split())
    return texts
