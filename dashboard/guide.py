"""The guide: its topics, and the help of every command, as pages."""

from __future__ import annotations

from flask import Flask, abort, render_template
from markupsafe import Markup

from curewatch.wording.guide import written_topics
from dashboard.hall import Hall


def rendered(text: str) -> Markup:
    """Markdown as HTML, with everything that is no Markdown escaped.

    The library is loaded by the first reader of the guide.
    """
    import mistune

    page = mistune.create_markdown(escape=True, plugins=["table"])(text)
    wide = ("<table>", '<div class="scroll" tabindex="0"><table>'), ("</table>", "</table></div>")
    for plain, wrapped in wide:
        page = str(page).replace(plain, wrapped)
    return Markup(page)


def register(app: Flask, hall: Hall) -> None:
    """Put the guide on the app."""

    @app.get("/guide")
    def guide_contents() -> str:
        return render_template("guide.html", topics=written_topics(), commands=hall.commands())

    @app.get("/guide/<name>")
    def guide_topic(name: str) -> str:
        topics = [*written_topics(), *hall.commands()]
        found = next((topic for topic in topics if topic.name == name), None)
        if found is None:
            abort(404)
        return render_template("topic.html", topic=found, page=rendered(found.text))
