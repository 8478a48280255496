"""Support masks as they travel."""

from relearn.j1979.masks import mask


def test_the_standards_example():
    """SAE J1979's public example 'BE 1F A8 13': 01, 03-07, 0C-11, 13, 15, 1C, 1F, 20. The first identifier is the first
    bit, and the last says that there is more."""
    supported = [0x01, *range(0x03, 0x08), *range(0x0C, 0x12), 0x13, 0x15, 0x1C, 0x1F, 0x2F]
    assert mask(supported, 0x00) == bytes.fromhex("BE1FA813")
    assert mask(supported, 0x20) == bytes.fromhex("00020000")
    assert mask(supported, 0x40) == bytes(4)
