"""What a trouble is called, what it may be, and what to do about it."""

from ebbline.adapters.instrument.profile import Link, SerialLink

_CALLED = {
    "unplugged": "The link is lost",
    "silent": "The instrument is silent",
    "garbled": "Lines cannot be read",
    "wrong_speed": "What comes is no text in lines",
    "half_lines": "Lines come in halves",
    "clock_jumped": "The instrument's clock is wrong",
    "decimal_comma": "Another decimal sign than the profile's",
    "refused_number": "Something stands where a number belongs",
    "not_logged": "The raw log cannot be written",
    "torn_log": "The raw log is torn",
}
_ADVICE = {
    "unplugged": "Look at cable, plug and power; it is opened again by itself.",
    "silent": "Is the instrument on, its output switched on, the cable in place?",
    "garbled": "Another device, a damaged cable, or another output setting; "
    "look at the instrument's output setting and at [lines] of the profile.",
    "half_lines": "Characters are lost on the way, or the output has other fields; "
    "look at the cable, at flow control, and whether another program reads the port.",
    "clock_jumped": "Times of arrival are used from here on. Was its clock set, or was it "
    "switched off and on?",
    "decimal_comma": "No number is taken from it; set lines.decimal of the profile, or the "
    "instrument's output.",
    "refused_number": "No number is taken from it; look at the instrument's display, and at "
    "missing and field of the channel in the profile.",
    "not_logged": "Values are taken all the same, and are no longer logged; look at the disk.",
    "torn_log": "What came before it is played.",
}


def describe(code: str, words: str) -> str:
    """Return what was seen as a sentence that begins with what it is called."""
    return f"{_CALLED[code]}: {words}."


def advice(code: str, link: Link) -> str:
    """Return what a trouble may be and what to do.

    Parameters
    ----------
    code : str
        The trouble's.
    link : Link
        Of the profile, for what only one kind of link can have.

    Returns
    -------
    str
    """
    if code != "wrong_speed":
        return _ADVICE[code]
    if isinstance(link, SerialLink):
        return (
            f"Speed, bits or parity may differ from the instrument's; the profile has {link.speed} "
            f"baud, {link.bits} bits, parity {link.parity}."
        )
    return "Something else may answer there than the instrument; look at the profile's [link]."
