"""The shape that goes with each verdict, so that nobody needs its colour: filled disc, struck square, open ring. A
small dot where there is nothing to judge yet."""

from __future__ import annotations

from relearn.screen.panel import NOT_BEGUN

CLASSES = {"yes": "verdict-yes", "no": "verdict-no", "cannot tell": "verdict-tell", NOT_BEGUN: "verdict-none"}
SHAPES = {
    "yes": '<circle cx="12" cy="12" r="10" fill="currentColor"/>'
    '<path d="M7 12.5l3.4 3.4L17 9" fill="none" stroke="var(--card)" stroke-width="2.6"/>',
    "no": '<rect x="2.5" y="2.5" width="19" height="19" fill="currentColor"/>'
    '<path d="M6 12h12" stroke="var(--card)" stroke-width="3.4"/>',
    "cannot tell": '<circle cx="12" cy="12" r="9" fill="none" stroke="currentColor" stroke-width="2.4" '
    'stroke-dasharray="4.4 3"/><path d="M12 15.6v2M9.4 9.6a2.6 2.6 0 1 1 3.6 2.4c-.7.3-1 .8-1 1.8" fill="none" '
    'stroke="currentColor" stroke-width="2"/>',
    NOT_BEGUN: '<circle cx="12" cy="12" r="3.6" fill="currentColor"/>',
}


def shape(verdict: str) -> str:
    """The verdict's picture as SVG. Of a word that is no verdict the ring: nothing is claimed."""
    inside = SHAPES.get(verdict, SHAPES["cannot tell"])
    return f'<svg class="shape" viewBox="0 0 24 24" aria-hidden="true">{inside}</svg>'
