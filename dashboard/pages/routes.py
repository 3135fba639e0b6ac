"""The addresses of the Dash pages, plain or with a number or a name in them: /air, /step/12."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import field
from typing import Any

import dash
from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, Rule

from curewatch.frozen import frozen
from dashboard.context.page_context import PageContext
from dashboard.pages.touches import Act
from dashboard.request.numbers import PlainInteger


@frozen
class Address:
    """What was asked for: the path, the query without its question mark, and what the path's
    variables hold."""

    path: str
    query: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)


@frozen
class DashPage:
    """A page of Dash's: its title; its components at an address, the last argument telling whether
    the server draws them first; what its buttons and forms do, by name; callbacks of its own.

    keeps: it draws itself anew, by callbacks on `again` and on its query, instead of being drawn
    whole; renews_s: how long it stays as it is while readings come in [s]; clock_s: after how long
    of its clock it is drawn anew though nothing came in [s], 0: never; kind: its body's class;
    under: the path of the menu's entry that it belongs to, where its own does not begin with that.
    """

    title: str | Callable[[PageContext, Address], str]
    content: Callable[[PageContext, Address, bool], list[Any]]
    acts: Mapping[str, Act] = field(default_factory=dict)
    callbacks: Callable[[dash.Dash, PageContext], None] | None = None
    keeps: bool = False
    renews_s: float = 60.0
    clock_s: float = 0.0
    kind: str = "page"
    under: str = ""

    def titled(self, context: PageContext, address: Address) -> str:
        """The page's title at an address."""
        return self.title if isinstance(self.title, str) else self.title(context, address)


class Routes:
    """The pages by the patterns of their paths, written as Flask's are: /step/<int:number>."""

    def __init__(self, pages: Mapping[str, DashPage]) -> None:
        self.pages = pages
        rules = [Rule(path, endpoint=path) for path in pages]
        self._map = Map(rules, converters={"int": PlainInteger}).bind("")

    def at(self, path: str, query: str = "") -> tuple[DashPage, Address] | None:
        """The page at a path, if one of ours is there."""
        try:
            pattern, values = self._map.match(path)
        except HTTPException:
            return None
        return self.pages[pattern], Address(path, query.removeprefix("?"), values)

    def expressions(self) -> list[str]:
        """The patterns as regular expressions, by which a browser knows which links are ours."""
        return [_expression(path) for path in self.pages]


def _expression(path: str) -> str:
    """The pattern of a path as a regular expression of the browser's.

    >>> _expression("/step/<int:number>/history")
    '/step/[0-9]+/history'
    """
    parts = re.split(r"(<[^>]*>)", path)
    kinds = {"int": "[0-9]+", "path": ".+"}
    return "".join(
        kinds.get(part[1:].partition(":")[0], "[^/]+") if part.startswith("<") else re.escape(part)
        for part in parts
    )
