"""Every rule of the published schema that a body breaks, each with its place and a hint.

Only for bodies that strict decoding has refused: decoding stops at the first fault and names the
parent, a person who integrates wants all of them at their own places.
"""

from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any

from service.contract.problems import FieldError
from service.contract.rule_texts import Broken, Path, Violation, told
from service.contract.schemas import REF, Schema, component_schemas

if TYPE_CHECKING:
    import jsonschema_rs

MOST = 300
"""Violations looked at in one body; those shown are the first of these."""

_RANK = {"type": 0, "minLength": 1, "maxLength": 1, "enum": 2, "const": 2}
"""What breaks several rules in one place is told by the first: 5 is no string, hence no unit."""


def violations(body: Any, cls: type) -> list[FieldError]:
    """The broken rules of a decoded body, in the order of the body."""
    root = _decided_schema(cls)
    shortened = _shortened(body, _longest_array(root) + 1)
    broken: dict[Path, tuple[int, Broken]] = {}
    for error in islice(_validator(cls).iter_errors(shortened), MOST):
        violation = Violation(
            keyword=str(error.kind.name),
            limit=error.kind,
            path=tuple(error.instance_path),
            value=_at(body, error.instance_path),
            schema=_looked_up(root, error.schema_path[:-1]),
            component=_component_of(error.schema_path),
            components=root["components"]["schemas"],
        )
        rank = _RANK.get(violation.keyword, 9)
        for rule in told(violation):
            if rule.path not in broken or rank < broken[rule.path][0]:
                broken[rule.path] = (rank, rule)
    ordered = sorted(broken, key=lambda path: _order(body, path))
    return [broken[path][1].error for path in ordered]


@cache
def _validator(cls: type) -> "jsonschema_rs.Draft202012Validator":
    import jsonschema_rs  # here, since most starts are waited for and most bodies are right

    return jsonschema_rs.Draft202012Validator(_decided_schema(cls), validate_formats=True)


@cache
def _decided_schema(cls: type) -> Schema:
    """Published schema of a request, with alternatives decided by their tag first."""
    components = {name: _decided(part) for name, part in component_schemas([cls]).items()}
    return {"$ref": f"{REF}{cls.__name__}", "components": {"schemas": components}}


def _shortened(node: Any, most: int) -> Any:
    """The body with arrays cut to where they are too long already: checking costs time."""
    if isinstance(node, dict):
        return {name: _shortened(child, most) for name, child in node.items()}
    if isinstance(node, list):
        return [_shortened(child, most) for child in node[:most]]
    return node


def _longest_array(schema: Any) -> int:
    """The largest `maxItems` in a schema."""
    if isinstance(schema, dict):
        own = schema.get("maxItems", 0)
        inner = [_longest_array(part) for part in schema.values()]
        return max([own if isinstance(own, int) else 0, *inner])
    return max(map(_longest_array, schema), default=0) if isinstance(schema, list) else 0


def _at(body: Any, path: list[Any]) -> Any:
    for step in path:
        body = body[step]
    return body


def _looked_up(root: Schema, path: list[Any]) -> Schema:
    node: Any = root
    for step in path:
        node = node[step]
    return node if isinstance(node, dict) else {}


def _component_of(schema_path: list[str | int]) -> str:
    return str(schema_path[2]) if schema_path[:2] == ["components", "schemas"] else ""


def _decided(schema: Any) -> Any:
    """Rewrite alternatives as if/then, so that a fault is the chosen alternative's own."""
    if isinstance(schema, list):
        return [_decided(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    if "discriminator" in schema:
        return _by_tag(schema["discriminator"])
    if "anyOf" in schema and {"type": "null"} in schema["anyOf"]:
        others = [_decided(part) for part in schema["anyOf"] if part != {"type": "null"}]
        other = others[0] if len(others) == 1 else {"anyOf": others}
        return {"if": {"type": "null"}, "then": True, "else": other}
    return {key: _decided(part) for key, part in schema.items()}


def _by_tag(discriminator: Schema) -> Schema:
    tag, mapping = discriminator["propertyName"], discriminator["mapping"]
    return {
        "type": "object",
        "required": [tag],
        "properties": {tag: {"enum": list(mapping)}},
        "allOf": [
            {
                "if": {
                    "type": "object",
                    "required": [tag],
                    "properties": {tag: {"const": value}},
                },
                "then": {"$ref": ref},
            }
            for value, ref in mapping.items()
        ],
    }


def _order(body: Any, path: Path) -> tuple[tuple[int, str], ...]:
    """Sort key that puts places in the order in which the body has them."""
    key: list[tuple[int, str]] = []
    node = body
    for step in path:
        if isinstance(node, dict) and step in node:
            key.append((list(node).index(step), ""))
            node = node[step]
        elif isinstance(node, list) and isinstance(step, int) and step < len(node):
            key.append((step, ""))
            node = node[step]
        else:
            key.append((-1, str(step)))
            node = None
    return tuple(key)
