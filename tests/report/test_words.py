"""How modules are named on pages."""

from relearn.j1979.series import BROADCAST, TABLE
from relearn.report.words import who


def test_what_stands_in_a_modules_place_is_named_as_what_it_is() -> None:
    assert [who(name) for name in ("7E8", TABLE, BROADCAST, f"{BROADCAST}-bus1", "7E8-bus1")] == [
        "module 7E8",
        "a table of values",
        "broadcast signals",
        "broadcast signals of bus 1",
        "module 7E8-bus1",
    ]
