"""Judge engine relearns from recorded standard OBD-II data: what is needed, is the car ready, did the idle settle."""

__version__ = "0.1.0"
