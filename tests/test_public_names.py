"""The public namespace is what it says and nothing else."""

import types

import ebbline


def test_every_public_name_is_there_and_no_other() -> None:
    """Names that are not modules and not private are those of ``__all__``."""
    found = {
        name
        for name, value in vars(ebbline).items()
        if not name.startswith("_") and not isinstance(value, types.ModuleType)
    }
    assert found == set(ebbline.__all__) - {"__version__"}
    assert list(ebbline.__all__) == sorted(ebbline.__all__)


def test_a_test_goes_from_file_to_report_through_public_names() -> None:
    """The five steps of the path, as a script would take them."""
    application = ebbline.build()
    from ebbline.bootstrap import demo_files

    (interpretation, *_) = application.interpret_tests(
        demo_files()[:1], overrides=ebbline.Overrides(), rules=()
    )
    assert isinstance(interpretation, ebbline.Interpretation)
    assert application.write_report(interpretation, paper="a4").startswith(b"%PDF-")
