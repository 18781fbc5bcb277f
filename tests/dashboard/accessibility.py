"""Accessibility faults that axe-core finds on a page, by WCAG 2.2 AA and best practice."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

__all__ = ["grave_findings"]

RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
GRAVE = ("serious", "critical")
STREAMLITS_OWN = {
    # On a narrow screen, the menu's groups are boxes between the list and its items.
    "list": '[data-testid="stSidebarNavItems"]',
    "listitem": '[data-testid="stSidebarNavItems"] li',
}
"""Rules that Streamlit's own elements break, which no page can change."""

IS_OWN = "([target, own]) => document.querySelector(target)?.matches(own) ?? false"
AXE = Axe()


IN_VIEW = """target => {
  let root = document, found = null;
  for (const step of [target].flat(2)) {
    found = root.querySelector(step);
    root = found?.shadowRoot ?? root;
  }
  found?.scrollIntoView({ block: 'center' });
}"""
OBSCURED = "partially obscured"


def grave_findings(page: Page) -> list[str]:
    """Return each serious or critical fault: the rule, the element, and what would have to change.

    An element half under the bar at the foot of a page is scrolled to the middle and checked again.
    """
    listed = _listed(page, RULES)
    for target in [target for _, target, told in listed if OBSCURED in told]:
        page.evaluate(IN_VIEW, target)
        still = {str(again) for _, again, told in _listed(page, ("target-size",))}
        if str(target) not in still:
            listed = [each for each in listed if each[1] != target]
    return [f"{rule} at {target}: {told}" for rule, target, told in listed]


def _listed(page: Page, rules: tuple[str, ...]) -> list[tuple[str, list[object], str]]:
    found = AXE.run(page, options={"resultTypes": ["violations"], "runOnly": list(rules)})
    return [
        (rule["id"], node["target"], node["failureSummary"])
        for rule in found.response["violations"]
        if rule["impact"] in GRAVE
        for node in rule["nodes"]
        if not page.evaluate(IS_OWN, [node["target"][0], STREAMLITS_OWN.get(rule["id"], "none")])
    ]
