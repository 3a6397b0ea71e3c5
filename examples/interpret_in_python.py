"""Interpret a curve file from Python, and take a refusal as it comes."""

from ebbline import EbblineError, Overrides, build

application = build()
for name in ("lactose.csv", "no-such-file.csv"):
    try:
        (one,) = application.interpret_tests([name], overrides=Overrides(), rules=())
    except EbblineError as error:
        print(f"refused: {error}")
    else:
        for row in one.statements:
            if row.rule_set == application.library.criterion:
                print(f"{name}: {row.question}: {row.result}: {row.because}")
