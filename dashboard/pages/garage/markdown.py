"""Markdown as components: what is no Markdown stays text, and no link leads into a script."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from dash import html

Token = dict[str, Any]
_OWN = ("/", "#", "https://", "http://")
_WRAPS: dict[str, Callable[..., Any]] = {
    "paragraph": html.P,
    "block_text": html.Span,
    "list_item": html.Li,
    "strong": html.B,
    "emphasis": html.Em,
    "block_quote": html.Blockquote,
    "table_head": lambda cells: html.Thead(html.Tr(cells)),
    "table_body": html.Tbody,
    "table_row": html.Tr,
}
_HEADS = (html.H1, html.H2, html.H3, html.H4, html.H5, html.H6)


def components(text: str) -> list[Any]:
    """A Markdown text as a page's components.

    The library is loaded by the first reader of the guide.
    """
    import mistune

    tokens: Any = mistune.create_markdown(renderer="ast", plugins=["table"])(text)
    return _drawn(tokens)


def _drawn(tokens: Sequence[Token]) -> list[Any]:
    return [part for token in tokens if (part := _one(token)) is not None]


def _children(token: Token) -> list[Any]:
    return _drawn(token.get("children", ()))


def _one(token: Token) -> Any:
    kind, attributes = token["type"], token.get("attrs", {})
    match kind:
        case "blank_line":
            return None
        case "softbreak" | "linebreak":
            return " " if kind == "softbreak" else html.Br()
        case "codespan":
            return html.Code(token["raw"])
        case "block_code":
            return html.Pre(html.Code(token["raw"]), tabIndex=0)
        case "heading":
            return _HEADS[attributes["level"] - 1](_children(token))
        case "list":
            return (html.Ol if attributes.get("ordered") else html.Ul)(_children(token))
        case "link":
            return _link(attributes["url"], _children(token))
        case "table":
            return _table(token)
        case "table_cell":
            return (html.Th if attributes.get("head") else html.Td)(_children(token))
        case "thematic_break":
            return html.Hr()
    if kind in _WRAPS:
        return _WRAPS[kind](_children(token))
    return token.get("raw", "")


def _table(token: Token) -> html.Div:
    named: dict[str, Any] = {"aria-label": "Table"}
    table = html.Table(_children(token))
    return html.Div(table, className="scroll", tabIndex=0, role="region", **named)


def _link(address: str, children: list[Any]) -> Any:
    if not address.startswith(_OWN) or address.startswith("//"):
        return html.Span(children)
    return html.A(children, href=address)
