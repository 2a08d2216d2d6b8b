"""From a photograph to its corrected colours: the only place that knows the order of the references."""

from calibration.cards.classic140 import find_classic140
from calibration.cards.finding import CardSearch, search_cards
from calibration.cards.printed_card import PrintedSearch, search_printed_card
from calibration.corrected import CorrectedPhoto
from calibration.findings import Finding
from calibration.judging import judge_no_card
from calibration.opening import open_photo
from calibration.photo import Photo
from calibration.references import NONE_GIVEN, References
from calibration.ways.card24 import corrected_by_card24
from calibration.ways.card140 import corrected_by_card140
from calibration.ways.outcome import uncorrected
from calibration.ways.pointed_at import corrected_by_grey_card, corrected_by_neutral
from calibration.ways.printed import corrected_by_print, measured_card_of, with_print_seen


def correct_bytes(photo_bytes: bytes, references: References = NONE_GIVEN) -> CorrectedPhoto:
    """The corrected photograph of a file's bytes.

    Raises
    ------
    PhotoRefusedError : The bytes are not one whole photograph that this program reads.
    """
    return correct_photo(open_photo(photo_bytes), references)


def correct_photo(photo: Photo, references: References = NONE_GIVEN) -> CorrectedPhoto:
    """The photograph with its correction and the verdict on it.

    The order: a print that was measured, the 24-patch card, the 140-patch card, a grey card, something neutral. Whoever
    names a print's file means it, so it is looked for first: its markers are found in a few hundredths of a second.
    Without any of these the colours stay as the file means them, and the verdict is `retake`.
    """
    printed = search_printed_card(photo) if references.prints else None
    card = measured_card_of(printed, references.prints) if printed is not None else None
    if printed is not None and printed.found is not None and card is not None:
        return corrected_by_print(photo, printed.found, card, references)
    usual = _by_cards_known(photo, references)
    return usual if usual.verified else _with_print_seen(usual, printed, references)


def _by_cards_known(photo: Photo, references: References) -> CorrectedPhoto:
    search = search_cards(photo)
    if search.sightings:
        return corrected_by_card24(photo, search.sightings, references)
    large = find_classic140(photo)
    if large is not None:
        return corrected_by_card140(photo, large, references)
    return _by_what_is_pointed_at(photo, search, references)


def _by_what_is_pointed_at(photo: Photo, search: CardSearch, references: References) -> CorrectedPhoto:
    refusals: tuple[Finding, ...] = judge_no_card(photo, search)
    if references.grey_card is not None:
        return corrected_by_grey_card(photo, references.grey_card, refusals)
    if references.neutral is not None:
        return corrected_by_neutral(photo, references.neutral, refusals)
    return uncorrected(photo, refusals, None, None)


def _with_print_seen(usual: CorrectedPhoto, printed: PrintedSearch | None, references: References) -> CorrectedPhoto:
    return with_print_seen(usual, printed or search_printed_card(usual.photo), references.prints)
