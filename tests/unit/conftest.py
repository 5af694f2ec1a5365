from tests.support.settings_text import read  # noqa: F401 - a fixture is found by its name
