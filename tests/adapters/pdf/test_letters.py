from ebbline.adapters.pdf.letters import letters_without_glyph, spell_out, without_controls


def test_control_characters_are_written_by_number_wherever_they_stand() -> None:
    """In texts, lists and tables; numbers stay numbers."""
    content = {"a": ["x\x00y", 1.5, None, {"b": "p\r\nq\u2066"}], "c": ("\ud800",)}
    assert without_controls(content) == {
        "a": ["xU+0000y", 1.5, None, {"b": "p  qU+2066"}],
        "c": ["U+D800"],
    }


def test_letters_are_spelled_out() -> None:
    """With one East Asian letter go all; another letter goes alone."""
    content = {"a": "李小 é", "n": 3}
    assert spell_out(content, frozenset()) is content
    assert spell_out(content, frozenset("李")) == {"a": "U+674EU+5C0F é", "n": 3}
    assert spell_out(content, frozenset("é")) == {"a": "李小 U+00E9", "n": 3}


def test_the_letters_are_read_from_the_message() -> None:
    """Written as they are, or escaped."""
    start, end = 'error: the text `"', '"` could not be displayed with font'
    assert letters_without_glyph(f"{start}李{end}") == frozenset("李")
    assert letters_without_glyph(f"{start}\\u{{200e}}{end}") == frozenset("\u200e")
    assert letters_without_glyph("error: something else") == frozenset()
