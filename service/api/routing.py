"""What the routes of an application take: methods by path, query parameters by handler."""

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple
from urllib.parse import parse_qsl

from litestar import Litestar
from litestar.exceptions import MethodNotAllowedException, NotFoundException
from litestar.routes import HTTPRoute

from service.contract.problem_catalogue import BAD_QUERY
from service.contract.problems import FieldError, field_error

_METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


class QueryRules(NamedTuple):
    """Query parameters of an operation."""

    names: frozenset[str]
    required: frozenset[str]
    repeatable: frozenset[str]
    nullable: frozenset[str]
    """Those that are no text: there Litestar takes the word `null` for the parameter's absence."""
    times: frozenset[str]
    """Those that are times: there Litestar takes a bare number for seconds since 1970."""

    def faults(self, query: bytes) -> list[FieldError]:
        """Every parameter that is unknown, given twice, missing or the word `null`."""
        try:
            given = parse_qsl(query.decode("ascii"), keep_blank_values=True, errors="strict")
        except ValueError:
            return [_fault("?", "The query is not percent-encoded UTF-8.", "Encode it as such.")]
        seen: set[str] = set()
        faults: list[FieldError] = []
        for name, value in given:
            if name not in self.names:
                faults.append(_unknown(name, self.names))
            elif name in seen and name not in self.repeatable:
                faults.append(_fault(f"?{name}", f"`{name}` is given twice.", "Give it once."))
            elif name in self.nullable and value.lower() == "null":
                detail = f"{name} cannot be read: it says null."
                faults.append(_fault(f"?{name}", detail, "Leave it out to say nothing."))
            elif name in self.times and value[4:5] != "-":
                detail = f"{name} cannot be read: it is no date and time."
                faults.append(_fault(f"?{name}", detail, "Write it like 2026-03-14T12:00:00Z."))
            seen.add(name)
        for name in sorted(self.required - seen):
            faults.append(_fault(f"?{name}", f"`{name}` is missing.", f"Add {name}= to the query."))
        return faults


_NO_QUERY = QueryRules(*[frozenset()] * 5)


class Routes:
    """The routes of an application, asked off the fast path; answers are remembered."""

    def __init__(self, app: Litestar) -> None:
        self._router = app.asgi_router
        self._rules = _rules_by_handler(app)
        self.handler = lru_cache(1024)(self._handler)
        self.methods = lru_cache(1024)(self._methods)

    def query_rules(self, handler: Any) -> QueryRules:
        """Query parameters of a handler."""
        return self._rules.get(id(handler), _NO_QUERY)

    def _handler(self, path: str, method: str) -> Any:
        """Handler of a path and method, None where there is none."""
        try:
            return self._router.handle_routing(path=path, method=method)[1]
        except (NotFoundException, MethodNotAllowedException):
            return None

    def _methods(self, path: str) -> tuple[str, ...]:
        """Methods that a path takes, HEAD with GET and OPTIONS with any; empty for no path."""
        found = [method for method in _METHODS if self._handler(path, method) is not None]
        if "GET" in found:
            found.insert(1, "HEAD")
        return (*found, "OPTIONS") if found else ()


def _rules_by_handler(app: Litestar) -> Mapping[int, QueryRules]:
    rules: dict[int, QueryRules] = {}
    for route in app.routes:
        if isinstance(route, HTTPRoute):
            for handler, model in route.route_handler_map.values():
                query = model.expected_query_params
                rules[id(handler)] = QueryRules(
                    frozenset(one.field_alias for one in query),
                    frozenset(one.field_alias for one in query if one.is_required),
                    frozenset(model.sequence_query_parameter_names),
                    frozenset(one.field_alias for one in query if not _may_be(handler, one, str)),
                    frozenset(one.field_alias for one in query if _may_be(handler, one, datetime)),
                )
    return rules


def _may_be(handler: Any, parameter: Any, kind: type) -> bool:
    field = handler.parsed_fn_signature.parameters[parameter.field_name]
    return any(part.annotation is kind for part in (field, *field.inner_types))


def _fault(pointer: str, detail: str, hint: str) -> FieldError:
    return field_error(BAD_QUERY, pointer, detail, hint)


def _unknown(name: str, known: frozenset[str]) -> FieldError:
    listed = ", ".join(sorted(known))
    hint = f"Known here: {listed}." if known else "The operation takes no query."
    return _fault(f"?{name[:60]}", f"There is no parameter {name[:60]!r}.", hint)
