"""The four care verdicts as shapes, told apart without colour: octagon, diamond, triangle, ring."""

from estimator.care.verdicts import CareWord

_BODIES = {
    CareWord.STOP: (
        '<path d="M12 2h16l10 10v16l-10 10h-16l-10 -10v-16z" class="fill-text" fill="#1a1a1a"/>'
        '<path d="M11 20h18" class="stroke-paper" stroke="#ffffff" stroke-width="6"/>'
    ),
    CareWord.TEST_FIRST: (
        '<path d="M20 3l17 17l-17 17l-17 -17z" fill="none" class="stroke-text" stroke="#1a1a1a" stroke-width="4"/>'
        '<path d="M20 11v11m0 4v4" class="stroke-text" stroke="#1a1a1a" stroke-width="4"/>'
    ),
    CareWord.CAUTION: (
        '<path d="M20 4l17 31h-34z" fill="none" class="stroke-text" stroke="#1a1a1a" stroke-width="4"'
        ' stroke-linejoin="round"/><path d="M20 14v10m0 3v4" class="stroke-text" stroke="#1a1a1a" stroke-width="4"/>'
    ),
    CareWord.CLEAR: (
        '<circle cx="20" cy="20" r="16" fill="none" class="stroke-text" stroke="#1a1a1a" stroke-width="4"/>'
    ),
}


def care_shape(word: CareWord) -> str:
    """The shape of a verdict as SVG, for a place beside its word."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40" width="40" height="40" aria-hidden="true">'
        f"{_BODIES[word]}</svg>"
    )
