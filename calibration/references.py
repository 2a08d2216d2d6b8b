"""What a photograph's colours may lean on: all that is given along with it."""

from dataclasses import dataclass

from calibration.cards.measured_card import MeasuredCard
from calibration.correcting.grey_card import GreyCardPoint
from calibration.correcting.neutral_reference import NeutralPoint
from calibration.correcting.station_profile import StationProfile
from calibration.correcting.white_sheet import WhiteSheet


@dataclass(frozen=True, eq=False)
class References:
    """Given along with a photograph; the pipeline knows which goes before which.

    prints : Printed cards that were measured.
    station : What was learned at a station about its camera and lamp.
    white_sheet : A white sheet photographed in the same place: how light falls off over the frame.
    grey_card, neutral : Where a grey card of known reflectance, or some neutral thing, lies in this photograph.
    """

    prints: tuple[MeasuredCard, ...] = ()
    station: StationProfile | None = None
    white_sheet: WhiteSheet | None = None
    grey_card: GreyCardPoint | None = None
    neutral: NeutralPoint | None = None


NONE_GIVEN = References()
