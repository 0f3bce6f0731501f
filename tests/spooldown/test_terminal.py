import pytest

from spooldown.terminal import clean


@pytest.mark.parametrize("bad", ["\x1b[31m", "\x07", "\r", "\u202e", "\u2028", "\x9b"])
def test_text_from_files_cannot_steer_the_terminal(bad):
    assert not set(clean(f"a{bad}b")) & set("\x1b\x07\r\u202e\u2028\x9b")


def test_figures_and_names_stay_as_they_are():
    assert clean("1\u202f860 mL, Tërn [bold] −3 °C") == "1\u202f860 mL, Tërn [bold] −3 °C"
