"""What no page may do, held against one that a browser shows: break WCAG 2.2 AA, let texts collide.

Pages are looked at one after the other as a person goes from one to the next: in one document,
which costs a third of opening each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib import resources

from playwright.sync_api import Page

from tests.support.pages import SETTLED, opened

AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
BY_COLOUR = ["color-contrast", "link-in-text-block"]

COLLIDE = """() => {
    const boxes = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const aside = '.unseen, .rail, .start, .toast, template, script, [hidden], option';
    while (walk.nextNode()) {
        const home = walk.currentNode.parentElement, text = walk.currentNode.data.trim();
        if (!text || home.closest(aside)) continue;
        if (!home.checkVisibility({ visibilityProperty: true })) continue;
        const range = document.createRange();
        range.selectNodeContents(walk.currentNode);
        const cut = getComputedStyle(home).overflowX === 'hidden';
        const most = cut ? home.getBoundingClientRect().right : Infinity;
        for (const box of range.getClientRects()) {
            const lead = box.height * 0.2;
            boxes.push({ text, home, left: box.left, right: Math.min(box.right, most),
                top: box.top + lead, foot: box.bottom - lead });
        }
    }
    const over = (one, other) =>
        Math.min(one.right, other.right) - Math.max(one.left, other.left) > 1.5 &&
        Math.min(one.foot, other.foot) - Math.max(one.top, other.top) > 1.5;
    return boxes.flatMap((one, place) => boxes.slice(place + 1)
        .filter((other) => one.home !== other.home && over(one, other))
        .map((other) => `${one.text} | ${other.text}`));
}"""

# Follows a link that stands nowhere, and notes when the page that it leads to is drawn.
_FOLLOW = """path => {
    const link = Object.assign(document.createElement('a'), { href: path });
    const { pathname } = link;
    window.followed = false;
    document.addEventListener('arrived', ({ detail }) => {
        if (detail.path === pathname) window.followed = true;
    });
    document.body.append(link);
    link.click();
    link.remove();
}"""


def violations(page: Page) -> list[tuple[str, str, str]]:
    """What axe-core finds against WCAG 2.2 AA."""
    if not page.evaluate("() => Boolean(window.axe)"):
        page.evaluate(AXE)
    return checked(page, TAGS)


def violations_in_both_themes(page: Page) -> list[tuple[str, str, str]]:
    """What axe-core finds; in the other theme only what colours decide, all else being the same."""
    found, root = violations(page), page.locator("html")
    theme = root.get_attribute("data-theme")
    other = "light" if theme == "dark" else "dark"
    root.evaluate("(root, theme) => { root.dataset.theme = theme }", other)
    found += checked(page, BY_COLOUR)
    root.evaluate("(root, theme) => { root.dataset.theme = theme }", theme)
    return found


def checked(page: Page, rules: list[str]) -> list[tuple[str, str, str]]:
    """What axe-core, which is loaded, finds by these rules or tags."""
    page.wait_for_function("() => document.getAnimations().length === 0")
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']})", rules
    )
    return [
        (each["id"], node["html"][:160], node.get("failureSummary", "")[:300])
        for each in found["violations"]
        for node in each["nodes"]
    ]


def followed(page: Page, path: str) -> None:
    """Go on to another of the Dash pages, as by a link to it, until it is drawn."""
    page.evaluate(_FOLLOW, path)
    page.wait_for_function("() => window.followed")


def walked(page: Page, address: str, paths: Sequence[str]) -> Iterator[str]:
    """Each of these Dash pages in turn, drawn: the first is opened, the others are gone on to."""
    for number, path in enumerate(paths):
        if number:
            followed(page, path)
        else:
            opened(page, address + path)
        if path == "/":
            page.wait_for_function(SETTLED)
        yield path
