"""Every leaf of the order schema, and of an order, by its dotted path; the tests' own walk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


def schema_nodes(schema: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Path and node of every field, sections among them, in the order they stand."""
    for key, node in schema["properties"].items():
        yield prefix + key, node
        section = node.get("then", node)
        if "properties" in section:
            yield from schema_nodes(section, f"{prefix}{key}.")


def schema_leaves(schema: Mapping[str, Any]) -> dict[str, Any]:
    return {path: node for path, node in schema_nodes(schema) if "properties" not in node}


def order_leaves(order: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    leaves = {}
    for key, value in order.items():
        if isinstance(value, dict):
            leaves |= order_leaves(value, f"{prefix}{key}.")
        else:
            leaves[prefix + key] = value
    return leaves


def order_sections(order: dict[str, Any], prefix: str = "") -> dict[str, dict[str, Any]]:
    """Every section by path; the order itself has the empty path."""
    sections = {prefix.rstrip("."): order}
    for key, value in order.items():
        if isinstance(value, dict):
            sections |= order_sections(value, f"{prefix}{key}.")
    return sections
