"""The live side: asking a car, recording what it says, and a capture or scenario that answers like one. It only reads.

`wire.py` is the only place that opens a bus, sends on one or listens to one; `speech.py` is all that can be said.
"""
