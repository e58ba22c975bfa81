"""Vehicle identification numbers: warn about those that cannot be right, never refuse one.

The check digit is that of 49 CFR 565.15(c) (transliteration in Table III, weights in Table IV), which ISO 3779 leaves
to each market. It is demanded in North America (first sign 1 to 5, world manufacturer regions of ISO 3780) and in
China (first sign L, GB 16735; from memory); elsewhere the ninth place may hold anything.
"""

from __future__ import annotations

#: Values of the signs, 49 CFR 565.15 Table III; I, O and Q are never used in a VIN.
_VALUES = dict(
    zip("ABCDEFGHJKLMNPRSTUVWXYZ", (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, *range(2, 10)), strict=True)
)
_VALUES |= {digit: int(digit) for digit in "0123456789"}
#: Weights of the seventeen places, 49 CFR 565.15 Table IV; the check digit's own place counts nothing.
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_CHECK_PLACE = 8
_CHECKED_REGIONS = "12345L"
#: Shorter numbers are frame numbers from before 1981, when seventeen signs became the rule; nothing is known of them.
_SHORTEST_CLAIM = 15


def plain_vin(text: str) -> str:
    """A VIN as it is compared: upper case letters and digits only."""
    return "".join(sign for sign in text.upper() if sign.isascii() and sign.isalnum())


def check_digit(vin: str) -> str:
    """The sign that belongs in the ninth place of a VIN, "0" to "9" or "X".

    :raises ValueError: the VIN has not seventeen signs, or one that no VIN may have.
    """
    signs = plain_vin(vin)
    if len(signs) != len(_WEIGHTS):
        raise ValueError(f"a VIN has {len(_WEIGHTS)} signs, this one {len(signs)}")
    wrong = [sign for sign in signs if sign not in _VALUES]
    if wrong:
        raise ValueError(f"a VIN has no letter {wrong[0]}")
    remainder = sum(_VALUES[sign] * weight for sign, weight in zip(signs, _WEIGHTS, strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


def vin_warning(vin: str) -> str | None:
    """Why a VIN cannot be right, in a few words, or None where nothing speaks against it.

    A number of fewer than fifteen signs is taken for an old frame number and not judged.
    """
    signs = plain_vin(vin)
    if len(signs) < _SHORTEST_CLAIM:
        return None
    try:
        expected = check_digit(signs)
    except ValueError as error:
        return str(error)
    if signs[0] in _CHECKED_REGIONS and signs[_CHECK_PLACE] != expected:
        return f"its check digit is {signs[_CHECK_PLACE]} and should be {expected}"
    return None
