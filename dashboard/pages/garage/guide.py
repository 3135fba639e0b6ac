"""The guide: its topics, and the help of every command, as pages."""

from __future__ import annotations

from collections.abc import Sequence

from dash import html
from flask import abort

from curewatch.wording.guide import Topic, written_topics
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link, links
from dashboard.pages.garage.markdown import components
from dashboard.pages.routes import Address, DashPage


def _listed(topics: Sequence[Topic], before: str = "") -> html.Ul:
    rows = [
        html.Li(
            [
                link(
                    f"{before}{topic.name}" if before else topic.title,
                    f"/guide/{topic.name}",
                    button=False,
                ),
                html.Span(topic.title) if before else None,
            ]
        )
        for topic in topics
    ]
    return html.Ul(rows, className="contents")


def contents(context: PageContext, _address: Address, _first: bool) -> list[object]:
    """The topics, and every command."""
    commands = context.commands()
    listed = [html.H2("Every command"), _listed(commands, "curewatch ")] if commands else []
    return [html.H1("Guide"), _listed(written_topics()), html.Section(listed)]


def _topic(context: PageContext, address: Address) -> Topic:
    """The topic that an address names."""
    topics = [*written_topics(), *context.commands()]
    name = address.values["name"]
    topic = next((topic for topic in topics if topic.name == name), None)
    if topic is None:
        abort(404)
    return topic


def topic(context: PageContext, address: Address, _first: bool) -> list[object]:
    """One topic as a page."""
    text = html.Article(components(_topic(context, address).text), className="guide")
    return [links((("Guide", "/guide"),)), text]


def _title(context: PageContext, address: Address) -> str:
    return _topic(context, address).title


CONTENTS = DashPage("Guide", contents)
TOPIC = DashPage(_title, topic)
