"""The head keys of a curve file, one row each; docs/reference/curve-file.md lists the same rows.

Limits are of plausibility, set by ebbline to catch a slip of the pen: common practice, no source.
"""

from ebbline.adapters.files.table_head import Key

_ROWS = (
    # What was drunk, and by whom.
    Key("substrate", "substrate", "what was drunk"),
    Key("dose_g", "number", "dose of the substrate, g", 0.0, 200.0, above=True),
    Key("weight_kg", "number", "body weight, kg", 1.0, 400.0),
    Key("age_years", "number", "age on the day, years", 0.0, 120.0),
    Key("protocol", "text", "name of the protocol"),
    # Settings of the computation.
    Key("criterion", "text", "id of the rule set that the report follows"),
    Key("reference", "reference", "alveolar reference of the normalisation"),
    Key(
        "baseline",
        "choice",
        "which fasting samples make the baseline",
        choices=("mean", "last", "lowest"),
    ),
    Key("minute_tolerance", "number", "how far a sample may be off its time, minutes", 0.0, 30.0),
    Key("noise_ppm", "number", "constant part of the noise of a reading, ppm", 0.0, 100.0),
    Key("noise_fraction", "number", "proportional part of the noise of a reading", 0.0, 1.0),
    Key("gain_fraction", "number", "relative standard uncertainty of the gain", 0.0, 0.15),
    Key("ambient_o2_pct", "number", "O2 of the room air, %", 19.0, 21.5),
    Key("ambient_h2_ppm", "number", "H2 of the room air, ppm", 0.0, 100.0),
    Key("ambient_ch4_ppm", "number", "CH4 of the room air, ppm", 0.0, 100.0),
    # How the file is written.
    Key("delimiter", "choice", "what separates cells", choices=("comma", "semicolon")),
    Key("decimal", "choice", "the decimal sign", choices=("point", "comma")),
    Key("invented", "choice", "whether the data are invented", choices=("yes", "no")),
    # What decides how far a test can be judged.
    Key(
        "surgery",
        "choice",
        "earlier surgery of the upper gastrointestinal tract",
        choices=("yes", "no", "unknown"),
    ),
    Key(
        "rinse",
        "choice",
        "when the mouth was rinsed",
        choices=("none", "baseline", "every", "unknown"),
    ),
    # Facts in words, for the report.
    Key("service", "text", "the service that ran the test"),
    Key("patient", "text", "name of the patient"),
    Key("born", "text", "date of birth"),
    Key("sex", "text", "sex"),
    Key("record_no", "text", "record number of the patient"),
    Key("referrer", "text", "who asked for the test"),
    Key("copy_to", "text", "who else gets the report"),
    Key("indication", "text", "why the test was asked for"),
    Key("date", "text", "date of the test"),
    Key("started", "text", "clock time of minute 0"),
    Key("site", "text", "where the test was run"),
    Key("operator", "text", "who ran the test"),
    Key("analyser", "text", "the analyser, with its serial number"),
    Key("calibrated", "text", "when the analyser was last calibrated"),
    Key("check_gas", "text", "check gas and its certified value"),
    Key("lot", "text", "lot of the substrate"),
    Key("expiry", "text", "expiry date of the substrate"),
    Key("volume_ml", "text", "volume of the drink, ml"),
    Key("fasting_h", "text", "hours fasted"),
    Key("preparation", "text", "diet before the test"),
    Key("antibiotics", "text", "last antibiotics"),
    Key("bowel_preparation", "text", "last bowel preparation"),
    Key("medicines", "text", "medicines taken or stopped"),
    Key("events", "text", "what happened during the test"),
    Key("author", "text", "who wrote the report"),
    Key("reviewer", "text", "who reviewed the report"),
)

KEYS = {key.name: key for key in _ROWS}
"""Every known head key by its name, in the order of the reference page."""
