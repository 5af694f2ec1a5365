from tests.support.settings_text import (  # noqa: F401 - a fixture is found by its name
    problems,
    read,
    settings_of,
)
